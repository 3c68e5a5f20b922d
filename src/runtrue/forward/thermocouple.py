"""Make the log that thermocouples in a press would give, from a hidden truth.

Its own way through the heat: nodes on the faces of the layers, each holding half of the cells beside it, and the
exponential of the whole matrix in time, so that between two valves nothing is stepped at all.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

from runtrue.errors import InputError

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """One layer with the joint after it: thickness [m], W/(m K), kg/m3, J/(kg K), joint [W/(m2 K)]; start [K]."""

    thickness: float
    conductivity: float
    density: float
    specific_heat: float
    joint: float
    start: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch between two valves: seconds, fluid temperature [K] and film [W/(m2 K)] at both ends.

    ``steam_bar_g`` and ``water_degc`` are what the gauges beside the press show meanwhile.
    """

    seconds: float
    temperature_a: float
    film_a: float
    temperature_b: float
    film_b: float
    steam_bar_g: float = 0.0
    water_degc: float = 18.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PressTruth:
    """The whole press from fluid a to fluid b: layers in order, which of them is the record, what is done.

    ``couples``: name of the log's column to (layer, share of the way through it).
    """

    slices: tuple[Slice, ...]
    record: int
    spells: tuple[Spell, ...]
    couples: Mapping[str, tuple[int, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoil:
    """What the measuring does: noise of a reading [K], offset of each couple [K], how late the log's clock is [s],
    noise of the pressure gauge [bar] and of the water's thermometer [K].
    """

    noise: float = 0.5
    offsets: Mapping[str, float] = field(default_factory=dict)
    late: float = 0.0
    gauge: float = 0.0
    thermometer: float = 0.0


def thermocouple_log(
    truth: PressTruth, rng: np.random.Generator, *, spoil: Spoil, step: float = 1.0, nodes: int = 24, cycles: int = 1
) -> dict[str, _Array]:
    """Columns of the log by name: ``time_s``, the couples [degC], ``steam_bar_g``, ``water_degc``.

    Parameters
    ----------
    truth : PressTruth
    rng : numpy.random.Generator
    spoil : Spoil
    step : float
        Between readings [s]
    nodes : int
        In each half of the record and in the thickest layer; thin metal has fewer
    cycles : int
        Cycles one after the other; the mould goes on as it is, the record is a new one

    Returns
    -------
    columns : dict of str to ndarray
    """
    if not truth.spells or not 0 <= truth.record < len(truth.slices):
        raise InputError("a press needs a programme and a record among its layers")
    net = _Net(truth, nodes)
    whole = sum(spell.seconds for spell in truth.spells) * cycles
    when = np.arange(0.0, whole + spoil.late, step)
    inside = np.clip(when - spoil.late, 0.0, whole)
    found = net.follow(inside, cycles)
    columns = {"time_s": when}
    for number, name in enumerate(truth.couples):
        reading = found[:, number] - 273.15 + spoil.offsets.get(name, 0.0)
        columns[name] = reading + spoil.noise * rng.standard_normal(when.size)
    spells = [truth.spells[k] for k in _spell_at(truth, inside)]
    columns["steam_bar_g"] = np.array([s.steam_bar_g for s in spells]) + spoil.gauge * rng.standard_normal(when.size)
    water = np.array([s.water_degc for s in spells])
    columns["water_degc"] = water + spoil.thermometer * rng.standard_normal(when.size)
    return columns


def _spell_at(truth: PressTruth, when: _Array) -> NDArray[np.int64]:
    ends = np.cumsum([spell.seconds for spell in truth.spells])
    return np.asarray(np.minimum(np.searchsorted(ends, when % ends[-1], side="right"), len(truth.spells) - 1))


class _Net:
    """Nodes of all layers; a layer of n gaps has n + 1 nodes, and a joint lies between two nodes at one place."""

    def __init__(self, truth: PressTruth, nodes: int) -> None:
        self.truth = truth
        thickest = max(s.thickness for s in truth.slices)
        self.gaps = [
            2 * nodes if k == truth.record else max(2, round(nodes * s.thickness / thickest))
            for k, s in enumerate(truth.slices)
        ]
        self.first = np.concatenate([[0], np.cumsum([g + 1 for g in self.gaps])[:-1]]).astype(int)
        size = int(sum(g + 1 for g in self.gaps))
        self.mass, self.links, self.begin = np.zeros(size), np.zeros((size, size)), np.empty(size)
        for k, s in enumerate(truth.slices):
            at = self.first[k] + np.arange(self.gaps[k] + 1)
            dx = s.thickness / self.gaps[k]
            share = np.full(at.size, dx)
            share[[0, -1]] = dx / 2.0
            self.mass[at] = share * s.density * s.specific_heat
            self.begin[at] = s.start
            for i in at[:-1]:
                self._link(i, i + 1, s.conductivity / dx)
            if k + 1 < len(truth.slices):
                self._link(at[-1], at[-1] + 1, s.joint)

    def _link(self, i: int, j: int, conductance: float) -> None:
        self.links[i, j] += conductance
        self.links[j, i] += conductance
        self.links[i, i] -= conductance
        self.links[j, j] -= conductance

    def _step(self, spell: Spell, seconds: float) -> tuple[_Array, _Array]:
        """Matrix and vector that carry the state over so many seconds of a spell."""
        a = self.links.copy()
        a[0, 0] -= spell.film_a
        a[-1, -1] -= spell.film_b
        b = np.zeros(self.mass.size)
        b[0], b[-1] = spell.film_a * spell.temperature_a, spell.film_b * spell.temperature_b
        size = self.mass.size
        whole = np.zeros((size + 1, size + 1))
        whole[:size, :size] = a / self.mass[:, np.newaxis]
        whole[:size, size] = b / self.mass
        carried = expm(whole * seconds)
        return carried[:size, :size], carried[:size, size]

    def _read(self, state: _Array) -> list[float]:
        found = []
        for layer, share in self.truth.couples.values():
            place = self.first[layer] + share * self.gaps[layer]
            low = min(int(place), self.first[layer] + self.gaps[layer] - 1)
            found.append(float(state[low] + (place - low) * (state[low + 1] - state[low])))
        return found

    def follow(self, when: _Array, cycles: int) -> _Array:
        """Temperatures of the couples at rising times [s], (times, couples) [K]."""
        state, seen, now, place = self.begin.copy(), [], 0.0, 0
        number = self.truth.record
        record = slice(int(self.first[number]), int(self.first[number]) + self.gaps[number] + 1)
        for number in range(cycles):
            if number:
                state[record] = self.begin[record]
            for spell in self.truth.spells:
                ends = now + spell.seconds
                known: dict[float, tuple[_Array, _Array]] = {}
                while place < when.size and when[place] <= ends:
                    state, now = self._to(state, now, float(when[place]), spell, known)
                    seen.append(self._read(state))
                    place += 1
                state, now = self._to(state, now, ends, spell, known)
        while place < when.size:
            seen.append(self._read(state))
            place += 1
        return np.array(seen)

    def _to(
        self, state: _Array, now: float, then: float, spell: Spell, known: dict[float, tuple[_Array, _Array]]
    ) -> tuple[_Array, float]:
        seconds = round(then - now, 9)
        if seconds <= 0.0:
            return state, then
        if seconds not in known:
            known[seconds] = self._step(spell, seconds)
        carry, add = known[seconds]
        return carry @ state + add, then
