"""The book of the plant: entries that only grow, the captures and results that belong to them, and work that waits.

``open_book`` opens one that is there, ``make_book`` begins one. Everything here takes and gives plain values; what an
entry means on the floor is said in ``workflow``.
"""

from runtrue.records.book import Book, make_book, open_book
from runtrue.records.place import Place, place_of

__all__ = ["Book", "Place", "make_book", "open_book", "place_of"]
