"""Delay tracks without sound: what a listener would measure, from the same exact geometry, thousands for statistics."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from runtrue.errors import InputError
from runtrue.forward.faults import Play
from runtrue.forward.geometry import TWO_PI, groove_angle, type_c, type_f
from runtrue.forward.surface import WOW_TRACK
from runtrue.forward.timeline import (
    Platter,
    Programme,
    generator,
    random_wow,
    rises_of,
    spiral_of,
    start_angle,
    swung,
    time_map,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One delay track: n points, all in seconds. ``delay`` = programme time - capture time, as measured."""

    capture_time: type_f
    delay: type_f
    sigma: type_f
    """Standard deviation of the measuring error of each point."""
    programme_time: type_f
    """Exact, without measuring error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracks:
    """k delay tracks over the same n capture times; 2-D arrays are (k, n)."""

    capture_time: type_f
    delay: type_f
    sigma: type_f
    programme_time: type_f
    axis: type_c
    """True vector of each track from groove centre to the axis turned about [m], (k,)."""
    swing: type_c
    """The player's swing of each track: amount times exp(i direction) in the disc's frame, (k,)."""


def _errors(shape: tuple[int, ...], correlation: float, rng: np.random.Generator) -> type_f:
    """Gaussian errors of variance 1 along the last axis, each correlated with the one before."""
    if not 0.0 <= correlation < 1.0:
        raise InputError(f"the correlation of neighbouring errors must be from 0 to below 1, got {correlation:g}")
    errors = rng.standard_normal(shape)
    if correlation > 0.0:
        fresh = np.sqrt(1.0 - correlation**2)
        for i in range(1, shape[-1]):
            errors[..., i] = correlation * errors[..., i - 1] + fresh * errors[..., i]
    return errors


def delay_track(
    play: Play,
    duration: float,
    *,
    step: float = 0.1,
    sigma: float = 20e-6,
    correlation: float = 0.0,
    seed: int = 0,
) -> Track:
    """One track every ``step`` [s] of capture time, with every fault of the time line (also jumps and cuts).

    ``duration``: of the reference [s]; only points within it are given. ``correlation``: of neighbouring errors.
    """
    line = time_map(play, duration, seed)
    tc = np.arange(np.ceil(line.needle_down / step), np.floor(line.end / step) + 1) * step
    t = line.programme_time(tc)
    inside = (t >= 0.0) & (t <= duration)
    tc, t = tc[inside], t[inside]
    errors = _errors(t.shape, correlation, generator(seed, WOW_TRACK, 1)) * sigma
    return Track(capture_time=tc, delay=t - tc + errors, sigma=np.full(t.shape, sigma), programme_time=t)


def delay_tracks(
    play: Play,
    duration: float,
    count: int,
    *,
    axis: npt.ArrayLike | None = None,
    swing: npt.ArrayLike | None = None,
    step: float = 0.1,
    sigma: npt.ArrayLike = 20e-6,
    correlation: float = 0.0,
    seed: int = 0,
) -> Tracks:
    """Many tracks at once; each with its own errors and random wow, and if given its own offset and player's swing.

    Parameters
    ----------
    play, duration
        As for :func:`delay_track`; jumps and cuts are not allowed here
    count : int
        Tracks k
    axis : array of complex, (k,), optional
        From groove centre to the axis turned about [m]; ``play.played_axis`` for all if not given
    swing : array of complex, (k,), optional
        amount exp(i direction), disc's frame; the player's swing for all if not given
    sigma : array, broadcast to (k, n)
        Standard deviation of the measuring errors [s]
    """
    disc, player = play.disc, play.player
    if player.jumps or disc.cuts:
        raise InputError("delay_tracks cannot hold jumps or cuts: use delay_track, one by one")
    programme = Programme(duration)
    spiral = spiral_of(disc, programme)
    begin = play.recorder.late_needle if play.recorder.late_needle > 0.0 else -play.recorder.lead_in
    length = (duration - begin) * (1.0 + disc.lathe_error) / (1.0 + player.speed)
    since = np.arange(0.0, length, step)
    axes = np.broadcast_to(np.asarray(play.played_axis if axis is None else axis, dtype=np.complex128), (count,))
    own = player.swing * np.exp(1j * (player.swing_direction - play.placing.turned))
    swings = np.broadcast_to(np.asarray(own if swing is None else swing, dtype=np.complex128), (count,))

    # The common turning without swing and random wow, then what each track adds to it.
    even = Platter(play, start_angle(play, spiral, begin), length, seed).even(since)
    platter = np.broadcast_to(even, (count, since.size))
    if player.wow is not None and player.wow.density > 0.0:
        gained = [random_wow(player.wow, length, generator(seed, WOW_TRACK, 2, k))(since) for k in range(count)]
        platter = platter + TWO_PI * disc.turn_frequency * np.asarray(gained)
    if np.any(swings != 0.0):
        platter = swung(platter, np.abs(swings)[:, None], np.angle(swings)[:, None])
    theta = groove_angle(
        platter=platter,
        spiral=spiral,
        turn_frequency=disc.groove_frequency,
        arm=player.arm,
        axis=axes[:, None],
        rises=rises_of(play),
        iterations=4,
    )
    t = theta / (TWO_PI * disc.groove_frequency)
    tc = since + play.recorder.silence
    inside = ((t >= 0.0) & (t <= duration)).all(axis=0)
    tc, t = tc[inside], t[:, inside]
    spread = np.broadcast_to(np.asarray(sigma, dtype=np.float64), t.shape)
    errors = _errors(t.shape, correlation, generator(seed, WOW_TRACK, 3)) * spread
    return Tracks(capture_time=tc, delay=t - tc + errors, sigma=spread, programme_time=t, axis=axes, swing=swings)
