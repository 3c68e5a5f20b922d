"""Makes what a compound room would write down: weighings with slips, mixer logs, families of batches, with the truth.

It goes its own way: masses come in as numbers, nothing of the compound station is used.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scooped:
    """A line of the weigh sheet: what was written, and what really went in."""

    written: str
    really: str
    lot: str
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Slips:
    """What goes wrong on the scales: names left out, weighed twice, mass scaled, and pairs whose scoops are swapped."""

    missing: tuple[str, ...] = ()
    double: tuple[str, ...] = ()
    scaled: Mapping[str, float] | None = None
    swapped: tuple[tuple[str, str], ...] = ()


def weigh_sheet(
    targets: Mapping[str, float], lots: Mapping[str, str], slips: Slips, *, scatter: float, seed: int
) -> tuple[Scooped, ...]:
    """The weighings of one charge. ``scatter`` is the relative deviation of a careful hand [-]; masses in kg."""
    rng = np.random.default_rng(seed)
    other = {a: b for pair in slips.swapped for a, b in (pair, pair[::-1])}
    scaled = slips.scaled or {}
    made: list[Scooped] = []
    for name, target in targets.items():
        if name in slips.missing:
            continue
        for _ in range(2 if name in slips.double else 1):
            really = other.get(name, name)
            mass = target * scaled.get(name, 1.0) * float(np.clip(1.0 + scatter * rng.standard_normal(), 0.99, 1.01))
            made.append(Scooped(written=name, really=really, lot=lots.get(really, ""), mass=mass))
    return tuple(made)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerRun:
    """A batch in the mixer: idle power [W], two humps of power (time [s], width [s], height [W]), a plateau [W].

    ``mass`` [kg], ``capacity`` [J/(kg K)], share of the energy ``lost``, temperature at the ``start`` [K], dump
    time [s], readings each ``step`` s and ``after`` s of idle running.
    """

    mass: float
    capacity: float
    idle: float
    plateau: float
    humps: tuple[tuple[float, float, float], ...]
    lost: float
    start: float
    dump: float
    step: float = 1.0
    after: float = 10.0
    power_noise: float = 0.0
    temperature_noise: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeLog:
    """Time [s], power [W], temperature [K], and the truth: net energy [J] and temperature [K] at the dump."""

    time: _Array
    power: _Array
    temperature: _Array
    energy: float
    dump_temperature: float


def mixer_log(run: MixerRun, seed: int) -> MadeLog:
    """Log of a batch: power rises with the ram, shows its humps and falls to idle at the dump."""
    rng = np.random.default_rng(seed)
    fine = np.arange(0.0, run.dump + 1e-9, 0.05)
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (_net(run, fine)[1:] + _net(run, fine)[:-1]) * 0.05)])
    time = np.arange(0.0, run.dump + run.after + 1e-9, run.step)
    inside = time <= run.dump + 1e-9
    power = run.idle + np.where(inside, _net(run, time), 0.0)
    heat = np.interp(np.minimum(time, run.dump), fine, energy) * (1.0 - run.lost) / (run.mass * run.capacity)
    temperature = run.start + heat
    return MadeLog(
        time=time,
        power=power + run.power_noise * rng.standard_normal(time.size),
        temperature=temperature + run.temperature_noise * rng.standard_normal(time.size),
        energy=float(energy[-1]),
        dump_temperature=run.start + float(energy[-1]) * (1.0 - run.lost) / (run.mass * run.capacity),
    )


def _net(run: MixerRun, time: _Array) -> _Array:
    rise = 1.0 - np.exp(-time / 4.0)
    load = np.full(time.shape, run.plateau)
    for at, width, height in run.humps:
        load += height * np.exp(-0.5 * ((time - at) / width) ** 2)
    net: _Array = rise * load
    return net


def family(
    means: Sequence[float], deviations: Sequence[float], count: int, *, common: float = 0.0, seed: int,
    shift: Mapping[int, float] | None = None, shift_from: int | None = None,
) -> _Array:  # fmt: skip
    """Numbers of a family of batches (count, numbers), Gaussian; ``common`` is the correlation between its numbers.

    ``shift`` moves a number, by its place, by so many deviations from batch ``shift_from`` on.
    """
    rng = np.random.default_rng(seed)
    width = len(means)
    own = rng.standard_normal((count, width))
    shared = rng.standard_normal((count, 1))
    z = np.sqrt(1.0 - common) * own + np.sqrt(common) * shared
    for place, by in (shift or {}).items():
        z[count if shift_from is None else shift_from :, place] += by
    made: _Array = np.asarray(means) + np.asarray(deviations) * z
    return made
