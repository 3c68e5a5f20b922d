"""The listening test as a whole: two sounds in, what was heard out."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.capture.sound import Sound
from runtrue.disc.frame import TURN_SPREAD_U95, Frame
from runtrue.listen.acquire import movement
from runtrue.listen.alone import hear_alone
from runtrue.listen.centre import CentreFit, edited, fit_centre, shift_of, spiral_of, track_of
from runtrue.listen.difference import Differ
from runtrue.listen.ear import Ear, HeardDifference
from runtrue.listen.flutter import QUANTITIES as FLUTTER
from runtrue.listen.flutter import flutter_of
from runtrue.listen.groove import ball_of, in_the_groove
from runtrue.listen.heard import (
    ChannelOrder,
    Heard,
    HeardCentre,
    HeardEdit,
    HeardJump,
    HeardProgramme,
    HeardTick,
    HeardTraces,
    Identity,
)
from runtrue.listen.line import Line
from runtrue.listen.noise import NoiseMeter
from runtrue.listen.refine import refine
from runtrue.listen.route import MATCHES, Route, find_route
from runtrue.listen.setting import Hearing, Setting
from runtrue.listen.store import RATE, TRACK_RATE, WorkingCopy
from runtrue.listen.ticks import find_ticks, joined
from runtrue.listen.trains import find_trains
from runtrue.signal.warp import read_along
from runtrue.types import About, Measurement, Progress

Float64 = NDArray[np.float64]

_BLOCK = 65_536
_LEAST_S = 3.0
_LEAST_OTHER_S = 8.0
_STILL = 0.15
"""Band levels that move less than this [nepers] are no programme: a steady tone, a square wave, hiss."""
_OF_THE_LINE = dict.fromkeys(("speed_deviation", *FLUTTER), About.RIG)
_OF_THE_DIFFERENCE = {
    "surface": About.DISC, "rumble": About.RIG, "hum": About.RIG, "balance": About.RIG,
    "crosstalk_left_into_right": About.RIG, "crosstalk_right_into_left": About.RIG,
    "surface_quasi_peak": About.DISC, "swish": About.DISC,
}  # fmt: skip


def hear(capture: Sound, reference: Sound | None, setting: Setting, *, workspace: Path, progress: Progress) -> Heard:
    """Lay ``capture`` over ``reference`` and measure.

    ``workspace`` takes two temporary working copies (0.4 GB for a side of 20 minutes). Raises ``RecordingError`` for
    what cannot be read; a readable recording that cannot be judged comes back with identity "unclear".
    """
    taken = working_copy(
        capture, workspace / "capture.f32", lambda share: progress("reading the capture", 0.25 * share)
    )
    try:
        if reference is None:
            why = useless(taken)
            if why:
                return _nothing(setting, taken.frames / RATE, Identity.UNCLEAR, why)
            return hear_alone(
                taken, setting, missing=tuple((_OF_THE_LINE | _OF_THE_DIFFERENCE).items()),
                progress=lambda what, share: progress(what, 0.25 + 0.75 * share),
            )  # fmt: skip
        source = working_copy(
            reference,
            workspace / "reference.f32",
            lambda share: progress("reading the reference", 0.25 + 0.1 * share),
            with_side=True,
        )
        try:
            return _heard(taken, source, setting, workspace, lambda what, share: progress(what, 0.35 + 0.65 * share))
        finally:
            source.close()
    finally:
        taken.close()


def working_copy(sound: Sound, path: Path, share: Callable[[float], None], *, with_side: bool = False) -> WorkingCopy:
    """The whole sound at 48 kHz in a temporary file."""
    copy = WorkingCopy(path, rate=sound.rate, with_side=with_side)
    try:
        done = 0
        for block in sound.blocks(_BLOCK):
            copy.push(block)
            done += len(block)
            share(min(1.0, done / max(1, sound.frames)))
        copy.finish()
    except BaseException:
        copy.close()
        raise
    return copy


def _heard(
    capture: WorkingCopy, reference: WorkingCopy, setting: Setting, workspace: Path, progress: Progress
) -> Heard:
    duration = reference.frames / RATE
    why = useless(capture, reference)
    if why:
        return _nothing(setting, duration, Identity.UNCLEAR, why)
    route = find_route(capture.track, reference.track, turn_period=1.0 / setting.turn_frequency, progress=progress)
    identity, reason = identity_of(route, capture)
    if identity is not Identity.SAME:
        return _nothing(setting, duration, identity, reason)
    progress("sharpening the time line", 0.4)
    line = refine(route, capture.track, reference.track, reference.side, turn_period=1.0 / setting.turn_frequency)
    progress("fitting the centre", 0.55)
    fit = _centred(line, setting, duration)
    order, cautions = channel_order(line, capture, reference, duration, route.polarity)
    reach = _reach(route, duration)
    if setting.quick:
        return _put_together(
            line=line, fit=fit, subtracted=_without_difference("left out: only the time line was asked for"),
            route=route, reach=reach, order=order, cautions=cautions, duration=duration,
        )  # fmt: skip
    played = _Exchanged(capture) if order is ChannelOrder.SWAPPED else capture
    ball = ball_of(line, played, reference, fit.frame, duration=duration, polarity=route.polarity)
    groove = reference
    if ball.shows:
        progress("tracing the reference as the stylus does", 0.56)
        groove = in_the_groove(reference, ball, workspace / "groove.f32")
    try:
        if groove is not reference:
            # loud treble, traced, also moves what the line was fitted to
            line = refine(route, capture.track, groove.track, groove.side, turn_period=1.0 / setting.turn_frequency)
            fit = _centred(line, setting, duration)
        subtracted = _subtract(
            line, played, groove, duration=duration, polarity=route.polarity, progress=progress,
            hearing=setting.hearing, frame=fit.frame, reach=reach,
        )  # fmt: skip
    finally:
        if groove is not reference:
            groove.close()
    return _put_together(
        line=line, fit=fit, subtracted=subtracted, route=route, reach=reach, order=order, cautions=cautions,
        duration=duration,
    )  # fmt: skip


def _centred(line: Line, setting: Setting, duration: float) -> CentreFit:
    track = track_of(line, duration=duration, turn_frequency=setting.turn_frequency)
    return fit_centre(track, setting, duration=duration)


def _put_together(
    *,
    line: Line,
    fit: CentreFit,
    subtracted: "_Subtracted",
    route: Route,
    reach: tuple[float, float],
    order: ChannelOrder,
    cautions: tuple[str, ...],
    duration: float,
) -> Heard:
    jumps, edits = _breaks(line, fit.frame.turn_period)
    start = line.pieces[0].start + (0.0 - line.pieces[0].programme[0])
    crossing = line.capture_time(0.0)
    programme = HeardProgramme(
        identity=Identity.SAME,
        start=crossing if crossing is not None else float(start),
        reach=reach,
        polarity=route.polarity,
        channels=order,
        jumps=jumps,
        edits=edits,
    )
    speed = Measurement(
        quantity="speed_deviation", value=fit.speed, u95=fit.speed_u95, about=About.RIG, reason=fit.reason
    )
    flutter = flutter_of(line, duration=duration, turn_period=fit.frame.turn_period)
    scalars = [speed, *flutter, *subtracted.scalars]
    reasons = dict.fromkeys(_JUDGED_ON_IT, subtracted.reason) if subtracted.reason else dict(_REASONS)
    if edits:
        cautions = (*cautions, f"the programme was cut against the reference at {len(edits)} place(s)")
    if subtracted.raised > 0.1:
        cautions = (
            *cautions,
            f"the programme itself shows through the difference for {100 * subtracted.raised:.0f} % of the time: "
            "small ticks there are not listed",
        )
    ticks, more = subtracted.ticks, subtracted.more
    return Heard(
        programme=programme,
        frame=fit.frame,
        turn_fitted=fit.turn_fitted,
        centre=fit.centre,
        scalars=tuple(scalars),
        ticks=ticks,
        trains=None if ticks is None else find_trains(ticks, turn_period=fit.frame.turn_period),
        bursts=None if more is None else more.bursts,
        noise=None if more is None else more.noise,
        response=None if more is None else more.response,
        reasons=reasons,
        level_reference="programme" if subtracted.level is not None else None,
        threshold_raised=None if ticks is None else subtracted.raised,
        cautions=cautions,
        traces=_traces(line, subtracted, reach, duration),
    )


_JUDGED_ON_IT = ("ticks", "trains", "bursts", "noise", "response", "level_reference")
"""Parts of the result that stand on the difference."""
_REASONS = {
    "noise.third_octaves": "no part of that third of the side was heard",
    "noise.by_angle_db_a": "the music shows through all along that arc",
    "noise.unmodulated_db_a": "less than a second of groove without music was heard",
    "noise.under_programme_db_a": "the music shows through wherever there is any",
    "response.third_octaves": "the programme holds too little there to measure by",
    "response.distortion": "no part of that third of the side was heard",
}


def useless(capture: WorkingCopy, reference: WorkingCopy | None = None) -> str:
    """Why neither could be told apart from anything; empty when they can be tried."""
    for name, copy in (("capture", capture), ("reference", reference)):
        if copy is None:
            continue
        if copy.frames / RATE < _LEAST_S:
            return f"the {name} holds only {copy.frames / RATE:.1f} s; {_LEAST_S:.0f} s of programme are needed"
        if float(np.abs(copy.track).max(initial=0.0)) < 1e-4:
            return f"the {name} is silent"
        if movement(copy.track) < _STILL:
            return f"the {name} does not change: a steady sound cannot be recognised"
    return ""


def identity_of(route: Route, capture: WorkingCopy) -> tuple[Identity, str]:
    """Whether the followed route says that the capture holds the reference's programme; why, where it does not."""
    if route.pieces and route.quality > MATCHES and route.matched_share > 0.5 and route.audible_s > 1.0:
        return Identity.SAME, ""
    partly = route.pieces and route.matched_share * route.audible_s > _LEAST_OTHER_S and route.matched_share > 0.25
    if partly:
        share = 100.0 * route.matched_share
        return Identity.UNCLEAR, f"only {share:.0f} % of what is heard is the programme of the reference"
    loud = np.abs(capture.track[: len(capture.track) // 480 * 480].reshape(-1, 480)).max(axis=1) > 1e-3
    if loud.sum() * 480 / TRACK_RATE >= _LEAST_OTHER_S:
        return Identity.OTHER, "the capture holds another programme than the reference"
    return Identity.UNCLEAR, f"fewer than {_LEAST_OTHER_S:.0f} s are loud enough to tell the programme"


def _nothing(setting: Setting, duration: float, identity: Identity, reason: str) -> Heard:
    """A result in which nothing but the identity was judged."""
    frame = Frame(
        turn_frequency=setting.turn_frequency,
        turn_frequency_u95=TURN_SPREAD_U95 * setting.turn_frequency,
        spiral=spiral_of(setting, max(duration, 1.0)),
    )
    return Heard(
        programme=HeardProgramme(identity=identity, reason=reason),
        frame=frame,
        turn_fitted=False,
        centre=HeardCentre(reason=reason),
        scalars=tuple(
            Measurement(quantity=name, value=None, about=about, reason=reason)
            for name, about in (_OF_THE_LINE | _OF_THE_DIFFERENCE).items()
        ),
        reasons=dict.fromkeys((*_JUDGED_ON_IT, "jumps"), reason),
    )


class _Exchanged(WorkingCopy):
    """A working copy whose two channels are exchanged."""

    def __init__(self, inner: WorkingCopy) -> None:
        self._inner = inner
        self.frames, self.track, self.side, self.rate = inner.frames, inner.track, -inner.side, inner.rate
        self.doubt = inner.doubt

    def read(self, start: int, count: int) -> NDArray[np.float32]:
        """As the inner copy, left for right."""
        return np.ascontiguousarray(self._inner.read(start, count)[:, ::-1])


def channel_order(
    line: Line, capture: WorkingCopy, reference: WorkingCopy, duration: float, polarity: int
) -> tuple[ChannelOrder, tuple[str, ...]]:
    """How the capture's channels lie, from up to five stretches of 4 s along the side."""
    powers = np.zeros(3)  # capture left, right, side
    reference_powers = np.zeros(2)  # reference middle, side
    likeness = np.zeros(3)  # side product, capture side, reference side
    count = 4 * RATE
    for piece in line.pieces:
        span = piece.end - piece.start
        for share in np.linspace(0.1, 0.9, 5):
            grid = np.arange(count) / RATE + piece.start + share * max(0.0, span - 4.0)
            programme = piece.at(grid)
            if programme[0] < 0.0 or programme[-1] > duration or span < 1.0:
                continue
            taken = capture.read(round(grid[0] * RATE), count)
            first = int(programme[0] * RATE) - 32
            source = reference.read(first, int(programme[-1] * RATE) + 64 - first)
            played = read_along(source, programme * RATE - first)
            powers += [np.mean(taken[:, 0] ** 2), np.mean(taken[:, 1] ** 2), np.mean((taken[:, 0] - taken[:, 1]) ** 2)]
            side, other = (np.diff(v[:, 0] - v[:, 1]) for v in (taken * np.float32(polarity), played))
            reference_powers += [np.mean(played.sum(axis=1) ** 2), np.mean((played[:, 0] - played[:, 1]) ** 2)]
            likeness += [float(side @ other), float(side @ side), float(other @ other)]
    if powers[:2].max() <= 0.0:
        return ChannelOrder.STRAIGHT, ()
    if powers[1] < 1e-4 * powers[0]:
        return ChannelOrder.LEFT_ONLY, ("the right channel of the capture is dead",)
    if powers[0] < 1e-4 * powers[1]:
        return ChannelOrder.RIGHT_ONLY, ("the left channel of the capture is dead",)
    if powers[2] < 1e-6 * powers[:2].sum():
        return ChannelOrder.MONO, ("the capture is mono: walls cannot be told apart",)
    if reference_powers[1] < 1e-5 * reference_powers[0]:
        return ChannelOrder.STRAIGHT, ("the reference is mono: exchanged channels would not show",)
    alike = likeness[0] / np.sqrt(likeness[1] * likeness[2] + 1e-30)
    return (ChannelOrder.SWAPPED if alike < -0.15 else ChannelOrder.STRAIGHT), ()


def _reach(route: Route, duration: float) -> tuple[float, float]:
    """Programme time from the first to the last place that was heard; silence after a match counts as heard."""
    quality = np.concatenate([p.quality() for p in route.pieces])
    programme = np.concatenate([p.programme for p in route.pieces])
    good = np.isnan(quality) | (quality > MATCHES)
    matched = np.flatnonzero(~np.isnan(quality) & (quality > MATCHES))
    first, last = int(matched[0]), int(matched[-1])
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    inside = programme[first : last + 1]
    low, high = float(inside.min()), float(inside.max())
    edge = 0.1
    return (0.0 if low < edge else low, duration if high > duration - edge else high)


def _breaks(line: Line, turn: float) -> tuple[tuple[HeardJump, ...], tuple[HeardEdit, ...]]:
    """Jumps of whole turns and edits between the pieces of the line."""
    jumps, edits = [], []
    for before, after in zip(line.pieces, line.pieces[1:], strict=False):
        at = float(before.programme[-1])
        left_out = edited(before, after, turn=turn)
        if left_out == 0.0:
            jumps.append(HeardJump(programme_time=at, turns=round(shift_of(before, after) / turn)))
        elif abs(left_out) > 0.01:
            edits.append(HeardEdit(programme_time=at, skipped=left_out))
    return tuple(jumps), tuple(edits)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Subtracted:
    """What the difference gave."""

    ticks: tuple[HeardTick, ...] | None
    more: HeardDifference | None = None
    scalars: list[Measurement]
    level: float | None
    raised: float
    times: list[float]
    levels: list[float]
    noises: list[float]
    thresholds: list[float]
    reason: str = ""
    """Why there is nothing."""


def _without_difference(reason: str) -> _Subtracted:
    missing = [Measurement(quantity=q, value=None, about=a, reason=reason) for q, a in _OF_THE_DIFFERENCE.items()]
    return _Subtracted(
        ticks=None, scalars=missing, level=None, raised=0.0, times=[], levels=[], noises=[], thresholds=[],
        reason=reason,
    )  # fmt: skip


def _subtract(
    line: Line,
    capture: WorkingCopy,
    reference: WorkingCopy,
    *,
    duration: float,
    polarity: int,
    progress: Progress,
    hearing: Hearing,
    frame: Frame,
    reach: tuple[float, float],
) -> _Subtracted:
    differ = Differ(line, capture, reference, duration=duration, polarity=polarity)
    meter, ear = NoiseMeter(), Ear(duration=duration)
    ticks: list[HeardTick] = []
    raised = []
    for section in differ.sections():
        found, share = find_ticks(section)
        ticks += found
        raised.append(share)
        meter.push(section)
        ear.push(section, found)
        progress("listening for ticks", 0.6 + 0.4 * min(1.0, float(section.programme[-1]) / duration))
    if not meter.times:
        return _without_difference("too little of the programme lies between the jumps")
    level = 20.0 * float(np.log10(max(meter.programme_level(), 1e-9)))
    zero = meter.programme_level() ** 2
    more = ear.finish(joined(ticks), level=level, turn_period=frame.turn_period, reach=reach, hearing=hearing)
    return _Subtracted(
        ticks=tuple(replace(t, peak=t.peak - level) for t in more.ticks),
        more=more,
        scalars=[*meter.finish(), *more.scalars],
        level=level,
        raised=float(np.average(raised, weights=meter.weights)),
        times=meter.times,
        levels=list(10.0 * np.log10(np.array(meter.level) / zero + 1e-12)),
        noises=list(10.0 * np.log10(np.array(meter.surface) / zero + 1e-12)),
        thresholds=raised,
    )


def _traces(line: Line, subtracted: _Subtracted, reach: tuple[float, float], duration: float) -> HeardTraces:
    """Curves at one point a second of programme time."""
    time = np.arange(0.0, duration, 1.0)
    heard = (time >= reach[0]) & (time <= reach[1])
    low, high = np.full(len(time), np.nan), np.full(len(time), np.nan)
    for piece in line.pieces:
        speed = np.gradient(piece.programme, piece.step) - 1.0
        index = np.floor(piece.programme).astype(int)
        for i in np.unique(index[(index >= 0) & (index < len(time))]):
            near = np.abs(piece.programme - i - 0.5) < 1.0
            low[i], high[i] = np.quantile(speed[near], (0.02, 0.98))
    order = np.argsort(subtracted.times)

    def curve(values: list[float]) -> tuple[float, ...]:
        if not values:
            return tuple(np.full(len(time), np.nan).tolist())
        dense = np.interp(time, np.array(subtracted.times)[order], np.array(values)[order])
        return tuple(np.where(heard, dense, np.nan).tolist())

    return HeardTraces(
        time=tuple(time.tolist()),
        level=curve(subtracted.levels),
        noise=curve(subtracted.noises),
        speed_low=tuple(np.where(heard, low, np.nan).tolist()),
        speed_high=tuple(np.where(heard, high, np.nan).tolist()),
        tick_threshold=tuple(np.where(heard, 12.0, np.nan).tolist()),
    )
