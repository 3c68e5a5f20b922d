"""Jumps without a reference: a groove that is played again sounds again one turn later, to the sample.

Only a fall back repeats; a skip forward leaves nothing to compare. Music that is itself repeated to the sample, one
turn apart, cannot be told from it.
"""

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from runtrue.listen.heard import HeardJump
from runtrue.listen.store import TRACK_RATE

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_PIECE_S = 0.25
_SPREAD = 0.006
"""A turn lasts as it should within so much: 0.5 % and a little."""
_ALIKE = 0.85
_LAST_SHARE = 0.8
"""A whole turn is played again, less what music in it is too soft to tell."""
_MOST_TURNS = 4
_SOFT = 3e-4
"""Rms of the steps from sample to sample below which a piece tells nothing."""
_CONTROL, _APART = 0.617, 0.15
"""A held note is alike at any lag; the groove played again only at its own."""


def find_repeats(track: Float32, *, turn_period: float) -> tuple[HeardJump, ...]:
    """Falls back by one turn to four, with the capture time [s] from which the groove is heard again.

    ``track`` (n,) mono at ``TRACK_RATE``; ``turn_period`` [s], nominal.
    """
    steep = np.diff(track, prepend=track[:1]).astype(np.float32)
    found: list[HeardJump] = []
    taken = np.zeros(len(track) // round(_PIECE_S * TRACK_RATE) + 1, dtype=bool)
    for turns in range(1, _MOST_TURNS + 1):
        alike = _likeness(steep, turns * turn_period)
        alike[taken[: len(alike)]] = False
        for first, last in _runs(alike):
            if (last - first) * _PIECE_S >= _LAST_SHARE * turns * turn_period:
                again = max(1, round((last - first) * _PIECE_S / (turns * turn_period)))
                taken[first : last + 1] = True
                found += [
                    HeardJump(programme_time=first * _PIECE_S + k * turns * turn_period, turns=-turns)
                    for k in range(again)
                ]
    return tuple(sorted(found, key=lambda jump: jump.programme_time))


def _likeness(steep: Float32, lag: float) -> NDArray[np.bool_]:
    """Whether each piece of 0.25 s is what sounded ``lag`` [s] before, and not also what sounds at other times."""
    count = round(_PIECE_S * TRACK_RATE)
    reach = int(np.ceil(lag * _SPREAD * TRACK_RATE))
    back, control = round(lag * TRACK_RATE), round(_CONTROL * lag * TRACK_RATE)
    out = np.zeros(len(steep) // count, dtype=bool)
    for number in range(-(-(back + reach) // count), len(out)):
        at = number * count
        here = steep[at : at + count].astype(np.float64)
        if float(here @ here) > count * _SOFT**2 and _best(here, steep, at - back, reach) > _ALIKE:
            out[number] = _best(here, steep, at - control, reach) < _ALIKE - _APART
    return out


def _best(here: Float64, steep: Float32, middle: int, reach: int) -> float:
    """Largest correlation of ``here`` with what begins within ``reach`` of sample ``middle``."""
    count = len(here)
    there = steep[max(0, middle - reach) : middle + count + reach].astype(np.float64)
    size = fft.next_fast_len(len(there) + count, real=True)
    lags = len(there) - count + 1
    product = fft.irfft(fft.rfft(there, size) * fft.rfft(here, size).conj(), size)[:lags]
    energy = np.cumsum(np.concatenate([[0.0], there**2]))
    other = energy[count : count + lags] - energy[:lags]
    return float((product / np.sqrt(float(here @ here) * other + 1e-20)).max())


def _runs(alike: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last + 1 piece of runs; a piece that is too soft or holds a tick does not break one."""
    filled = alike.copy()
    filled[1:-1] |= alike[:-2] & alike[2:]
    edges = np.diff(np.concatenate([[False], filled, [False]]).astype(np.int8))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))
