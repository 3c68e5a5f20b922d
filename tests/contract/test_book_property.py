"""Any order of actions keeps every sum: counts by an independent tally, projections by working them out anew."""

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bench.book_random import Tally, apply
from runtrue.records import Book
from tests.contract.test_book import places, problems, small_run

STEP = st.tuples(st.sampled_from(list(Tally.WAYS)), st.integers(1, 9), st.integers(1, 300))


class TestSums:
    @settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.lists(STEP, min_size=10, max_size=30))
    def test_in_any_order(self, empty: Book, steps: list[tuple[str, int, int]]) -> None:
        if not places(empty):
            small_run(empty)
        before = Counter(places(empty))
        tally = Tally(closures=-before["closure"], counts=before)
        apply(empty, tally, steps)
        found = places(empty)
        assert sum(found.values()) == 0
        assert {place: n for place, n in tally.counts.items() if n} == found
        assert all(n >= 0 for place, n in found.items() if place not in ("closure", "difference"))
        assert problems(empty) == []


@pytest.mark.parametrize("what", ["scrap", "box", "sample", "free"])
def test_the_tally_can_refuse(what: str) -> None:
    """It knows by itself what cannot be, so that the comparison can fail."""
    assert not Tally(closures=0, counts=Counter()).allows(what, 1)
