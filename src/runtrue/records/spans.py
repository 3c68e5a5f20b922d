"""Spans as they stand: what holds until the next of its kind begins, and what was closed when it was written."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from uuid import UUID

UNTIL_NEXT = frozenset({"stamper_a", "stamper_b", "batch", "label_a", "label_b", "settings", "operator"})
"""Kinds of which one holds at a time. A new one ends the one before; A and B stampers change separately."""
CLOSED = frozenset({"pile", "box", "blank"})
"""Kinds that are written with both ends."""
KINDS = (*sorted(UNTIL_NEXT), *sorted(CLOSED))


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A span as it was entered; ``seq`` orders those that begin at one closure."""

    entry: UUID
    line: int
    seq: int
    run: str
    kind: str
    ref: str
    first: int
    last: int | None
    slack_first: int
    slack_last: int
    records: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands:
    """A span as it stands, by the names of the table; ``last_*`` is None while it holds."""

    entry: UUID
    line: int
    run: str
    kind: str
    ref: str
    first_low: int
    first_high: int
    last_low: int | None
    last_high: int | None
    records: int | None

    @property
    def first(self) -> int:
        """First closure, middle of its ends."""
        return (self.first_low + self.first_high) // 2

    @property
    def last(self) -> int | None:
        """Last closure, middle of its ends; None while it holds."""
        if self.last_low is None or self.last_high is None:
            return None
        return (self.last_low + self.last_high) // 2


def closed(span: Written) -> Stands:
    """A span that is taken as it was written."""
    last = span.last
    return Stands(
        entry=span.entry, line=span.line, run=span.run, kind=span.kind, ref=span.ref, records=span.records,
        first_low=max(span.first - span.slack_first, 1), first_high=span.first + span.slack_first,
        last_low=None if last is None else max(last - span.slack_last, 0),
        last_high=None if last is None else last + span.slack_last,
    )  # fmt: skip


def lay_out(spans: Iterable[Written]) -> list[Stands]:
    """Spans of one run and one kind as they stand, in the order of closures.

    Of the kinds that hold until the next, each ends where the next begins, and of two that begin at one closure the
    later written counts.
    """
    rows = sorted(spans, key=lambda span: (span.first, span.seq, span.line))
    if not rows or rows[0].kind not in UNTIL_NEXT:
        return [closed(row) for row in rows]
    kept = [row for row, after in pairwise(rows) if after.first != row.first] + rows[-1:]
    found = [ended(closed(row), closed(after)) for row, after in pairwise(kept)]
    return [*found, closed(kept[-1])]


def ended(span: Stands, by: Stands) -> Stands:
    """A span that ends at the latest where another of its kind begins."""
    if span.last_high is not None and span.last_high < by.first_low:
        return span
    return Stands(
        entry=span.entry, line=span.line, run=span.run, kind=span.kind, ref=span.ref, records=span.records,
        first_low=span.first_low, first_high=span.first_high,
        last_low=max(by.first_low - 1, 0), last_high=by.first_high - 1,
    )  # fmt: skip
