"""The way of the stylus through the programme: one path, cut where it jumps or where the programme was edited.

From a stretch that certainly matches, the path is followed to both ends. Where the sound stops matching, one turn
forward or back (a jump) is tried first, then any other place (an edit); if neither explains it, the line runs on and
the stretch counts as not matched.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.acquire import FRAME_RATE, Candidate, Finder, Movement, levels, movement_of
from runtrue.listen.lattice import HOP_S, Lattice, Path
from runtrue.listen.plan import LONGEST_S, Plan, best_plan
from runtrue.listen.store import TRACK_RATE
from runtrue.types import Progress

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_CHUNK_S = 16.0
_AHEAD_S = 3.0
"""A path's last windows have no future to decide them: they are followed and thrown away."""
_PROBE_S = 6.0
_LOST_WINDOWS = 20
_TRIAL_S = 1.4
_SINKS = 0.75
"""Below this share of its usual value the match may be a likeness of another bar: other places are tried."""
_MOST_JUMPS = 400
_SPEED_STEP, _MOST_SPEEDS = 2e-3, 3
_SAME_PLACE_S = 0.1
_LEAST_HEARD_S = 0.5
_AHEAD_OF_RIVAL_S, _AHEAD_OF_PLAN_S = 0.2, 1.0
"""A line must be heard for so much longer to be taken before one that was followed earlier."""
_PART_S, _MOST_PARTS = 8.0, 8
"""Stretches [s] that are searched where no line goes through the whole, and how many lines are kept then."""
_RIVAL, _MOST_RIVALS = 0.7, 4
"""Lines whose score comes this near to the best one's are followed too."""
_CLEAR, _CLEARLY_BEST = 0.5, 1.5
"""A line whose levels correlate this well, and this much better than the next, needs no rival tried beside it."""
MATCHES = 0.3
"""Least correlation, in half a second or more of followed waveform, that counts as the same music. Unrelated music
followed the same way stays below 0.2 (tests/truth/test_listen_programme.py)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Followed pieces in order of capture time; empty when nothing matched.

    ``quality`` is the correlation over the audible part; ``matched_share`` the share of the audible time that matches.
    """

    pieces: tuple[Path, ...]
    polarity: int
    quality: float
    matched_share: float
    audible_s: float
    lattice: Lattice


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Capture and reference in one direction of time."""

    lattice: Lattice
    capture_levels: Movement
    finder: Finder
    plan: Plan

    def backward(self, reference_levels: Float32) -> "_Pair":
        return _Pair(
            lattice=self.lattice.reversed(),
            capture_levels=self.capture_levels.reversed(),
            finder=Finder(reference_levels[::-1]),
            plan=self.plan.reversed(capture_end=self.lattice.capture_end, reference_end=self.lattice.reference_end),
        )


def find_route(capture: Float32, reference: Float32, *, turn_period: float, progress: Progress) -> Route:
    """Follow the 12 kHz mono track ``capture`` (n,) along ``reference`` (m,).

    Where bars repeat, several lines match as well; each is followed, and the one on which most is heard is taken.
    """
    capture_levels, reference_levels = movement_of(capture), levels(reference)
    finder = Finder(reference_levels)
    lattice = Lattice(capture, reference)
    progress("finding the programme", 0.1)
    candidates = _candidates(finder, capture_levels)
    plan = Plan()
    if _unclear(candidates) and max(len(capture), len(reference)) < LONGEST_S * TRACK_RATE:
        plan = best_plan(capture, reference, deviations=_deviations(candidates), turn_period=turn_period)
    starts = [*_planned_starts(lattice, plan), *_starts(lattice, candidates, capture_levels)]
    best = Route(pieces=(), polarity=1, quality=0.0, matched_share=0.0, audible_s=_audible(capture), lattice=lattice)
    for index, start in enumerate(starts):
        progress("following the programme", 0.2 + 0.8 * index / len(starts))
        pair = _Pair(lattice=lattice, capture_levels=capture_levels, finder=finder, plan=plan)
        route = _followed(pair, reference_levels, start, turn_period)
        ahead = _AHEAD_OF_PLAN_S if plan.stretches else _AHEAD_OF_RIVAL_S
        if route.matched_share * route.audible_s > best.matched_share * best.audible_s + ahead * (index > 0):
            best = route
    lattice.polarity = float(best.polarity)
    return best


def _followed(pair: _Pair, reference_levels: Float32, start: "_Start", turn: float) -> Route:
    """The route from one start to both ends."""
    lattice = pair.lattice
    lattice.polarity = float(start.polarity)
    slope = 1.0 + start.candidate.deviation
    anchor, place = _anchor(lattice, start.candidate, start.probe)
    forward = _walk(pair, start=anchor, programme=place, slope=slope, turn=turn)
    back = pair.backward(reference_levels)
    backward = _walk(
        back, start=lattice.capture_end - anchor, programme=lattice.reference_end - place, slope=slope, turn=turn
    )
    pieces = _heard(_joined(forward, [_turned_round(p, lattice) for p in reversed(backward)]))
    qualities = np.concatenate([p.quality() for p in pieces]) if pieces else np.zeros(0)
    loud = ~np.isnan(qualities)
    matched = loud & (np.nan_to_num(qualities) > MATCHES)
    return Route(
        pieces=tuple(pieces),
        polarity=start.polarity,
        quality=float(np.median(qualities[loud])) if loud.any() else 0.0,
        matched_share=float(matched.sum() / max(1, loud.sum())),
        audible_s=float(loud.sum() * HOP_S),
        lattice=lattice,
    )


def _heard(pieces: list[Path]) -> list[Path]:
    """``pieces`` without those at the ends that match for less than half a second: they tell of no jump and no cut."""
    kept = list(pieces)
    for end in (0, -1):
        while len(kept) > 1 and (np.nan_to_num(kept[end].quality()) > MATCHES).sum() * HOP_S < _LEAST_HEARD_S:
            kept.pop(end)
    return kept


def _audible(track: Float32) -> float:
    """Seconds of the track above -80 dB of full scale."""
    frames = len(track) // 480
    return (
        float((np.abs(track[: frames * 480].reshape(frames, 480)).max(axis=1) > 1e-4).sum() * 0.04) if frames else 0.0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Start:
    """A line, a capture time [s] at which it matches, the polarity, and how well it does."""

    candidate: Candidate
    probe: float
    polarity: int
    score: float


def _unclear(candidates: list[Candidate]) -> bool:
    """Whether no line is clearly the best one."""
    return len(candidates) > 1 and candidates[0].score <= max(_CLEAR, _CLEARLY_BEST * candidates[1].score)


def _deviations(candidates: list[Candidate]) -> list[float]:
    """Speeds worth planning at: about those of the best candidates, in steps that leave a frame in 20 s."""
    out: list[float] = []
    for candidate in candidates[:_MOST_SPEEDS]:
        for step in (0.0, -_SPEED_STEP, _SPEED_STEP):
            deviation = candidate.deviation + step
            if all(abs(deviation - other) > 0.6 * _SPEED_STEP for other in out):
                out.append(deviation)
    return out


def _planned_starts(lattice: Lattice, plan: Plan) -> list["_Start"]:
    """The line of the plan's longest stretch."""
    starts = []
    for s in plan.stretches[:1]:
        candidate = Candidate(deviation=s.deviation, offset=s.programme - (1.0 + s.deviation) * s.start, score=1.0)
        low, high = max(s.start, s.start + (0.0 - s.programme)), min(s.end, lattice.capture_end)
        probe = max(0.0, 0.5 * (low + high) - 0.5 * _PROBE_S)
        quality = {}
        for polarity in (1, -1):
            lattice.polarity = float(polarity)
            path = lattice.follow(
                start=probe, end=probe + _PROBE_S, programme=candidate.at(probe), slope=1.0 + s.deviation
            )
            quality[polarity] = path.overall()
        best = max(quality, key=lambda p: quality[p])
        starts.append(_Start(candidate=candidate, probe=probe, polarity=best, score=quality[best]))
    return [start for start in starts if start.score > MATCHES]


def _starts(lattice: Lattice, candidates: list[Candidate], capture_levels: Movement) -> list[_Start]:
    """Lines to follow, best first: one where one is clearly best; empty where there is nothing to go by."""
    if not _unclear(candidates):
        candidates = candidates[:1]
    starts = []
    for candidate in candidates:
        probes = _probes(candidate, lattice, capture_levels)
        for polarity in (1, -1):
            lattice.polarity = float(polarity)
            quality = [
                lattice.follow(
                    start=at, end=at + _PROBE_S, programme=candidate.at(at), slope=1.0 + candidate.deviation
                ).overall()
                for at in probes
            ]
            if quality:
                probe = probes[int(np.argmax(quality))]
                score = float(np.mean(quality)) + 0.5 * candidate.score
                starts.append(_Start(candidate=candidate, probe=probe, polarity=polarity, score=score))
    starts.sort(key=lambda start: -start.score)
    return [s for s in starts if s.score > _RIVAL * starts[0].score][:_MOST_RIVALS]


def _anchor(lattice: Lattice, candidate: Candidate, probe: float) -> tuple[float, float]:
    """Capture and programme time of the surest spot of a followed stretch, away from its ends."""
    slope = 1.0 + candidate.deviation
    path = lattice.follow(start=probe, end=probe + 1.5 * _PROBE_S, programme=candidate.at(probe), slope=slope)
    count = len(path.capture)
    margin = min(count // 3, int(1.5 / HOP_S))
    quality = np.nan_to_num(path.quality()[margin : count - margin], nan=-1.0)
    spot = margin + int(quality.argmax()) if len(quality) else count // 2
    return float(path.capture[spot]), float(path.programme[spot])


def _candidates(finder: Finder, capture_levels: Movement) -> list[Candidate]:
    """Lines worth trying: from the whole capture if it is short, else from stretches that agree."""
    frames = capture_levels.frames
    if frames <= 100 * FRAME_RATE:
        whole = finder.search(capture_levels, start=0.0)
        return whole if not whole or whole[0].score > _CLEAR else _with_parts(whole, finder, capture_levels)
    length = 30 * FRAME_RATE
    busy = np.convolve((capture_levels.plain**2).sum(axis=1), np.ones(length), mode="valid")
    found: list[list[Candidate]] = []
    centre, span = 0.0, 0.06
    for part in np.array_split(np.arange(len(busy)), 6):
        first = int(part[np.argmax(busy[part])])
        stretch = capture_levels.part(first, first + length)
        found.append(finder.search(stretch, start=first / FRAME_RATE, centre=centre, span=span, peaks=4))
        strongest = max((c for group in found for c in group), key=lambda c: c.score, default=None)
        if strongest is not None and strongest.score > 0.6:
            centre, span = strongest.deviation, 0.004
    everyone = [c for group in found for c in group]
    duration = frames / FRAME_RATE
    lines = [_agreed(c, found, duration) for c in everyone]
    lines.sort(key=lambda c: -c.score)
    out: list[Candidate] = []
    for line in lines:
        if all(abs(line.at(duration / 2) - other.at(duration / 2)) > 0.15 for other in out):
            out.append(line)
    return out[:6]


def _with_parts(whole: list[Candidate], finder: Finder, capture_levels: Movement) -> list[Candidate]:
    """``whole`` and the best lines of stretches, best first: a jump or an edit leaves no line through all."""
    length, frames = int(_PART_S * FRAME_RATE), capture_levels.frames
    out = list(whole)
    for first in range(0, max(1, frames - length // 2), length // 2):
        part = capture_levels.part(first, min(first + length, frames))
        out += finder.search(part, start=first / FRAME_RATE, peaks=1)
    return sorted(out, key=lambda c: -c.score)[:_MOST_PARTS]


def _agreed(seed: Candidate, found: list[list[Candidate]], duration: float) -> Candidate:
    """``seed`` straightened through the candidates of other stretches that lie on it; score: mean of all stretches."""
    times = (np.arange(len(found)) + 0.5) * duration / len(found)
    kept: list[tuple[float, float, float]] = []
    for at, group in zip(times, found, strict=True):
        near = [c for c in group if abs(c.at(at) - seed.at(at)) < 0.1 + 2e-3 * duration / 2 * (c is not seed)]
        if near:
            chosen = max(near, key=lambda c: c.score)
            kept.append((float(at), chosen.at(float(at)), chosen.score))
    t, p, s = (np.array(v) for v in zip(*kept, strict=True))
    if len(t) < 2:
        return replace(seed, score=float(s.sum()) / len(found))
    slope, offset = np.polyfit(t, p, 1, w=s)
    if abs(slope - 1.0 - seed.deviation) > 5e-3:
        return replace(seed, score=seed.score / len(found))
    return Candidate(deviation=float(slope) - 1.0, offset=float(offset), score=float(s.sum()) / len(found))


def _probes(candidate: Candidate, lattice: Lattice, capture_levels: Movement) -> list[float]:
    """Capture times of up to four busy stretches that the line maps into the reference."""
    slope = 1.0 + candidate.deviation
    low = max(0.0, -candidate.offset / slope)
    high = min(lattice.capture_end, (lattice.reference_end - candidate.offset) / slope) - _PROBE_S
    if high <= low:
        return [max(0.0, low)] if lattice.capture_end - low > 1.0 else []
    energy = (capture_levels.plain**2).sum(axis=1)
    out = []
    for part in np.array_split(
        np.arange(int(low * FRAME_RATE), max(int(high * FRAME_RATE), int(low * FRAME_RATE) + 1)), 4
    ):
        if len(part):
            width = int(_PROBE_S * FRAME_RATE)
            sums = [energy[i : i + width].sum() for i in part[:: FRAME_RATE // 2]]
            out.append(float(part[:: FRAME_RATE // 2][int(np.argmax(sums))]) / FRAME_RATE)
    return out


def _walk(pair: _Pair, *, start: float, programme: float, slope: float, turn: float) -> list[Path]:
    """Follow from ``start`` to the end of capture or reference; a new path begins at each jump or edit."""
    lattice = pair.lattice
    pieces: list[Path] = []
    current: list[Path] = []
    at, place, tight = start, programme, True
    tried_until = -1.0
    while at < lattice.capture_end - 4 * HOP_S and place < lattice.reference_end + 0.5 and len(pieces) < _MOST_JUMPS:
        path = lattice.follow(start=at, end=at + _CHUNK_S + _AHEAD_S, programme=place, slope=slope, tight=tight)
        if len(path.capture) == 0:
            break
        if at + _CHUNK_S + _AHEAD_S < lattice.capture_end:
            path = _until(path, at + _CHUNK_S)
        current.append(path)
        whole = _concatenated(current)
        lost = _lost_at(whole, since=max(at - 1.0, tried_until))
        if lost is not None:
            other = _elsewhere(pair, whole, lost, slope=slope, turn=turn)
            if other is not None:
                switch, place_there = other
                pieces.append(_until(whole, switch))
                current, at, place, tight = [], switch, place_there, True
                tried_until = switch + 0.5
                continue
            tried_until = lost + 3.0
            if tried_until < whole.capture[-1] - 1.0:
                whole = _until(whole, max(tried_until, whole.capture[0] + 4 * HOP_S))
                current = [whole]
        current = [whole]
        place, slope = _continued(whole, slope)
        at = float(whole.capture[-1])  # the middle of the last window is the start of the next
        place = float(place)
        tight = True
    if current:
        pieces.append(_concatenated(current))
    return pieces


def _continued(path: Path, slope: float) -> tuple[float, float]:
    """Programme time at the end of ``path`` and the slope there, from what matched in its last seconds."""
    recent = slice(max(0, len(path.capture) - int(10.0 / HOP_S)), None)
    capture, programme = path.capture[recent], path.programme[recent]
    weight = np.clip(path.correlation[recent], 0.0, 1.0) ** 2 * np.minimum(path.reference_energy[recent], 1.0)
    end = float(path.capture[-1])
    if weight.sum() < 2.0:
        return float(path.programme[-1]), slope
    centre = np.average(capture, weights=weight)
    spread = np.average((capture - centre) ** 2, weights=weight)
    fitted = slope
    if spread > 1.0:
        fitted = float(np.average((capture - centre) * programme, weights=weight) / spread)
        fitted = slope if abs(fitted - slope) > 0.01 else fitted
    tail = slice(max(0, len(path.capture) - int(0.4 / HOP_S)), None)
    near = np.clip(path.correlation[tail], 0.0, 1.0) ** 2 * np.minimum(path.reference_energy[tail], 1.0) + 1e-6
    ends = path.programme[tail] + fitted * (end - path.capture[tail])
    if near.sum() > 1.0:
        return float(np.average(ends, weights=near)), fitted
    return float(np.average(programme, weights=weight) + fitted * (end - centre)), fitted


def _lost_at(path: Path, *, since: float) -> float | None:
    """Capture time from which the audible reference stops matching for most of a second; None if it never does."""
    quality = path.quality()
    loud = ~np.isnan(quality)
    usual = float(np.median(quality[loud])) if loud.any() else 0.0
    bad = loud & (np.nan_to_num(quality, nan=1.0) < max(0.2, _SINKS * usual)) & (path.capture > since)
    run = np.convolve(bad, np.ones(_LOST_WINDOWS), mode="valid")
    hits = np.flatnonzero(run >= _LOST_WINDOWS)
    return float(path.capture[hits[0]]) if len(hits) else None


def _elsewhere(pair: _Pair, path: Path, lost: float, *, slope: float, turn: float) -> tuple[float, float] | None:
    """Where the sound goes on after ``lost``: capture time of the switch and programme time there, or None."""
    lattice = pair.lattice
    here = float(np.interp(lost, path.capture, path.programme))
    begin, end = lost + 0.3, lost + 0.3 + _TRIAL_S

    def trial(shift: float, length: float = _TRIAL_S) -> float:
        found = lattice.follow(start=begin, end=begin + length, programme=here + shift + 0.3 * slope, slope=slope)
        return found.overall() if len(found.capture) else 0.0

    now = trial(0.0)
    enough = max(MATCHES, now + 0.15)
    place = pair.plan.place(end)
    if place is not None:
        meant = place - here - slope * (end - lost)
        if abs(meant) > _SAME_PLACE_S and trial(meant) >= enough:
            return _switch(pair, path, lost, here=here, shift=meant, slope=slope, end=end)
    shifts = [k * turn for n in (1, 2, 3, 4) for k in (n, -n)]
    scores = [trial(s) for s in shifts]
    best = int(np.argmax(scores))
    chosen, reached = shifts[best], scores[best]
    if reached < enough:
        first = int(begin * FRAME_RATE)
        stretch = pair.capture_levels.part(first, first + 10 * FRAME_RATE)
        found = pair.finder.search(stretch, start=begin, centre=slope - 1.0, span=0.004, peaks=4, held=0.35)
        options = [(c.at(begin) - here - 0.3 * slope, c.score) for c in found if c.score > 0.4]
        scores = [trial(s, 2 * _TRIAL_S) for s, _ in options]
        if not scores or max(scores) < enough:
            return None
        chosen = options[int(np.argmax(scores))][0]
    return _switch(pair, path, lost, here=here, shift=chosen, slope=slope, end=end)


def _switch(
    pair: _Pair, path: Path, lost: float, *, here: float, shift: float, slope: float, end: float
) -> tuple[float, float]:
    """The instant that best divides the old line from the one ``shift`` away, and the new line's place there."""
    begin = max(float(path.capture[0]), lost - 1.5)
    place = here + slope * (begin - lost)
    old = pair.lattice.follow(start=begin, end=end, programme=place, slope=slope)
    new = pair.lattice.follow(start=begin, end=end, programme=place + shift, slope=slope)
    gain = np.concatenate([[0.0], np.cumsum(_evidence(old) - _evidence(new))])
    cut = int(np.argmax(gain))
    cut = min(cut, len(new.capture) - 2)
    sound = np.flatnonzero((new.correlation > MATCHES) & (np.arange(len(new.capture)) >= cut))
    if len(sound) == 0:
        return float(new.capture[cut]), float(new.programme[cut])
    first = new.programme[sound[: int(0.4 / HOP_S)]] - slope * (
        new.capture[sound[: int(0.4 / HOP_S)]] - new.capture[cut]
    )
    return float(new.capture[cut]), float(np.median(first))


def _evidence(path: Path) -> Float64:
    correlation = np.clip(path.correlation, 0.0, 0.99)
    return np.asarray(correlation**2 * np.sqrt(np.minimum(path.reference_energy, 1.0)))


def _map(function: Callable[..., Float64], *paths: Path) -> Path:
    names = ("capture", "programme", "correlation", "capture_energy", "reference_energy")
    return Path(**{n: function(*(getattr(p, n) for p in paths)) for n in names})


def _concatenated(paths: list[Path]) -> Path:
    return paths[0] if len(paths) == 1 else _map(lambda *v: np.concatenate(v), *paths)


def _until(path: Path, capture: float) -> Path:
    keep = path.capture < capture
    return _map(lambda v: v[keep], path)


def _turned_round(path: Path, lattice: Lattice) -> Path:
    """A path followed backward, in forward time."""
    return Path(
        capture=lattice.capture_end - path.capture[::-1],
        programme=lattice.reference_end - path.programme[::-1],
        correlation=path.correlation[::-1],
        capture_energy=path.capture_energy[::-1],
        reference_energy=path.reference_energy[::-1],
    )


def _joined(forward: list[Path], backward: list[Path]) -> list[Path]:
    """Backward and forward pieces as one list; the two that meet at the start are one piece."""
    if not backward:
        return forward
    if not forward:
        return backward
    first = forward[0]
    before = _until(backward[-1], float(first.capture[0]) - 0.5 * HOP_S)
    return [*backward[:-1], _concatenated([before, first]), *forward[1:]]
