"""What is wrong with a recording as a recording, before anybody asks what is on the disc.

Push blocks, ``finish`` returns an ``Audit``. Memory stays below a few seconds of sound; the answer does not depend on
how the sound is cut into blocks. Levels are dB re full scale: peak for peaks, rms for levels, so that a sine of full
scale has a level of -3 dB.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from math import inf, log10

import numpy as np
import numpy.typing as npt
from scipy import fft

from runtrue.capture.sound import Block

_SILENCE = 0.1
_CONTEXT = 0.005
_PLACES = 20
_NEAR_FULL_SCALE = 0.95
_CLIP_RUN = 3
_HELD_RUN = 8
_QUANTUM = 2.0**-15
_FLOOR = 1e-15
_HUM_FAMILIES = {50: (50, 100, 150, 200, 250), 60: (60, 120, 180, 240)}
_HUM_PROMINENCE = 12.0
_HUM_APART = 45.0
_DEAD_BELOW = -85.0
_DEAD_APART = 40.0
_TWINS_APART = 60.0
_DC_CAUTION = 0.003

Rows = npt.NDArray[np.float32]
"""Samples with one channel a row, shape (channels, n)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A piece of the recording: ``start`` and ``duration`` [s] and the channel, "L", "R" or "both"."""

    start: float
    duration: float
    channel: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How often something was met, for how long altogether [s], and the first places."""

    count: int
    total: float
    first: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum:
    """The stronger mains family: ``mains`` 50 or 60 [Hz], rms ``level`` of its harmonics [dB re full scale]."""

    mains: int
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """The state of a recording. Tuples by channel have the left one first."""

    peak: tuple[float, ...]
    """Largest absolute sample, full scale 1.0."""
    offset: tuple[float, ...]
    """Mean of the samples, full scale 1.0."""
    level: tuple[float, ...]
    """Level without the offset [dB re full scale, rms]; -inf for nothing."""
    clipped: Tally
    """Runs of equal samples close to full scale."""
    silences: Tally
    """Stretches of exact zeros in all channels, 0.1 s or longer."""
    dropouts: Tally
    """Samples that stand still for 8 samples to 0.1 s in the middle of sound."""
    hum: Hum | None
    """None when no mains family stands out in the quiet stretches."""
    twins: bool
    """True for two channels that are the same, or differ by less than a thousandth."""
    dead: tuple[str, ...]
    """Channels without sound."""
    duration: float
    cautions: tuple[str, ...]


@dataclass(slots=True)
class _Count:
    """A tally while it grows."""

    count: int = 0
    samples: int = 0
    first: list[Stretch] = field(default_factory=list)

    def add(self, start: int, length: int, channel: str, rate: float) -> None:
        self.count += 1
        self.samples += length
        if len(self.first) < _PLACES:
            self.first.append(Stretch(start=start / rate, duration=length / rate, channel=channel))

    def done(self, rate: float) -> Tally:
        return Tally(count=self.count, total=self.samples / rate, first=tuple(self.first))


class Auditor:
    """Listens to a recording as it passes.

    Sound is taken in frames of half a second. Runs of equal samples are looked for in each frame and a margin before
    it, and are decided as soon as 5 ms behind their end are there.
    """

    def __init__(self, *, rate: int, channels: int) -> None:
        self._rate, self._channels = rate, channels
        self._names = ("L", "R") if channels == 2 else ("both",)
        self._fold = max(1, round(rate / 4000))
        self._frame = self._fold * 2000
        self._context = int(_CONTEXT * rate)
        self._tail = np.zeros((channels, 0), np.float32)
        self._waiting: list[Block] = []
        self._held = 0
        self._seen = 0
        self._peak = np.zeros(channels)
        self._sum = np.zeros(channels)
        self._power = np.zeros(channels)
        self._apart = 0.0
        self._clipped, self._silences, self._dropouts = _Count(), _Count(), _Count()
        self._zeros_from: int | None = None
        self._hum = _HumTrack(channels=channels, rate=rate / self._fold)

    def push(self, block: Block) -> None:
        """Take the next samples, shape (n, channels)."""
        self._waiting.append(block)
        self._held += len(block)
        if self._held < self._frame:
            return
        samples = np.concatenate(self._waiting)
        whole = len(samples) // self._frame * self._frame
        for start in range(0, whole, self._frame):
            self._look(samples[start : start + self._frame], last=False)
        self._waiting, self._held = [samples[whole:]], len(samples) - whole

    def finish(self) -> Audit:
        """Return what was found; push nothing afterwards."""
        rest = np.concatenate(self._waiting) if self._waiting else np.zeros((0, self._channels), np.float32)
        self._waiting, self._held = [], 0
        self._look(rest, last=True)
        self._end_silence(self._seen)
        count = max(self._seen, 1)
        mean = self._sum / count
        power = np.maximum(self._power / count - mean**2, 0.0)
        level = tuple(10.0 * log10(p) if p > _FLOOR else -inf for p in power.tolist())
        apart = self._apart * 16 / count
        twins = self._channels == 2 and min(level) > -inf and apart < power.min() * 10.0 ** (-_TWINS_APART / 10.0)
        dead = tuple(
            name for name, own in zip(self._names, level, strict=True)
            if own < max(_DEAD_BELOW, max(level) - _DEAD_APART)
        )  # fmt: skip
        found = Audit(
            peak=tuple(np.abs(self._peak).tolist()),
            offset=tuple(mean.tolist()),
            level=level,
            clipped=self._clipped.done(self._rate),
            silences=self._silences.done(self._rate),
            dropouts=self._dropouts.done(self._rate),
            hum=self._hum.finish(),
            twins=bool(twins),
            dead=dead,
            duration=self._seen / self._rate,
            cautions=(),
        )
        return _with_cautions(found, self._names)

    def _look(self, frame: Block, *, last: bool) -> None:
        """Take one frame (or what is left at the end) into all counts."""
        before = self._tail.shape[1]
        window = np.empty((self._channels, before + len(frame)), np.float32)
        window[:, :before] = self._tail
        window[:, before:] = frame.T
        new = window[:, before:]
        if new.shape[1]:
            largest = np.maximum(new.max(axis=1), -new.min(axis=1))
            np.maximum(self._peak, largest, out=self._peak)
            self._sum += new.sum(axis=1, dtype=np.float32)
            self._power += [float(np.dot(row, row)) for row in new]
            if self._channels == 2:
                difference = new[0, ::16] - new[1, ::16]
                self._apart += float(np.dot(difference, difference))
            self._find_silence(new)
        if not last:
            self._hum.push(new.reshape(self._channels, -1, self._fold) @ np.full(self._fold, 1 / self._fold, "f4"))
        self._find_runs(window, before, last=last)
        self._seen += len(frame)
        keep = int(_SILENCE * self._rate) + 2 * self._context
        self._tail = window[:, -keep:].copy()

    def _find_runs(self, window: Rows, before: int, *, last: bool) -> None:
        """Count held samples and clipping whose place is decided in this window.

        Held samples count where they end, clipping where it starts, from ``context`` before the frame on.
        """
        size = window.shape[1]
        low = max(before - self._context, 0)
        high = size if last else size - self._context
        origin = self._seen - before
        held: list[tuple[int, int, str]] = []
        for name, row in zip(self._names, window, strict=True):
            coarse = row[::4]
            is_clipping = size > 0 and max(float(row.max()), -float(row.min())) >= _NEAR_FULL_SCALE
            if not is_clipping and not np.any(coarse[1:] == coarse[:-1]):
                continue
            starts, ends = _runs(row)
            if is_clipping:
                self._count_clipping(row, starts, ends, region=(low, high), origin=origin, name=name)
            held += [(a, b, name) for a, b in self._held_runs(row, starts, ends, region=(low, high))]
        for start, end, name in _merged(held):
            self._dropouts.add(origin + start, end - start, name, self._rate)

    def _count_clipping(
        self,
        row: npt.NDArray[np.float32],
        starts: npt.NDArray[np.intp],
        ends: npt.NDArray[np.intp],
        *,
        region: tuple[int, int],
        origin: int,
        name: str,
    ) -> None:
        """Count runs at the top that the wave enters or leaves with a corner, or that stand at full scale itself."""
        size = np.abs(row[starts])
        chosen = (ends - starts >= _CLIP_RUN) & (size >= _NEAR_FULL_SCALE)
        starts, ends, size = starts[chosen], ends[chosen], size[chosen]
        corner = np.maximum(_entry_step(row, starts), _exit_step(row, ends)) > 8.0 * _QUANTUM
        chosen = corner | (size >= 1.0 - 2.0 * _QUANTUM)
        low, high = region
        for a, b in zip(starts[chosen].tolist(), ends[chosen].tolist(), strict=True):
            inside = max(0, min(b, high) - max(a, low))
            if low <= a < high:
                self._clipped.add(origin + a, inside, name, self._rate)
            else:
                self._clipped.samples += inside

    def _held_runs(
        self,
        row: npt.NDArray[np.float32],
        starts: npt.NDArray[np.intp],
        ends: npt.NDArray[np.intp],
        *,
        region: tuple[int, int],
    ) -> list[tuple[int, int]]:
        """Runs that stand still, below full scale, with moving sound on both sides and a step at one end.

        The top of a slow wave stands still too, but it is entered and left by the smallest of steps.
        """
        low, high = region
        lengths = ends - starts
        chosen = (lengths >= _HELD_RUN) & (lengths < _SILENCE * self._rate) & (np.abs(row[starts]) < _NEAR_FULL_SCALE)
        chosen &= (ends >= low) & (ends < high) & (starts >= self._context) & (ends <= len(row) - self._context)
        found = []
        for a, b in zip(starts[chosen].tolist(), ends[chosen].tolist(), strict=True):
            left = float(np.mean(np.abs(np.diff(row[a - self._context : a]))))
            right = float(np.mean(np.abs(np.diff(row[b : b + self._context]))))
            jump = max(abs(float(row[a] - row[a - 1])), abs(float(row[b] - row[b - 1])))
            if min(left, right) > 8.0 * _QUANTUM and jump > (left + right) / 8.0:
                found.append((a, b))
        return found

    def _find_silence(self, new: Rows) -> None:
        """Follow stretches of exact zeros; a stretch of 0.1 s shows at every twentieth of a second."""
        step = int(_SILENCE * self._rate) // 2
        if self._zeros_from is None and np.all(new[:, ::step] != 0.0) and np.all(new[:, -1] != 0.0):
            return
        starts, ends = _runs(np.any(new != 0.0, axis=0))
        for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
            if np.any(new[:, a] != 0.0):
                self._end_silence(self._seen + a)
            elif self._zeros_from is None and (b - a >= 2 * step or b == new.shape[1]):
                self._zeros_from = self._seen + a

    def _end_silence(self, at: int) -> None:
        if self._zeros_from is not None and at - self._zeros_from >= int(_SILENCE * self._rate):
            self._silences.add(self._zeros_from, at - self._zeros_from, "both", self._rate)
        self._zeros_from = None


class _HumTrack:
    """Mains harmonics in the quiet stretches, from spectra of four seconds at a low rate."""

    def __init__(self, *, channels: int, rate: float) -> None:
        self._rate = rate
        self._pieces: list[Rows] = []
        self._table: list[npt.NDArray[np.float64]] = []
        self._length = 16_000
        window = np.hanning(self._length).astype(np.float32)
        self._window = window / np.float32(np.sqrt(np.sum(window.astype(np.float64) ** 2) * self._length / 2.0))

    def push(self, low: Rows) -> None:
        """Take half a second at the low rate."""
        self._pieces.append(low)
        if sum(piece.shape[1] for piece in self._pieces) < self._length:
            return
        sound = np.concatenate(self._pieces, axis=1)[:, : self._length]
        self._pieces = []
        power = np.mean(np.abs(fft.rfft(sound * self._window, axis=1)) ** 2, axis=0).astype(np.float64)
        hertz = self._rate / self._length
        row = [float(power[round(5 / hertz) :].sum())]
        for family in _HUM_FAMILIES.values():
            row += [_line(power, harmonic / hertz, wide=max(3, round(0.004 * harmonic / hertz))) for harmonic in family]
        self._table.append(np.array(row))

    def finish(self) -> Hum | None:
        """Median over the quietest tenth of the spectra, digital silence left out."""
        table = np.array([row for row in self._table if row[0] > _FLOOR])
        if not len(table):
            return None
        quiet = table[np.argsort(table[:, 0], kind="stable")[: max(1, len(table) // 10)]]
        ground, *lines = np.median(quiet, axis=0).tolist()
        powers = {}
        at = 0
        for mains, family in _HUM_FAMILIES.items():
            powers[mains] = float(sum(lines[at : at + len(family)]))
            at += len(family)
        mains = max(powers, key=lambda key: powers[key])
        if powers[mains] <= max(_FLOOR, ground * 10.0 ** (-_HUM_APART / 10.0)):
            return None
        return Hum(mains=mains, level=10.0 * log10(powers[mains]))


def _line(power: npt.NDArray[np.float64], at: float, *, wide: int) -> float:
    """Power of a spectral line near bin ``at``, 0 when it does not stand out of its neighbourhood."""
    centre = round(at)
    around = power[centre - 8 * wide : centre + 8 * wide + 1]
    ground = float(np.median(around))
    near = power[centre - wide : centre + wide + 1]
    if float(near.max()) < ground * 10.0 ** (_HUM_PROMINENCE / 10.0):
        return 0.0
    top = centre - wide + int(near.argmax())
    return max(float(power[top - 2 : top + 3].sum()) - 5.0 * ground, 0.0)


def _runs(row: npt.NDArray[np.generic]) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Starts and ends of the runs of equal values."""
    changes = np.flatnonzero(row[1:] != row[:-1]) + 1
    none = np.zeros(0, np.intp)
    if not len(row):
        return none, none
    return np.concatenate(([0], changes)), np.concatenate((changes, [len(row)]))


def _entry_step(row: npt.NDArray[np.float32], starts: npt.NDArray[np.intp]) -> npt.NDArray[np.float32]:
    """Size of the step into each run, 0 at the very start."""
    return np.asarray(np.abs(row[starts] - row[np.maximum(starts - 1, 0)]))


def _exit_step(row: npt.NDArray[np.float32], ends: npt.NDArray[np.intp]) -> npt.NDArray[np.float32]:
    """Size of the step out of each run, 0 at the very end."""
    return np.asarray(np.abs(row[np.minimum(ends, len(row) - 1)] - row[ends - 1]))


def _merged(runs: Iterable[tuple[int, int, str]]) -> list[tuple[int, int, str]]:
    """Runs of the two channels that overlap as one, in order of time."""
    merged: list[tuple[int, int, str]] = []
    for start, end, name in sorted(runs):
        if merged and start < merged[-1][1] and name != merged[-1][2]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]), "both")
        else:
            merged.append((start, end, name))
    return merged


def _with_cautions(audit: Audit, names: tuple[str, ...]) -> Audit:
    """The audit with its sentences."""
    words = {"L": "the left channel", "R": "the right channel", "both": "the recording"}
    said: list[str] = []
    silent = max(audit.level, default=-inf) == -inf
    if silent:
        said.append("The recording is silent from end to end: check the cable and the recorder's input.")
    else:
        said += [f"There is no sound in {words[name]}: check the cartridge leads and the plugs." for name in audit.dead]
    if audit.clipped.count:
        said.append(
            f"The recording is clipped in {_times(audit.clipped)}, first at {_first(audit.clipped)}: "
            "turn the recorder down and play the side again; ticks and level there are not to be trusted."
        )
    if max(audit.peak, default=0.0) > 1.0:
        said.append(f"Peaks reach {max(audit.peak):.2f} times full scale; another program will clip them.")
    if audit.dropouts.count:
        said.append(
            f"Samples stand still in {_times(audit.dropouts)}, first at {_first(audit.dropouts)}: the recorder lost "
            "sound there; the disc is not to blame."
        )
    if audit.silences.count and not silent:
        said.append(f"There is digital silence in {_times(audit.silences)}, first at {_first(audit.silences)}.")
    for name, offset in zip(names, audit.offset, strict=True):
        if abs(offset) > _DC_CAUTION:
            said.append(f"A constant offset of {100.0 * offset:.1f} % of full scale lies in {words[name]}.")
    if audit.twins:
        said.append("Both channels are the same: the recording is mono in two channels and judges no stereo groove.")
    return replace(audit, cautions=tuple(said))


def _times(tally: Tally) -> str:
    """How often and for how long, in words."""
    unit = f"{tally.total:.1f} s" if tally.total >= 1.0 else f"{1000.0 * tally.total:.1f} ms"
    return f"{tally.count} place{'s' if tally.count > 1 else ''} ({unit} in all)"


def _first(tally: Tally) -> str:
    """Where first, in words."""
    place = tally.first[0]
    return f"{place.start:.3f} s" + {"L": " on the left", "R": " on the right"}.get(place.channel, "")
