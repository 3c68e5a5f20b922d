"""Whether a file can be written under a name: nothing is ever overwritten."""

from pathlib import Path

from runtrue.errors import InputError


def must_be_free(out: Path, what: str, ending: str) -> None:
    """Raise ``InputError`` unless ``out`` has the ending, is not there yet and its folder is."""
    if out.suffix.lower() != ending:
        raise InputError(f"{what} {out}: the name must end in {ending}; choose such a name")
    if out.exists():
        raise InputError(f"{what} {out}: is there already; name another file or remove it")
    if not out.parent.is_dir():
        raise InputError(f"{what} {out}: there is no folder {out.parent}; make it first")
