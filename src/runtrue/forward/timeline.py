"""The exact time line: which programme time is under the stylus at each capture time.

Platter angle from the speed faults, groove angle from the geometry, jumps as whole turns, cuts as missing programme.
The map is solved on a coarse grid and carried between by cubic splines, one per stretch between jumps; the grid is so
fine that the spline errs by less than 1 ns (a test holds it).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import pi

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline

from runtrue.errors import InputError
from runtrue.forward.faults import Cut, Disc, Play, Player, RandomWow
from runtrue.forward.geometry import Rise, Spiral, groove_angle, type_f

TWO_PI = 2.0 * pi
GRID = 250.0
"""Slowest grid [Hz]: a 1.3 Hz swing of 1 ms between its knots errs by some picoseconds."""
MARGIN = 12
"""Knots beyond both ends of a stretch, where a spline's free ends have died away."""
WOW_STREAM = 11
"""Every random part of a render draws from its own stream of the seed."""


def generator(seed: int, *stream: int) -> np.random.Generator:
    """Random numbers of one named stream of the seed, independent of all other streams."""
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed, *stream])))


def random_wow(wow: RandomWow, duration: float, rng: np.random.Generator) -> CubicSpline:
    """Time gained [s] by a random speed deviation with the stated density, as a spline over 0 to ``duration`` [s]."""
    step = 1.0 / (16.0 * wow.upper)
    n = int(2 ** np.ceil(np.log2((1.05 * duration + 4.0 + 1.0 / wow.lower) / step)))
    f = np.fft.rfftfreq(n, step)
    density = np.zeros_like(f)
    band = (f >= wow.lower) & (f <= wow.upper)
    density[band] = wow.density * f[band] ** wow.slope
    # A line of one-sided power density S over df has variance S df; its complex coefficient is n/2 times its amplitude.
    coefficients = (rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size)) * density
    coefficients *= np.sqrt(f[1]) * n / 2.0
    coefficients[band] /= 1j * TWO_PI * f[band]
    keep = int((duration + 4.0) / step) + 2
    gained = np.fft.irfft(coefficients, n)[:keep]
    return CubicSpline(np.arange(keep) * step - 2.0, gained)


@dataclass(frozen=True, slots=True)
class Programme:
    """Reference time against groove time: the same but for pieces of the reference that are not on the disc."""

    duration: float
    cuts: tuple[Cut, ...] = ()

    def __post_init__(self) -> None:
        if any(b.start < a.end for a, b in zip(self.cuts, self.cuts[1:], strict=False)):
            raise InputError("cuts must follow one another without overlap")
        if self.cuts and self.cuts[-1].end > self.duration:
            raise InputError(f"a cut ends at {self.cuts[-1].end:g} s, after the reference ({self.duration:g} s)")

    @property
    def groove_duration(self) -> float:
        """Seconds of groove with programme."""
        return self.duration - sum(c.end - c.start for c in self.cuts)

    def reference(self, u: npt.ArrayLike) -> type_f:
        """Position in the reference [s] of groove time ``u`` [s]."""
        t = np.array(u, dtype=np.float64)
        for c in self.cuts:
            t = np.where(t >= c.start, t + (c.end - c.start), t)
        return t

    def groove(self, t: npt.ArrayLike) -> type_f:
        """Groove time [s] of a position in the reference; NaN where it is not on the disc."""
        t = np.asarray(t, dtype=np.float64)
        u = t.copy()
        for c in self.cuts:
            u = np.where(t >= c.end, u - (c.end - c.start), u)
            u = np.where((t >= c.start) & (t < c.end), np.nan, u)
        return u


def spiral_of(disc: Disc, programme: Programme) -> Spiral:
    """Groove radius over groove time from end radius, landmarks or pitch."""
    if disc.landmarks:
        times = tuple(float(programme.groove(t)) for t, _ in disc.landmarks)
        return Spiral(times=times, radii=tuple(r for _, r in disc.landmarks))
    length = max(programme.groove_duration, 1e-3)
    end = disc.end_radius
    if end is None:
        end = disc.start_radius - disc.pitch * disc.groove_frequency * length
    return Spiral(times=(0.0, length), radii=(disc.start_radius, end))


def swung(even: type_f, swing: npt.ArrayLike, direction: npt.ArrayLike) -> type_f:
    """Platter angle [rad] when a swing locked to the platter's own angle is laid over an ``even`` turning.

    It obeys angle = even + swing sin(direction - angle), as an offset of swing times radius would; Newton.
    """
    amount, toward = np.asarray(swing, dtype=np.float64), np.asarray(direction, dtype=np.float64)
    turned = even + amount * np.sin(toward - even)
    for _ in range(4):
        lag = toward - turned
        turned = turned - (turned - even - amount * np.sin(lag)) / (1.0 + amount * np.cos(lag))
    return np.asarray(turned, dtype=np.float64)


class Platter:
    """Angle the platter has turned [rad] at a time after needle-down [s]."""

    def __init__(self, play: Play, start_angle: float, duration: float, seed: int) -> None:
        self._player: Player = play.player
        self._frequency = play.disc.turn_frequency
        self._start = start_angle
        self._swing_direction = play.player.swing_direction - play.placing.turned
        wow = play.player.wow
        self._wow: Callable[[type_f], type_f] | None = None
        if wow is not None and wow.density > 0.0:
            gained = random_wow(wow, duration, generator(seed, WOW_STREAM))
            self._wow = partial(gained)

    def even(self, since: npt.ArrayLike) -> type_f:
        """Angle [rad] without swing and random wow, in the sense of the groove angle, same shape as ``since`` [s]."""
        p = self._player
        x = np.asarray(since, dtype=np.float64)
        run = (1.0 + p.speed) * x + 0.5 * p.drift * x**2
        if p.slow_start is not None:
            tau = p.slow_start.time_constant
            run = run + p.slow_start.deficit * tau * np.expm1(-np.maximum(x, -tau) / tau)
        for line in p.flutter:
            w = TWO_PI * line.frequency
            run = run + line.amount / w * (np.cos(line.phase) - np.cos(w * x + line.phase))
        return np.asarray(self._start + TWO_PI * self._frequency * run, dtype=np.float64)

    def angle(self, since: npt.ArrayLike) -> type_f:
        """Angle [rad], in the sense of the groove angle, same shape as ``since`` [s]."""
        even = self.even(since)
        if self._wow is not None:
            even = even + TWO_PI * self._frequency * self._wow(np.asarray(since, dtype=np.float64))
        swing = self._player.swing
        return even if swing == 0.0 else swung(even, swing, self._swing_direction)

    def fastest(self) -> float:
        """Highest frequency [Hz] in the speed."""
        p = self._player
        lines = [line.frequency for line in p.flutter]
        return max([0.0, *lines, p.wow.upper if p.wow is not None else 0.0])


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the time line between jumps: capture times [start, end), groove time as a spline of capture time."""

    start: float
    end: float
    turns: int
    spline: CubicSpline
    first: float
    """Groove time at the start ..."""
    last: float
    """... and at the end."""


@dataclass(frozen=True, slots=True)
class JumpTruth:
    """A jump as it happened: last programme time before it, capture time, whole turns, first programme time after."""

    programme_time: float
    capture_time: float
    turns: int
    lands_at: float


@dataclass(frozen=True, slots=True)
class TimeMap:
    """The exact map from capture time to programme time and back."""

    stretches: tuple[Stretch, ...]
    programme: Programme
    needle_down: float
    """Capture time [s] at which the stylus is in the groove."""
    end: float
    """Capture time [s] of the end."""
    frequency: float
    """Turns per programme second of the groove, f [Hz]."""
    spiral: Spiral
    jumps: tuple[JumpTruth, ...]

    def groove_time(self, capture_time: npt.ArrayLike) -> type_f:
        """Groove time u [s] under the stylus at capture times [s]; continued before needle-down and after the end."""
        tc = np.asarray(capture_time, dtype=np.float64)
        if len(self.stretches) == 1:
            return np.asarray(self.stretches[0].spline(tc), dtype=np.float64)
        which = np.searchsorted([s.start for s in self.stretches[1:]], tc, side="right")
        u = np.empty_like(tc)
        for k in np.unique(which):
            at = which == k
            u[at] = self.stretches[k].spline(tc[at])
        return u

    def programme_time(self, capture_time: npt.ArrayLike) -> type_f:
        """Programme time t [s], position in the reference, at capture times [s]."""
        return self.programme.reference(self.groove_time(capture_time))

    def angle(self, capture_time: npt.ArrayLike) -> type_f:
        """Angle of the groove point under the stylus, 0 to 2 pi [rad]."""
        return np.mod(TWO_PI * self.frequency * self.groove_time(capture_time), TWO_PI)

    def mean_speed(self) -> float:
        """Programme time gained per capture time, less 1, over the programme played; jumps left out."""
        gained = passed = 0.0
        for s in self.stretches:
            first, last = max(s.first, 0.0), min(s.last, self.programme.groove_duration)
            if last > first:
                ends = invert(s.spline, np.array([first, last]), s.start, s.end)
                gained, passed = gained + last - first, passed + float(ends[1] - ends[0])
        return gained / passed - 1.0 if passed > 0.0 else 0.0

    def captures(self, programme_time: npt.ArrayLike) -> tuple[type_f, npt.NDArray[np.intp]]:
        """Every capture time [s] at which a programme time passes the stylus, with the index of that programme time.

        None for a time that is jumped over, cut out or never reached; two for one inside a repeated turn.
        """
        u = np.atleast_1d(self.programme.groove(programme_time))
        times, indices = [], []
        for s in self.stretches:
            inside = np.flatnonzero((u >= s.first) & (u < s.last))
            if inside.size == 0:
                continue
            times.append(invert(s.spline, u[inside], s.start, s.end))
            indices.append(inside)
        if not times:
            return np.empty(0), np.empty(0, dtype=np.intp)
        found, which = np.concatenate(times), np.concatenate(indices)
        order = np.argsort(found, kind="stable")
        return found[order], which[order]


def invert(spline: CubicSpline, value: type_f, lower: float, upper: float) -> type_f:
    """Argument at which a rising spline takes each value, to rounding."""
    knots = spline.x
    inside = (knots >= lower - 1.0) & (knots <= upper + 1.0)
    x = np.interp(value, spline(knots[inside]), knots[inside])
    for _ in range(4):
        x = x - (spline(x) - value) / spline(x, 1)
    return np.asarray(x, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Solver:
    """Solves groove time on a grid of capture times for a given number of turns jumped."""

    play: Play
    platter: Platter
    spiral: Spiral
    needle_down: float
    step: float
    speed: float
    """Programme seconds per capture second, roughly."""
    lost: float
    """Seconds that a slow start may lose."""

    def until(self, now: float, at: float, target: float, turns: int) -> tuple[CubicSpline, float]:
        """Spline from capture time ``now`` (groove time ``at``) on, and the capture time that reaches ``target``."""
        length = max(target - at, 0.0) / self.speed * 1.02 + 2.0 * self.lost + 1.0
        for _ in range(6):
            spline = self.stretch(now, length, turns)
            if float(spline(now + length)) > target:
                break
            length *= 1.5
        else:
            raise InputError("the speed faults let the platter stand still: make the drift or the slow start smaller")
        reached = float(invert(spline, np.array([target]), now, now + length)[0])
        return spline, max(reached, now)

    def stretch(self, start: float, length: float, turns: int) -> CubicSpline:
        """Groove time over capture time from ``start`` for ``length`` [s], with free knots beyond."""
        first = int(np.floor((start - self.needle_down) / self.step)) - MARGIN
        last = int(np.ceil((start + length - self.needle_down) / self.step)) + MARGIN
        since = np.arange(first, last + 1) * self.step
        disc = self.play.disc
        theta = groove_angle(
            platter=self.platter.angle(since),
            spiral=self.spiral,
            turn_frequency=disc.groove_frequency,
            arm=self.play.player.arm,
            axis=self.play.played_axis,
            rises=rises_of(self.play),
            turns=turns,
        )
        return CubicSpline(since + self.needle_down, theta / (TWO_PI * disc.groove_frequency))


def rises_of(play: Play) -> tuple[Rise, ...]:
    """The disc's warps as the player's arm meets them."""
    return tuple(
        Rise(height=w.height, high=w.high, order=w.order, tilt_radius=w.tilt_radius, elevation=play.player.elevation)
        for w in play.disc.warps
    )


def start_angle(play: Play, spiral: Spiral, groove_time: float) -> float:
    """Platter angle [rad] at which the mean groove point of ``groove_time`` is under the stylus."""
    f = play.disc.groove_frequency
    wanted = TWO_PI * f * groove_time
    phi = wanted
    for _ in range(4):
        theta = groove_angle(platter=phi, spiral=spiral, turn_frequency=f, arm=play.player.arm)
        phi += wanted - float(theta)
    return phi


def time_map(play: Play, duration: float, seed: int = 0, grid: float | None = None) -> TimeMap:
    """Solve the time line of a play over a reference of ``duration`` [s].

    ``grid``: knots a second; left out, it is taken from the fastest part of the speed.
    """
    disc, player, recorder = play.disc, play.player, play.recorder
    programme = Programme(duration, disc.cuts)
    spiral = spiral_of(disc, programme)
    if recorder.late_needle > 0.0:
        begin = _on_disc(programme, recorder.late_needle, "recorder.late_needle")
    else:
        begin = -recorder.lead_in
    finish = programme.groove_duration + recorder.lead_out
    if recorder.stop_at is not None:
        finish = min(finish, _on_disc(programme, recorder.stop_at, "recorder.stop_at"))
    if finish <= begin:
        raise InputError(f"the capture would end ({finish:g} s) before it begins ({begin:g} s): move stop or needle")

    slow = (1.0 + player.speed) / (1.0 + disc.lathe_error)
    lost = 0.0
    if player.slow_start is not None:
        lost = max(player.slow_start.deficit, 0.0) * player.slow_start.time_constant
    turned_back = sum(max(-j.turns, 0) for j in player.jumps) / disc.groove_frequency
    longest = (finish - begin + turned_back) / slow * 1.3 + lost + 4.0
    platter = Platter(play, start_angle(play, spiral, begin), longest, seed)
    step = 1.0 / (grid if grid is not None else max(GRID, 24.0 * platter.fastest()))
    solver = _Solver(play, platter, spiral, recorder.silence, step, slow, lost)

    stretches: list[Stretch] = []
    jumps: list[JumpTruth] = []
    now, turns, at = recorder.silence, 0, begin
    pending = list(player.jumps)
    while True:
        jump = pending.pop(0) if pending else None
        target = finish if jump is None else _on_disc(programme, jump.programme_time, "jump.programme_time")
        if jump is not None and not at < target < finish:
            raise InputError(
                f"the jump at programme time {jump.programme_time:g} s is never reached: the stylus is then at "
                f"{at:g} s and the capture ends at {finish:g} s; give jumps in the order they happen"
            )
        spline, reached = solver.until(now, at, target, turns)
        stretches.append(Stretch(now, reached, turns, spline, float(spline(now)), float(spline(reached))))
        now = reached
        if jump is None:
            break
        turns += jump.turns
        at = target + jump.turns / disc.groove_frequency
        after = solver.stretch(now, step, turns)
        jumps.append(JumpTruth(jump.programme_time, now, jump.turns, float(programme.reference(float(after(now))))))
        if at >= finish:
            break
    return TimeMap(
        stretches=tuple(stretches),
        programme=programme,
        needle_down=recorder.silence,
        end=now,
        frequency=disc.groove_frequency,
        spiral=spiral,
        jumps=tuple(jumps),
    )


def _on_disc(programme: Programme, t: float, name: str) -> float:
    u = float(programme.groove(t))
    if np.isnan(u):
        raise InputError(f"{name} {t:g} s is in a piece that is cut out of the reference: choose a time on the disc")
    return u
