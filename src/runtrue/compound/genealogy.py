"""From lot to press hour and back: lot - batch - biscuits - press hours, as intervals that say surely or maybe.

Biscuits carry no number; they are counted as they are broken and as they are pressed, and a bin may mix the end of one
batch with the beginning of the next. So every interval of the count has a slack at its ends: surely within, maybe out
to the slack, surely not beyond.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from runtrue.errors import InputError
from runtrue.stats.checks import within


class How(StrEnum):
    """How sure a link is."""

    SURELY = "surely"
    MAYBE = "maybe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Biscuits ``first`` to ``last`` of the count, both within; each end may be off by ``slack``."""

    first: int
    last: int
    slack: int = 0

    def __post_init__(self) -> None:
        """Refuse an interval that runs backwards."""
        within("slack", self.slack, 0)
        if not 0 <= self.first <= self.last:
            raise InputError(f"biscuits {self.first} to {self.last}: first must be 0 or more and not above last")

    @property
    def sure(self) -> tuple[int, int] | None:
        """First and last that surely belong; None where the slack leaves none."""
        low, high = self.first + self.slack, self.last - self.slack
        return (low, high) if low <= high else None

    @property
    def widest(self) -> tuple[int, int]:
        """First and last that may belong."""
        return max(self.first - self.slack, 0), self.last + self.slack


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A batch was weighed from a lot."""

    lot: str
    batch: str
    ingredient: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A batch gave these biscuits."""

    batch: str
    biscuits: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """A press took these biscuits from ``start`` to ``end`` [s, any clock], evenly."""

    press: str
    biscuits: Interval
    start: float
    end: float

    def __post_init__(self) -> None:
        """Refuse hours that run backwards."""
        if not self.start < self.end:
            raise InputError(f"press {self.press}: its hours end before they begin")

    def hour(self, biscuit: float) -> float:
        """When a biscuit of the count is pressed [s], within the run's hours."""
        span = self.biscuits.last + 1 - self.biscuits.first
        share = (biscuit - self.biscuits.first) / span
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Hours of a press [s]: surely ``sure`` (None where only maybe), at most ``widest``."""

    press: str
    batch: str
    how: How
    sure: tuple[float, float] | None
    widest: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """A batch, and its lots, behind some hours of a press."""

    batch: str
    how: How
    lots: tuple[Drawn, ...]


def overlap(a: Interval, b: Interval) -> How | None:
    """Whether two intervals share a biscuit: surely, maybe, or None for surely not.

    Examples
    --------
    >>> str(overlap(Interval(first=1, last=100, slack=5), Interval(first=90, last=200, slack=0)))
    'surely'
    >>> str(overlap(Interval(first=1, last=100, slack=5), Interval(first=98, last=200, slack=0)))
    'maybe'
    >>> overlap(Interval(first=1, last=100, slack=5), Interval(first=106, last=200, slack=0)) is None
    True
    """
    if a.sure and b.sure and _meet(a.sure, b.sure):
        return How.SURELY
    return How.MAYBE if _meet(a.widest, b.widest) else None


def batches_of(lot: str, drawn: Sequence[Drawn]) -> tuple[str, ...]:
    """Batches that were weighed from a lot, in order, each once."""
    return tuple(dict.fromkeys(link.batch for link in drawn if link.lot == lot))


def hours_of(batch: str, made: Sequence[Made], pressed: Sequence[Pressed]) -> tuple[Hours, ...]:
    """Hours of the presses that took a batch's biscuits.

    Examples
    --------
    >>> made = [Made(batch="B1", biscuits=Interval(first=1, last=100, slack=10))]
    >>> runs = [Pressed(press="P2", biscuits=Interval(first=1, last=200), start=0.0, end=7200.0)]
    >>> found = hours_of("B1", made, runs)[0]
    >>> str(found.how), found.sure, found.widest
    ('surely', (360.0, 3240.0), (0.0, 3960.0))
    """
    found = []
    for link in made:
        if link.batch != batch:
            continue
        for run in pressed:
            how = overlap(link.biscuits, run.biscuits)
            if how is None:
                continue
            sure = None
            if how is How.SURELY and link.biscuits.sure and run.biscuits.sure:
                low = max(link.biscuits.sure[0], run.biscuits.sure[0])
                high = min(link.biscuits.sure[1], run.biscuits.sure[1])
                sure = (run.hour(low), run.hour(high + 1))
            slack = run.biscuits.slack
            wide = link.biscuits.widest
            widest = (run.hour(wide[0] - slack), run.hour(wide[1] + 1 + slack))
            found.append(Hours(press=run.press, batch=batch, how=how, sure=sure, widest=widest))
    return tuple(found)


def origins_of(
    press: str, start: float, end: float, *, drawn: Sequence[Drawn], made: Sequence[Made], pressed: Sequence[Pressed]
) -> tuple[Origin, ...]:
    """Batches and lots behind the hours from ``start`` to ``end`` [s] of a press, surest first."""
    if not start <= end:
        raise InputError(f"press {press}: the hours asked for end before they begin")
    best: dict[str, How] = {}
    for batch in dict.fromkeys(link.batch for link in made):
        for hours in hours_of(batch, made, [run for run in pressed if run.press == press]):
            how = None
            if hours.sure and hours.sure[0] < end and start < hours.sure[1]:
                how = How.SURELY
            elif hours.widest[0] <= end and start <= hours.widest[1]:
                how = How.MAYBE
            if how is not None and best.get(batch) is not How.SURELY:
                best[batch] = how
    ordered = sorted(best.items(), key=lambda item: item[1] is not How.SURELY)
    return tuple(
        Origin(batch=batch, how=how, lots=tuple(link for link in drawn if link.batch == batch))
        for batch, how in ordered
    )  # fmt: skip


def _meet(a: tuple[int, int], b: tuple[int, int]) -> bool:
    return a[0] <= b[1] and b[0] <= a[1]
