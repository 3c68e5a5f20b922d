"""Reference and faults in, capture and exact truth out.

>>> from runtrue.forward import Disc, PivotedArm, Play, Player
>>> play = Play(disc=Disc(turn_frequency=100 / 180, start_radius=0.146, end_radius=0.143, offset=1e-4, direction=2.0),
...             player=Player(arm=PivotedArm.from_overhang(0.23, 0.0165)))
>>> made = render(reference, 48000, play, seed=1)                                               # doctest: +SKIP
>>> made.capture, made.noise, made.truth.line.programme_time(10.0), made.truth.ticks            # doctest: +SKIP

What the parts mean. ``programme``: the reference as this rig plays it. ``background``: surface, rumble, hum.
``events``: zones, tearing, spit, thumps. ``ticks``: ticks, trains, crackle, clicks. The capture is their sum, then
dropouts, clipping and rounding. Levels in the faults are meant before the player's gain, balance and channels.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from runtrue.errors import InputError
from runtrue.forward.events import bursts_on_disc, ticks_block, ticks_heard
from runtrue.forward.faults import Play
from runtrue.forward.geometry import type_f
from runtrue.forward.groove import ArraySource, FileSource, Groove, Source, mean_power_db, type_s
from runtrue.forward.pulses import thump_waveform
from runtrue.forward.surface import (
    DITHER,
    SPIT,
    SURFACE,
    TEARING,
    ZONE,
    Noise,
    RumbleNoise,
    arc_gate,
    hum_block,
    on_axis,
    time_gate,
)
from runtrue.forward.surface import TILE as NOISE_TILE
from runtrue.forward.timeline import generator, time_map
from runtrue.forward.truth import Truth

BLOCK = 1 << 16
EDGE = 1e-3
"""Seconds in which a burst comes and goes."""
PARTS = ("programme", "background", "events", "ticks")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """A capture in memory; arrays are (frames, 2) float32. The parts are None when they were not asked for."""

    capture: type_s
    rate: int
    truth: Truth
    programme: type_s | None = None
    background: type_s | None = None
    events: type_s | None = None
    ticks: type_s | None = None

    @property
    def noise(self) -> type_s:
        """Everything in the capture that is neither programme nor tick, before dropouts, clipping and rounding."""
        if self.background is None or self.events is None:
            raise InputError("this render kept no parts: call render(..., parts=True)")
        return self.background + self.events


class _Desk:
    """One play made ready; gives any block of its capture, part by part."""

    def __init__(self, source: Source, play: Play, seed: int, rate: int) -> None:
        self.play, self.seed, self.rate = play, seed, rate
        self.line = time_map(play, source.frames / source.rate, seed)
        self.frames = int(np.floor(self.line.end * rate))
        if self.frames < 1:
            raise InputError("the capture would be empty: move the end or the needle")
        self.groove = Groove(source, play, self.line, rate)
        self.programme_db = mean_power_db(source)
        self.ticks, self.trains = ticks_heard(play, self.line, seed)
        self._tick_times = np.array([t.capture_time for t in self.ticks])
        self.bursts = bursts_on_disc(play.disc, self.line)
        surface = play.disc.surface
        self.surface_db: float | None = None
        self._surface: Noise | None = None
        if surface is not None:
            self.surface_db = surface.level_db + (self.programme_db if surface.re == "programme" else 0.0)
            self._surface = Noise(surface.shape, rate, seed, (SURFACE,))
        self._bursts: dict[tuple[int, ...], Noise] = {}
        rumble = play.player.rumble
        self._rumble = RumbleNoise(rumble, self.line.end, seed) if rumble is not None else None
        thumps = list(play.disc.thumps)
        times, which = self.line.captures([t.programme_time for t in thumps]) if thumps else ((), ())
        self._thumps = [(float(tc), thumps[int(i)]) for tc, i in zip(times, which, strict=True)]

    def truth(self) -> Truth:
        line = self.line
        first, last = line.stretches[0].first, max(s.last for s in line.stretches)
        length = line.programme.groove_duration
        zero, _ = line.captures(0.0)
        reach = line.programme.reference(np.clip([first, last], 0.0, np.nextafter(length, 0.0)))
        return Truth(
            play=self.play,
            seed=self.seed,
            rate=self.rate,
            frames=self.frames,
            line=line,
            reach=(float(reach[0]), float(reach[1])),
            start=float(zero[0]) if zero.size else None,
            speed=line.mean_speed(),
            turn_period=1.0 / line.frequency,
            played_axis=self.play.played_axis,
            programme_db=self.programme_db,
            surface_db=self.surface_db,
            ticks=self.ticks,
            trains=self.trains,
            bursts=self.bursts,
            jumps=line.jumps,
        )

    def _noise(self, *stream: int) -> Noise:
        if stream not in self._bursts:
            self._bursts[stream] = Noise("burst", self.rate, self.seed, stream, channels=1)
        return self._bursts[stream]

    def _background(self, n: slice, angle: type_f) -> type_s:
        sound = np.zeros((2, angle.size), dtype=np.float32)
        surface = self.play.disc.surface
        if self._surface is not None and surface is not None and self.surface_db is not None:
            level: Any = 10.0 ** (self.surface_db / 20.0)
            if surface.swish_db:
                level = level * 10.0 ** (surface.swish_db / 40.0 * np.cos(angle - surface.swish_direction))
            sound += self._surface.block(n.start, n.stop) * np.float32(level)
        if self._rumble is not None:
            sound += self._rumble.block(np.arange(n.start, n.stop) / self.rate)
        return sound

    def _events(self, n: slice, t: type_f, angle: type_f) -> type_s:
        sound = np.zeros((2, t.size), dtype=np.float32)
        disc, edge = self.play.disc, 2.0 * pi * self.line.frequency * EDGE

        def add(stream: tuple[int, ...], axis: Any, amount: npt.NDArray[Any]) -> None:
            wave = self._noise(*stream).block(n.start, n.stop)[0] * amount.astype(np.float32)
            sound[:] += on_axis(axis)[:, None] * wave

        for i, zone in enumerate(disc.zones):
            gate = time_gate(t, zone.start, zone.end, EDGE)
            if gate.any():
                gate *= arc_gate(angle, zone.from_angle, zone.to_angle, edge)
            if gate.any():
                add((ZONE, i), zone.axis, gate * 10.0 ** (zone.level_db / 20.0))
        mistracking = self.play.player.mistracking
        drive = self.groove.drive(t) if disc.tearing or mistracking is not None else None
        for i, tear in enumerate(disc.tearing):
            gate = time_gate(t, tear.start, tear.end, 20.0 * EDGE)
            if drive is not None and gate.any():
                gate *= arc_gate(angle, tear.from_angle, tear.to_angle, 20.0 * edge)
                add((TEARING, i), tear.axis, gate * drive[0] * 10.0 ** (tear.relative_db / 20.0))
        if mistracking is not None and drive is not None:
            over = np.maximum(drive[1] - 10.0 ** (mistracking.threshold_db / 20.0), 0.0)
            if over.any():
                add((SPIT,), mistracking.axis, over * 10.0 ** (mistracking.relative_db / 20.0))
        if self._thumps:
            tc = np.arange(n.start, n.stop) / self.rate
            for at, thump in self._thumps:
                if tc[0] - 3.0 * thump.width < at < tc[-1] + 3.0 * thump.width:
                    wave = thump_waveform(thump.width, tc - at) * 10.0 ** (thump.peak_db / 20.0)
                    sound += on_axis(thump.axis)[:, None] * wave.astype(np.float32)
        return sound

    def _route(self, sound: type_s) -> type_s:
        """Gain, balance, channels and polarity of the player, on (2, n)."""
        player = self.play.player
        gain = player.polarity * 10.0 ** (player.gain_db / 20.0)
        tilt = 10.0 ** (player.balance_db / 40.0)
        left, right = sound[0] * np.float32(gain * tilt), sound[1] * np.float32(gain / tilt)
        match player.channels:
            case "swapped":
                left, right = right, left
            case "mono":
                left = right = np.float32(0.5) * (left + right)
            case "left_only":
                right = np.zeros_like(right)
            case "right_only":
                left = np.zeros_like(left)
            case _:
                pass
        return np.stack([left, right])

    def block(self, start: int, stop: int) -> dict[str, type_s]:
        """The four parts of samples [start, stop), each (2, n), as they stand in the capture."""
        tc = np.arange(start, stop) / self.rate
        n = slice(start, stop)
        u = self.line.groove_time(tc)
        t = self.line.programme.reference(u)
        angle = np.mod(2.0 * pi * self.line.frequency * u, 2.0 * pi)
        crosstalk = self.play.player.crosstalk
        ticks = ticks_block(self.ticks, self._tick_times, tc, float(self.rate))
        if crosstalk is not None:
            # Only the programme leaks with a slope; for a tick the leakage at 1 kHz is near enough.
            lr, rl = (10.0 ** (d / 20.0) for d in (crosstalk.left_into_right_db, crosstalk.right_into_left_db))
            ticks = np.stack([ticks[0] + np.float32(rl) * ticks[1], ticks[1] + np.float32(lr) * ticks[0]])
        parts = {
            "programme": self.groove.sound(t),
            "background": self._background(n, angle),
            "events": self._events(n, t, angle),
            "ticks": ticks,
        }
        down = int(np.ceil(self.line.needle_down * self.rate))
        for name, sound in parts.items():
            sound[:, : max(min(down - start, sound.shape[1]), 0)] = 0.0
            parts[name] = self._route(sound)
        if self.play.player.hum is not None:
            parts["background"] = parts["background"] + hum_block(self.play.player.hum, tc, self.seed)
        return parts

    def finish(self, start: int, sound: type_s) -> type_s:
        """What the recorder does to the sum: dropouts, clipping, rounding."""
        recorder = self.play.recorder
        n = sound.shape[1]
        for d in recorder.dropouts:
            a, b = (int(np.clip(round(x * self.rate) - start, 0, n)) for x in (d.start, d.end))
            sound[:, a:b] *= 0.0 if d.level_db is None else np.float32(10.0 ** (d.level_db / 20.0))
        if recorder.bits is not None and recorder.bits < 25:
            step = 2.0 ** (1 - recorder.bits)
            sound = np.round(sound / step + self._dither(start, n)).astype(np.float32) * np.float32(step)
            for d in recorder.dropouts:
                if d.level_db is None:
                    a, b = (int(np.clip(round(x * self.rate) - start, 0, n)) for x in (d.start, d.end))
                    sound[:, a:b] = 0.0
        if recorder.clip_db is not None:
            top = 10.0 ** (recorder.clip_db / 20.0)
            sound = np.clip(sound, -top, top).astype(np.float32)
        return sound

    def _dither(self, start: int, count: int) -> type_s:
        """Triangular dither of one step, the same whatever the block."""
        parts = []
        for k in range(start // NOISE_TILE, (start + count - 1) // NOISE_TILE + 1):
            draw = generator(self.seed, DITHER, k).random((2, 2, NOISE_TILE), dtype=np.float32)
            tile = draw[0] - draw[1]
            parts.append(tile[:, max(start - k * NOISE_TILE, 0) : start + count - k * NOISE_TILE])
        return np.concatenate(parts, axis=1)

    def blocks(self, size: int) -> Iterator[tuple[int, type_s, dict[str, type_s]]]:
        """First sample, finished capture and parts, block by block."""
        for start in range(0, self.frames, size):
            parts = self.block(start, min(start + size, self.frames))
            total = parts["programme"] + parts["background"] + parts["events"] + parts["ticks"]
            yield start, self.finish(start, total), parts


def render(
    reference: npt.NDArray[Any],
    rate: int,
    play: Play,
    seed: int = 0,
    *,
    capture_rate: int | None = None,
    parts: bool = True,
    block: int = BLOCK,
) -> Rendered:
    """Play a reference with its faults and capture it.

    Parameters
    ----------
    reference : array of float, (frames,) or (frames, 1 or 2)
        The side, full scale 1.0
    rate : int
        Its samples a second
    play : Play
        Disc, player, placing and recorder with their faults
    seed : int
        Start of every random part; same seed, same capture
    capture_rate : int, optional
        Samples a second of the capture; ``rate`` if not given
    parts : bool
        Keep programme, background, events and ticks apart as well
    block : int
        Samples made at a time; changes nothing but memory
    """
    desk = _Desk(ArraySource(reference, rate), play, seed, rate if capture_rate is None else capture_rate)
    capture = np.empty((desk.frames, 2), dtype=np.float32)
    kept = {name: np.empty((desk.frames, 2), dtype=np.float32) for name in PARTS} if parts else {}
    for start, sound, made in desk.blocks(block):
        stop = start + sound.shape[1]
        capture[start:stop] = sound.T
        for name, array in kept.items():
            array[start:stop] = made[name].T
    return Rendered(capture=capture, rate=desk.rate, truth=desk.truth(), **kept)


def render_to_file(
    reference: str | Path,
    out: str | Path,
    play: Play,
    seed: int = 0,
    *,
    capture_rate: int | None = None,
    subtype: str = "PCM_24",
    mono: bool = False,
    block: int = BLOCK,
) -> Truth:
    """As :func:`render`, from a file to a WAV or FLAC file (by its suffix) within bounded memory; returns the truth.

    ``mono`` writes one channel, the mean of left and right.
    """
    source = FileSource(reference)
    try:
        desk = _Desk(source, play, seed, source.rate if capture_rate is None else capture_rate)
        with soundfile.SoundFile(
            str(out), "w", samplerate=desk.rate, channels=1 if mono else 2, subtype=subtype
        ) as file:
            for _, sound, _ in desk.blocks(block):
                file.write(sound.mean(axis=0) if mono else sound.T)
        return desk.truth()
    finally:
        source.close()
