"""Stretches of closures whose ends are known within slack, and how many of one lie in another. Pure arithmetic."""

from dataclasses import dataclass
from typing import Literal

from runtrue.errors import InputError

Answer = Literal["surely", "maybe", "surely_not"]
"""Whether one holds any of the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Closures from the first to the last; each end lies somewhere between its ``low`` and its ``high``, included."""

    first_low: int
    first_high: int
    last_low: int
    last_high: int

    def __post_init__(self) -> None:
        """Keep the ends in order."""
        if self.first_low > self.first_high or self.last_low > self.last_high:
            raise InputError("stretch: an end's low must not be above its high")

    @property
    def length_low(self) -> int:
        """Fewest closures it can hold."""
        return max(self.last_low - self.first_high + 1, 0)

    @property
    def length_high(self) -> int:
        """Most closures it can hold."""
        return max(self.last_high - self.first_low + 1, 0)

    def words(self) -> str:
        """For people: "181 to 352", "about 181 to 352 (±2)"."""
        slack = max(self.first_high - self.first_low, self.last_high - self.last_low) + 1 >> 1
        last = (self.last_low + self.last_high) // 2
        # no closure comes before the first: there the lower end may have been cut short
        first = max(1, self.first_high - slack) if self.first_low == 1 else (self.first_low + self.first_high) // 2
        return f"{first} to {last}" + (f" (±{slack})" if slack else "")


def stretch(first: int, last: int, slack_first: int = 0, slack_last: int | None = None) -> Stretch:
    """Closures ``first`` to ``last``, each end good within its slack."""
    if last < first:
        raise InputError(
            f"closures {first} to {last} run backward; the first must not be above the last: exchange them"
        )
    if first < 1:
        raise InputError(f"closures count from 1, got {first}: correct the first")
    last_slack = slack_first if slack_last is None else slack_last
    if slack_first < 0 or last_slack < 0:
        raise InputError("slack must be 0 or more closures: correct it")
    return Stretch(
        first_low=max(first - slack_first, 1), first_high=first + slack_first,
        last_low=max(last - last_slack, 0), last_high=last + last_slack,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How many records of a holding are of the closures asked for: at least, at most."""

    least: int
    most: int

    @property
    def answer(self) -> Answer:
        """Surely, maybe or surely not any."""
        if self.least > 0:
            return "surely"
        return "maybe" if self.most > 0 else "surely_not"


def share(holding: Stretch, records: int, asked: Stretch) -> Share:
    """How many of ``records`` records, pressed within ``holding``, were pressed within ``asked``.

    At most: what both could hold in common. At least, the larger of two bounds: (1) the records that are more than the
    closures of the holding outside what was surely asked for (the pigeonholes); (2) where the records are every closure
    of an unbroken stretch, the smallest overlap over all places the stretch can have.

    Examples
    --------
    >>> share(stretch(176, 200), 25, stretch(181, 352))
    Share(least=20, most=20)
    >>> share(stretch(170, 190, 5), 21, stretch(181, 352)).answer
    'surely'
    >>> share(stretch(101, 180, 20), 50, stretch(181, 352)).answer
    'maybe'
    """
    most = min(records, overlap(holding.first_low, holding.last_high, asked.first_low, asked.last_high))
    sure = overlap(holding.first_low, holding.last_high, asked.first_high, asked.last_low)
    least = max(records - (holding.length_high - sure), 0)
    first = (holding.first_low + holding.first_high) // 2
    last = (holding.last_low + holding.last_high) // 2
    cut_short = holding.first_low == 1 < holding.first_high  # by closure 1: its middle need not be what was written
    if last - first + 1 == records and not cut_short:  # unbroken
        both = min(holding.last_low, asked.last_low) - max(holding.first_high, asked.first_high) + 1
        least = max(least, min(both, records))
    return Share(least=min(least, most), most=most)


def overlap(first: int, last: int, other_first: int, other_last: int) -> int:
    """Closures that two stretches with sharp ends have in common."""
    return max(min(last, other_last) - max(first, other_first) + 1, 0)


def covers(span: Stretch, closure: Stretch) -> Answer:
    """Whether a span held at a closure that is known within its stretch."""
    if span.first_high <= closure.first_low and span.last_low >= closure.last_high:
        return "surely"
    if span.first_low <= closure.last_high and span.last_high >= closure.first_low:
        return "maybe"
    return "surely_not"
