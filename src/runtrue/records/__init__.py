"""The book of the plant: entries that only grow, the captures and results that belong to them, and work that waits.

``open_book`` opens one that is there, ``make_book`` begins one. Everything here takes and gives plain values; what an
entry means on the floor is said in ``workflow``. The database is loaded when one of them is asked for.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from runtrue.records.book import Book, make_book, open_book
    from runtrue.records.place import Place, place_of

__all__ = ["Book", "Place", "make_book", "open_book", "place_of"]


def __getattr__(name: str) -> Any:
    """Load what is asked for."""
    from importlib import import_module

    if name not in __all__:
        raise AttributeError(name)
    return getattr(import_module(f"runtrue.records.{'place' if name in ('Place', 'place_of') else 'book'}"), name)
