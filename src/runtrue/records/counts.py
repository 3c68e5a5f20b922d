"""Where records of a run can be, and which ways lead from one place to another: double entry of discs.

Only a closure of the press creates a record and only its destruction ends it. A hand count that differs is a move to
or from ``difference``; its sign tells whether records are missing or too many.
"""

from collections.abc import Iterable, Mapping
from enum import StrEnum

from runtrue.errors import InputError


class At(StrEnum):
    """A place of records."""

    CLOSURE = "closure"
    PRESSED = "pressed"
    BLANK = "blank"
    WARM_UP = "warm_up"
    SAMPLE = "sample"
    RESTING = "resting"
    GOOD = "good"
    HELD = "held"
    SCRAPPED = "scrapped"
    BOXED = "boxed"
    SHIPPED = "shipped"
    RETURNED = "returned"
    DESTROYED = "destroyed"
    DIFFERENCE = "difference"


MAY_BE_OWED = frozenset({At.CLOSURE, At.DIFFERENCE})
"""Places whose count may be below nought: where records come from, and what hand counts say."""

_A = At
WAYS: Mapping[At, frozenset[At]] = {
    _A.CLOSURE: frozenset({_A.PRESSED}),
    _A.PRESSED: frozenset({_A.BLANK, _A.WARM_UP, _A.SAMPLE, _A.RESTING, _A.SCRAPPED, _A.HELD, _A.DIFFERENCE}),
    _A.BLANK: frozenset(),
    _A.WARM_UP: frozenset({_A.SCRAPPED, _A.DESTROYED, _A.DIFFERENCE}),
    _A.SAMPLE: frozenset({_A.GOOD, _A.SHIPPED, _A.SCRAPPED, _A.DESTROYED, _A.DIFFERENCE}),
    _A.RESTING: frozenset({_A.GOOD, _A.HELD, _A.SCRAPPED, _A.SAMPLE, _A.DIFFERENCE}),
    _A.GOOD: frozenset({_A.BOXED, _A.HELD, _A.SCRAPPED, _A.SAMPLE, _A.DIFFERENCE}),
    _A.HELD: frozenset({_A.GOOD, _A.SCRAPPED, _A.SAMPLE, _A.DESTROYED, _A.DIFFERENCE}),
    _A.SCRAPPED: frozenset({_A.DESTROYED, _A.DIFFERENCE}),
    _A.BOXED: frozenset({_A.GOOD, _A.HELD, _A.SHIPPED, _A.SCRAPPED, _A.DIFFERENCE}),
    _A.SHIPPED: frozenset({_A.RETURNED, _A.DIFFERENCE}),
    _A.RETURNED: frozenset({_A.GOOD, _A.HELD, _A.SCRAPPED, _A.DESTROYED, _A.DIFFERENCE}),
    _A.DESTROYED: frozenset(),
    _A.DIFFERENCE: frozenset(_A) - {_A.CLOSURE, _A.BLANK, _A.DIFFERENCE},
}
"""Place -> places that records may go to from there."""


def check_way(source: At, target: At) -> None:
    """Refuse a way that records do not go."""
    if target not in WAYS[source]:
        ways = ", ".join(sorted(WAYS[source])) or "nowhere"
        raise InputError(f"records do not go from '{source}' to '{target}'; from there they may go to {ways}")


def booked(holdings: Mapping[str, int], moves: Iterable[tuple[str, str, int]]) -> dict[str, int]:
    """Holdings after moves (source, target, records); places that hold nothing are left out.

    Examples
    --------
    >>> booked({}, [("closure", "pressed", 50), ("pressed", "blank", 2)])
    {'closure': -50, 'pressed': 48, 'blank': 2}
    """
    found = dict(holdings)
    for source, target, records in moves:
        found[source] = found.get(source, 0) - records
        found[target] = found.get(target, 0) + records
    return {place: records for place, records in found.items() if records}
