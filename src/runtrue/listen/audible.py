"""Whether a listener would hear an event in the music around it, as a probability.

The masked threshold of what is played there (spreading over Bark, tonality, what was heard just before and comes just
after, threshold in quiet at a stated level) is held against the event's energy in each critical band; the ear sums
short sounds over some 200 ms. A person's own marks move the threshold (``fit_hearing``).
"""

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import expit

from runtrue.errors import InputError
from runtrue.listen.difference import FREQUENCIES, Section
from runtrue.listen.setting import Hearing
from runtrue.listen.store import RATE
from runtrue.signal.masking import BANDS, CENTRES_HZ, band_sums, masked_threshold, quiet_threshold, tonality
from runtrue.signal.stft import FRAME, HOP

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

INTEGRATION_S = 0.2
"""Over this long the ear sums a short sound: 3 dB per doubling up to about 200 ms (Zwicker and Fastl, from memory)."""
FORWARD_DB, BACKWARD_DB = 60.0 * HOP / RATE / 0.2, 60.0 * HOP / RATE / 0.02
"""Masking lost per frame after and before a masker: 60 dB over 200 ms and over 20 ms (the longest spans of Zwicker and
Fastl, from memory; straight in dB is our choice)."""
_BEFORE, _AFTER = 18, 2
"""Frames before and after an event in which maskers count."""
_STEADY = INTEGRATION_S * RATE / HOP
"""Frames of a steady sound whose energy the ear sums."""
_SUMS = band_sums(FREQUENCIES)
_TONAL = (FREQUENCIES >= 100.0) & (FREQUENCIES <= 16_000.0)
_CHUNK = 512


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """Events of one section: energy and just-heard energy by ear and band, (events, 2, BANDS), full scale 1."""

    energy: Float64
    threshold: Float64

    def margin(self, quiet: Float64) -> Float64:
        """How far the events stand above the threshold [dB], (events,).

        ``quiet`` (BANDS,) just-heard energy in silence. The bands join as independent observations (root of the sum of
        squares); the better ear decides.
        """
        ratio = self.energy / (self.threshold + quiet)
        joined = np.sqrt((ratio**2).sum(axis=2)).max(axis=1)
        return np.asarray(10.0 * np.log10(joined + 1e-12), dtype=np.float64)


def heights(section: Section, difference_power: Float32, played_power: Float32, at: NDArray[np.int64]) -> Heights:
    """Energies of the events at samples ``at`` of the section (from its first), and what would just be heard there.

    The squared magnitudes have shape (2, frames, BINS).
    """
    noise = np.asarray(section.noise_power, dtype=np.float32)
    frames = difference_power.shape[1]
    energy, threshold = np.zeros((len(at), 2, BANDS)), np.zeros((len(at), 2, BANDS))
    masker = played_power @ _SUMS + (noise @ _SUMS)[:, None, :]
    for start in range(0, len(at), _CHUNK):
        part = slice(start, start + _CHUNK)
        middle = np.clip(np.rint(at[part] / HOP).astype(int), 1, frames - 2)
        near = middle[:, None] + np.arange(-1, 2)
        held = difference_power[:, near].sum(axis=2) - 3.0 * noise[:, None, :]
        energy[part] = np.maximum(np.moveaxis(held @ _SUMS, 0, 1), 0.0)
        around = np.clip(middle[:, None] + np.arange(-_BEFORE, _AFTER + 1), 0, frames - 1)
        which, back = np.unique(around, return_inverse=True)
        tone = _tonality(played_power[:, which] + noise[:, None, :])
        steady = masked_threshold(masker[:, which], tone)[:, back.reshape(around.shape)]
        threshold[part] = np.moveaxis((steady * _LOST[None, None, :, None]).max(axis=2), 0, 1) * _STEADY
    return Heights(energy=energy, threshold=threshold)


_STEPS = np.arange(-_BEFORE, _AFTER + 1)
_LOST = (10.0 ** (-np.where(_STEPS <= 0, -_STEPS * FORWARD_DB, _STEPS * BACKWARD_DB) / 10.0)).astype(np.float32)


def _tonality(power: Float32) -> Float32:
    """Tonality of each frame, (2, frames), from the flatness of 100 Hz to 16 kHz."""
    part = power[..., _TONAL] + np.float32(1e-20)
    flatness = 10.0 * (np.log10(part).mean(axis=-1) - np.log10(part.mean(axis=-1)))
    return np.asarray(tonality(flatness), dtype=np.float32)


def quiet_energy(hearing: Hearing, programme: float) -> Float64:
    """Just-heard energy in silence by band (BANDS,), where the programme's rms (amplitude) is played at its level."""
    spl_of_full_scale = hearing.level - 20.0 * np.log10(max(programme, 1e-9))
    power = 10.0 ** ((quiet_threshold(CENTRES_HZ) - spl_of_full_scale) / 10.0)
    # power per sample to squared magnitude summed over the bins of a frame, then to the energy the ear sums
    return np.asarray(power * (FRAME * FRAME / 4.0) * _STEADY)


def probability(margin: ArrayLike, hearing: Hearing) -> Float64:
    """Probability that an event this far above the threshold [dB] is heard: a logistic about the hearing's shift.

    Examples
    --------
    >>> float(probability(10.0, Hearing()))
    0.9655
    """
    return np.asarray(expit((np.asarray(margin, dtype=np.float64) - hearing.shift) / hearing.spread))


@dataclass(frozen=True, slots=True, kw_only=True)
class HearingFit:
    """Hearing fitted to marks; ``shift_u95`` [dB] of the shift with the spread fitted beside it."""

    hearing: Hearing
    shift_u95: float
    marks: int
    heard: int


_SPREAD_PRIOR = (np.log(3.0), 0.5)
"""Logarithm of the spread [dB] before any mark, and its standard deviation (our choice)."""
_SHIFT_PRIOR_DB = 10.0


def fit_hearing(margin: ArrayLike, heard: ArrayLike, *, level: float) -> HearingFit:
    """Shift and spread of the threshold from marks: the likeliest logistic.

    Parameters
    ----------
    margin : array_like (n,)
        Computed height above the threshold of each marked event [dB]
    heard : array_like (n,) of bool
        Whether the person heard it
    level : float
        Programme level at which the marks were made [dB SPL]

    Returns
    -------
    fit : HearingFit

    Notes
    -----
    A weak prior (shift 0 +- 10 dB, spread 3 dB within a factor of 1.6, one standard deviation each) keeps marks that
    are all "heard" from driving the threshold away. Raises ``InputError`` for fewer than 10 marks.
    """
    x, y = np.asarray(margin, dtype=np.float64), np.asarray(heard, dtype=np.float64)
    if x.shape != y.shape or x.ndim != 1 or len(x) < 10:
        raise InputError(f"marks: 10 or more are needed to move a threshold, got {len(np.atleast_1d(x))}")

    def cost(p: Float64) -> float:
        z = (x - p[0]) / np.exp(p[1])
        prior = (p[0] / _SHIFT_PRIOR_DB) ** 2 + ((p[1] - _SPREAD_PRIOR[0]) / _SPREAD_PRIOR[1]) ** 2
        return float(np.logaddexp(0.0, -z) @ y + np.logaddexp(0.0, z) @ (1.0 - y) + 0.5 * prior)

    found = minimize(cost, np.array([float(np.median(x)), _SPREAD_PRIOR[0]]), method="BFGS")
    shift, spread = float(found.x[0]), float(np.exp(found.x[1]))
    u95 = 1.96 * float(np.sqrt(np.asarray(found.hess_inv)[0, 0]))
    if not (isfinite(shift) and isfinite(u95)):
        raise InputError("marks: no threshold fits them; check the columns")
    return HearingFit(
        hearing=Hearing(level=level, shift=shift, spread=spread), shift_u95=u95, marks=len(x), heard=int(y.sum())
    )
