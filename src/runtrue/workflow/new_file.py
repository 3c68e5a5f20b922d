"""A file that is to be written: its name is free and its folder is there, before anything long begins."""

from pathlib import Path

from runtrue.errors import InputError


def check_new(path: Path, what: str, ending: str) -> None:
    """Raise ``InputError`` unless ``path`` can be written as a new file that ends so."""
    if path.suffix.lower() != ending:
        raise InputError(f"{what} {path}: the name must end in {ending}; choose such a name")
    if path.exists():
        raise InputError(f"{what} {path}: is there already; name another file or remove it")
    if not path.parent.is_dir():
        raise InputError(f"{what} {path}: there is no folder {path.parent}; make it first")
