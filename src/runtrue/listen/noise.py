"""Levels of what is not programme: surface noise, rumble, hum; and the rig's balance and crosstalk.

Surface noise comes from the sections' noise spectra (the quieter frames' difference, leak taken off, by medians, so
that events do not count). Rumble and hum come from a second difference at 1 kHz with bins of 1 Hz, its transfer
estimated over the whole side.
"""

from dataclasses import dataclass, field
from math import log10

import numpy as np
import soxr
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import median_filter

from runtrue.listen.difference import FREQUENCIES, Section
from runtrue.listen.store import RATE
from runtrue.signal.stft import BINS, FRAME
from runtrue.signal.weighting import a_weighting, rumble_since_1987
from runtrue.types import About, Measurement

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

LOW_RATE = 1_000
LOW_FRAME = 1024
A_POWER = 10.0 ** (a_weighting(np.maximum(FREQUENCIES, 10.0)) / 10.0)
ONE_SIDED = np.where((np.arange(BINS) == 0) | (np.arange(BINS) == BINS - 1), 1.0, 2.0) / (FRAME * FRAME / 2)
"""Turns a bin's squared magnitude into power per sample; both halves of the spectrum counted."""
_FLOOR_U95 = 0.3
"""What the estimator itself may be off by [dB], from renders (docs/accuracy.md)."""


@dataclass(slots=True, kw_only=True)
class NoiseMeter:
    """Collects sections (``push``) and gives measurements (``finish``)."""

    times: list[float] = field(default_factory=list)
    surface: list[float] = field(default_factory=list)
    level: list[float] = field(default_factory=list)
    transfers: list[NDArray[np.complex64]] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    low_captured: list[Float32] = field(default_factory=list)
    low_played: list[Float32] = field(default_factory=list)

    def push(self, section: Section) -> None:
        """Take one section in."""
        played = np.abs(section.played[:, section.heard]) ** 2
        self.times.append(float(section.programme.mean()))
        self.surface.append(float((section.noise_power.mean(axis=0) * ONE_SIDED * A_POWER).sum()))
        self.level.append(float((played.mean(axis=(0, 1)) * ONE_SIDED).sum()))
        self.weights.append(float(section.heard.sum()))
        self.transfers.append(section.transfer)
        both = np.concatenate([section.low_captured, section.low_played], axis=1)
        low = soxr.resample(both, RATE, LOW_RATE, quality="MQ")
        self.low_captured.append(low[:, :2])
        self.low_played.append(low[:, 2:])

    def programme_level(self) -> float:
        """Rms amplitude of the reference as played, mean power of left and right."""
        return float(np.sqrt(np.average(self.level, weights=self.weights)))

    def finish(self) -> list[Measurement]:
        """Surface, rumble, hum, balance and crosstalk, dB re the programme."""
        zero = self.programme_level() ** 2
        surface = 10.0 * np.log10(np.array(self.surface) / zero + 1e-20)
        mean = 10.0 * log10(float(np.average(self.surface, weights=self.weights)) / zero + 1e-20)
        scatter = float(np.std(surface)) / max(1.0, len(surface)) ** 0.5
        low = self._low(zero)
        return [
            Measurement(quantity="surface", value=mean, u95=float(np.hypot(_FLOOR_U95, 2.0 * scatter))),
            *low,
            *self._walls(),
        ]

    def _low(self, zero: float) -> list[Measurement]:
        captured = np.concatenate(self.low_captured)
        played = np.concatenate(self.low_played)
        if len(captured) < 8 * LOW_FRAME:
            short = "less than 8 s of the programme was heard"
            return [Measurement(quantity=q, value=None, about=About.RIG, reason=short) for q in ("rumble", "hum")]
        power = _low_noise(captured, played)
        frequency = np.asarray(np.arange(power.shape[-1]) * (LOW_RATE / LOW_FRAME), dtype=np.float64)
        weight = 10.0 ** (rumble_since_1987(np.maximum(frequency, 0.5)) / 10.0)
        rumble = 10.0 * log10(float((power * weight).sum()) / zero + 1e-20)
        hum = 10.0 * log10(_hum(power, frequency) / zero + 1e-20)
        return [
            Measurement(quantity="rumble", value=rumble, u95=1.0, about=About.RIG),
            Measurement(quantity="hum", value=hum, u95=1.0, about=About.RIG),
        ]

    def _walls(self) -> list[Measurement]:
        transfer = np.average(np.abs(np.array(self.transfers)), axis=0, weights=self.weights)
        at_1k = (FREQUENCIES > 900.0) & (FREQUENCIES < 1120.0)
        middle = (FREQUENCIES >= 250.0) & (FREQUENCIES <= 4000.0)
        left, right = transfer[0, 0], transfer[1, 1]

        def level(top: Float64, bottom: Float64, band: NDArray[np.bool_]) -> float:
            return 10.0 * log10((float((top[band] ** 2).mean()) + 1e-12) / (float((bottom[band] ** 2).mean()) + 1e-12))

        return [
            Measurement(quantity="balance", value=level(left, right, at_1k), u95=0.2, about=About.RIG),
            Measurement(
                quantity="crosstalk_left_into_right", value=level(transfer[1, 0], left, middle), u95=1.0,
                about=About.RIG,
            ),
            Measurement(
                quantity="crosstalk_right_into_left", value=level(transfer[0, 1], right, middle), u95=1.0,
                about=About.RIG,
            ),
        ]  # fmt: skip


def _low_noise(captured: Float32, played: Float32) -> Float64:
    """Power per bin of 1 Hz of what is not programme below 500 Hz, mean of both channels, one-sided per sample."""
    window = np.hanning(LOW_FRAME).astype(np.float32)
    scale = 2.0 / (LOW_FRAME * float((window**2).sum()))
    y, x = (
        fft.rfft(sliding_window_view(v, LOW_FRAME, axis=0)[:: LOW_FRAME // 2] * window, axis=2, workers=1)
        for v in (captured, played)
    )  # (frames, 2, bins)
    auto = np.einsum("nif,njf->ijf", x, x.conj(), optimize=True)
    cross = np.einsum("nif,njf->ijf", y, x.conj(), optimize=True)
    kernel = np.ones(7) / 7.0
    auto, cross = (np.apply_along_axis(np.convolve, 2, m, kernel, mode="same") for m in (auto, cross))
    ridge = 1e-4 * (auto[0, 0] + auto[1, 1]).real + 1e-12
    auto[0, 0] += ridge
    auto[1, 1] += ridge
    inverse = np.linalg.inv(np.moveaxis(auto, 2, 0))
    transfer = np.einsum("ijf,fjk->fik", cross, inverse)
    rest = np.abs(y - np.einsum("fik,nkf->nif", transfer, x)) ** 2
    loud = np.abs(x) ** 2
    third = max(1, len(rest) // 3)
    order = np.argsort(loud.sum(axis=1), axis=0)[:third]
    quiet = np.stack([np.take_along_axis(rest[:, c], order, axis=0) for c in (0, 1)])
    return np.asarray((np.median(quiet, axis=1) / 0.6931).mean(axis=0) * scale)


def _hum(power: Float64, frequency: Float64) -> float:
    """Power of the stronger mains family (50 or 60 Hz, six harmonics) above its surroundings; at least the floor."""
    surroundings = median_filter(power, 15, mode="nearest")
    best = 0.0
    for mains in (50.0, 60.0):
        total = 0.0
        for harmonic in range(1, 7):
            near = np.abs(frequency - mains * harmonic) < 2.5
            total += max(float((power[near] - surroundings[near]).sum()), float(surroundings[near].mean()))
        best = max(best, total)
    return best
