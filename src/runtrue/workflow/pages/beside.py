"""Files of the plant that lie beside its book: press files in ``press``, formulas in ``compound``."""

from pathlib import Path

from runtrue.errors import UnknownNameError
from runtrue.records import Book

MOST = 200
"""Files that are offered."""


def files_beside(book: Book, folder: str, suffix: str) -> dict[str, Path]:
    """Files in a folder beside the book, by their names without the suffix."""
    here = book.place.store.parent / folder
    found = sorted(here.glob(f"*{suffix}"))[:MOST] if here.is_dir() else []
    return {one.stem: one for one in found if one.is_file()}


def file_beside(found: dict[str, Path], name: str, what: str) -> Path:
    """The file of a name out of those that are offered; raises ``UnknownNameError``."""
    if name not in found:
        known = ", ".join(found) or "none"
        raise UnknownNameError(f"{what} '{name[:60]}' is not among those beside the book: {known}")
    return found[name]
