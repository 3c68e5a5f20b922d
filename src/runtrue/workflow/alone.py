"""What one copy has and the others have not: a scratch, noise, a jump, a tick of its own."""

from collections.abc import Sequence
from dataclasses import dataclass

from runtrue.contract.listening import FindingRow
from runtrue.paper.words import clock, count, finding_number, limit_words, listed, quantity_of, sentence_case
from runtrue.workflow.faults_words import ON_TICKS, out_of_limit
from runtrue.workflow.judged import Judged

ON_NOISE = ("surface", "surface_quasi_peak")
"""Quantities that the surface puts out of limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """A finding on one copy, and what to do."""

    copy: str
    station: str
    found: str
    act: str
    side: str = ""


def limit_of(one: Judged, *quantities: str) -> FindingRow | None:
    """The finding of a recording on one of these quantities."""
    return next((row for row in one.listening.findings if (q := quantity_of(row)) and q.id in quantities), None)


def out_of(one: Judged, *quantities: str) -> bool:
    """Whether a finding on one of these quantities is out of limit."""
    return out_of_limit(one.listening, *quantities)


def alone(rows: Sequence[Judged], *, told: set[float]) -> list[Alone]:
    """Findings on single copies; ``told`` are programme times of ticks that several copies share."""
    found: list[Alone] = []
    for copy in sorted({one.copy for one in rows}, key=lambda c: _closure(rows, c)):
        of_copy = [one for one in rows if one.copy == copy]
        noisy = [one for one in of_copy if out_of(one, *ON_NOISE)]
        found += [_noise(noisy, of_copy, rows)] if noisy else []
        for one in of_copy:
            found += _jumps(one)
            found += [] if one in noisy else _scratch(one)
            found += [] if one in noisy else _ticks(one, told)
    return found


def _closure(rows: Sequence[Judged], copy: str) -> tuple[int, str]:
    return min((one.closure or 0 for one in rows if one.copy == copy), default=0), copy


def _noise(noisy: Sequence[Judged], of_copy: Sequence[Judged], rows: Sequence[Judged]) -> Alone:
    """A noisy copy, whether both its sides are, and how its neighbours in closure order and in the batch do."""
    first = noisy[0]
    row = limit_of(first, *ON_NOISE)
    figure = "" if row is None else f" {finding_number(row)}, {limit_words(row)}"
    both = " on both sides, so it is no stamper" if len({one.side for one in noisy}) > 1 else ""
    ticks = sum(len(one.listening.ticks or []) for one in noisy)
    crackle = f", with {count(ticks, 'tick')}" if ticks else ""
    quiet = [one for one in rows if one.copy != first.copy and limit_of(one, *ON_NOISE) and not out_of(one, *ON_NOISE)]
    before = max((o.closure for o in quiet if o.closure and first.closure and o.closure < first.closure), default=None)
    after = min((o.closure for o in quiet if o.closure and first.closure and o.closure > first.closure), default=None)
    batch = f" of batch {first.batch}" if first.batch else ""
    since = ""
    if before is not None and after is not None:
        since = f" Closures {before} before it and {after} after it are quiet."
    act = (
        f"Look at the compound{batch} around closure {first.closure}"
        if first.closure
        else f"Look at the compound{batch}"
    )
    if before is not None and after is not None:
        act += f"; play copies between {before} and {after}"
    side = f" side {first.side}" if len({one.side for one in of_copy}) > 1 and not both else ""
    return Alone(
        copy=first.copy, station="compound",
        found=f"{sentence_case(first.copy)}{side} is noisy{both}: surface noise (A){figure}{crackle}.{since}",
        act=f"{act}.",
    )  # fmt: skip


def _jumps(one: Judged) -> list[Alone]:
    jumps = one.listening.jumps or []
    if not jumps:
        return []
    times = list(dict.fromkeys(clock(jump.programme_s) for jump in jumps))
    ways = {jump.turns > 0 for jump in jumps}
    way = "jumps" if len(ways) > 1 else "skips forward" if True in ways else "falls back and repeats"
    often = "" if len(jumps) == 1 else " twice" if len(jumps) == 2 else f" {len(jumps)} times"
    return [
        Alone(
            copy=one.copy, side=one.side, station="copy",
            found=f"{sentence_case(one.copy)} {way}{often} at {listed(times)} of side {one.side}; no other copy does.",
            act="Scrap this copy; look at its groove there.",
        )
    ]  # fmt: skip


def _scratch(one: Judged) -> list[Alone]:
    return [
        Alone(
            copy=one.copy, side=one.side, station="handling",
            found=f"{sentence_case(one.copy)} is scratched: {train.count} ticks, one each turn, from "
            f"{clock(train.from_s)} to {clock(train.to_s)} of side {one.side}; no other copy has them.",
            act="Scrap this copy; look at stacking and sleeving.",
        )
        for train in one.listening.trains or []
    ]  # fmt: skip


def _ticks(one: Judged, told: set[float]) -> list[Alone]:
    """Ticks of its own that put a copy out of limit: neither shared nor part of a scratch."""
    if not out_of(one, *ON_TICKS):
        return []
    row = limit_of(one, "loud_ticks_per_side", "tick_prominence")
    least = 20.0 if row is not None else 0.0
    own = [
        tick for tick in one.listening.ticks or []
        if tick.train is None and tick.programme_s not in told and tick.prominence_db >= least
    ]  # fmt: skip
    if not own:
        return []
    loudest = max(own, key=lambda tick: tick.prominence_db)
    return [
        Alone(
            copy=one.copy, side=one.side, station="copy",
            found=f"{sentence_case(one.copy)} has {count(len(own), 'tick')} of its own on side {one.side}, the loudest "
            f"at {clock(loudest.programme_s)}.",
            act="Scrap this copy.",
        )
    ]  # fmt: skip
