"""Stretches of closures, and the bounds on how many of one lie in another, held to counting every case."""

from itertools import combinations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from runtrue.errors import InputError
from runtrue.records.ranges import Stretch, covers, share, stretch
from runtrue.records.spans import Written, lay_out
from runtrue.workflow.papers.piles import taken_off


def test_backward_ranges_and_closure_nought_are_refused() -> None:
    with pytest.raises(InputError, match="run backward"):
        stretch(9, 8)
    with pytest.raises(InputError, match="count from 1"):
        stretch(0, 8)
    with pytest.raises(InputError, match="slack must be 0 or more"):
        stretch(1, 8, -1)


ENDS = st.integers(1, 9)


@example((1, 8, 1, 3), 2, 0, 7)
@settings(max_examples=150, deadline=None)
@given(st.tuples(ENDS, ENDS, ENDS, ENDS), st.integers(0, 2), st.integers(0, 2), ENDS)
def test_the_bounds_hold_in_every_case(ends: tuple[int, ...], slack: int, other: int, most: int) -> None:
    """Every way the records can lie, and every place the ends can have, gives a count within the bounds."""
    first, last = sorted(ends[:2])
    low, high = sorted(ends[2:])
    holding, asked = stretch(first, last, slack), stretch(low, high, other)
    records = min(most, last - first + 1)
    found = share(holding, records, asked)
    counts = set()
    for a in range(holding.first_low, holding.first_high + 1):
        for b in range(holding.last_low, holding.last_high + 1):
            if b - a + 1 < records:
                continue
            unbroken = last - first + 1 == records
            for places in [range(a, a + records)] if unbroken else combinations(range(a, b + 1), records):
                for c in range(asked.first_low, asked.first_high + 1):
                    for d in range(asked.last_low, asked.last_high + 1):
                        counts.add(sum(c <= place <= d for place in places))
    if counts:
        assert found.least <= min(counts)
        assert found.most >= max(counts)


def test_the_bounds_are_sharp_where_nothing_is_missing() -> None:
    assert share(stretch(1, 25), 25, stretch(11, 40)).least == 15
    assert share(stretch(1, 25), 25, stretch(11, 40)).most == 15
    assert share(stretch(1, 25), 20, stretch(1, 25)).least == 20


@pytest.mark.parametrize(
    ("span", "closure", "answer"),
    [
        (stretch(10, 20), stretch(10, 10), "surely"),
        (stretch(10, 20, 1), stretch(10, 10), "maybe"),
        (stretch(10, 20, 1), stretch(9, 9), "maybe"),
        (stretch(10, 20, 1), stretch(8, 8), "surely_not"),
        (stretch(10, 20), stretch(8, 8, 2), "maybe"),
    ],
)
def test_whether_a_span_held(span: Stretch, closure: Stretch, answer: str) -> None:
    assert covers(span, closure) == answer


def test_spans_that_hold_until_the_next() -> None:
    from uuid import UUID

    def written(seq: int, first: int, slack: int = 0, kind: str = "stamper_a") -> Written:
        return Written(entry=UUID(int=seq), line=1, seq=seq, run="R", kind=kind, ref=f"S{seq}", first=first, last=None,
                       slack_first=slack, slack_last=slack, records=None)  # fmt: skip

    found = lay_out([written(1, 1), written(3, 50, slack=2), written(2, 80), written(4, 50, slack=1)])
    assert [(s.ref, s.first_low, s.first_high, s.last_low, s.last_high) for s in found] == [
        ("S1", 1, 1, 48, 50), ("S4", 49, 51, 79, 79), ("S2", 80, 80, None, None),
    ]  # fmt: skip


@pytest.mark.parametrize("missing", [(), (3,), (1, 8), (2, 5, 6)])
def test_what_comes_off_a_pile_lies_within_the_range(missing: tuple[int, ...]) -> None:
    """A pile of closures 101 to 110 with some missing, taken off in threes from either end."""
    on_it = [101 + k for k in range(10) if k not in missing]
    for from_high in (True, False):
        order = on_it[::-1] if from_high else on_it
        for before in range(0, len(order) - 3, 3):
            first, last = taken_off(
                first=101, last=110, records=len(order), before=before, taken=3, from_high=from_high
            )
            assert all(first <= closure <= last for closure in order[before : before + 3])
            assert last - first + 1 == 3 + len(missing) or first == 101 or last == 110
