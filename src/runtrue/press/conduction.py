r"""Transient heat conduction through a stack of layers, many cycles at once.

Finite volumes that hold their enthalpy: each cell's heat content changes by what crosses its faces and by nothing
else, so the balance of a cycle closes to rounding whatever the properties do. Time goes by TR-BDF2 with
:math:`\gamma = 2 - \sqrt 2`: second order, and L-stable, so that a valve that opens rings nothing. Its two stages
have one matrix, symmetric and tridiagonal; the cycles of a batch are laid end to end into one system.

Heat flows across the stack only: what uneven channels do over the face cannot be seen here.

References
----------
.. [1] Bank et al., IEEE Trans. Electron Devices 32 (1985) 1992 (TR-BDF2); Hosea and Shampine, Applied Numerical
   Mathematics 20 (1996) 21.
.. [2] Patankar, Numerical Heat Transfer and Fluid Flow, 1980, 4.2 (resistances in series at the faces of cells).
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dptsv

from runtrue.errors import InputError
from runtrue.press.layers import Contact, Phase, Side, Stack, cell_widths
from runtrue.press.materials import Curve, Number, Ready
from runtrue.units import ZERO_DEGC

_Array = NDArray[np.float64]
ALPHA = 1.0 - sqrt(0.5)
"""Share of the step that stands implicit in both stages."""
_GAMMA = 2.0 - sqrt(2.0)
_W = sqrt(2.0) / 4.0
"""Weight of both the first and the middle flux in a step."""
_REST = (1.0 - _GAMMA) / _GAMMA
"""From the middle of a step to its end, over from its start to its middle."""
_LATE = 0.5 + sqrt(0.5)
"""Weight of the middle heat content in the second stage, 1/(gamma (2 - gamma))."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """How finely time and space are cut.

    ``fine``, ``growth`` and ``coarsest`` as :func:`layers.cell_widths` takes them; the first step after a switch [s],
    its growth, and the longest step [s]; the temperature at which heat is taken to flow lies within ``tolerance`` of
    the one that the heat content has [K]; a running press repeats itself once the mould starts within ``settled`` of
    the cycle before [K].
    """

    fine: float = 0.12
    growth: float = 1.1
    coarsest: float = 0.06
    first: float = 4e-3
    step_growth: float = 1.3
    longest: float = 0.7
    tolerance: float = 1e-3
    settled: float = 0.02

    def refined(self, times: float) -> "Mesh":
        """Cells and steps so many times smaller."""
        return Mesh(
            fine=self.fine / times, growth=1.0 + (self.growth - 1.0) / times, coarsest=self.coarsest / times,
            first=self.first / times,
            step_growth=1.0 + (self.step_growth - 1.0) / times, longest=self.longest / times, tolerance=self.tolerance,
            settled=self.settled,
        )  # fmt: skip

    def fractions(self, duration: float) -> _Array:
        """Ends of the steps of a phase as shares of its duration, the last 1."""
        steps: list[float] = []
        step = min(self.first, duration)
        while sum(steps) < duration:
            steps.append(step)
            step = min(step * self.step_growth, self.longest)
        ends = np.cumsum(steps)
        return np.asarray(ends / ends[-1])


DEFAULT_MESH = Mesh()
ROUGH_MESH = Mesh(
    fine=0.2, growth=1.2, coarsest=0.1, first=6e-3, step_growth=1.3, longest=0.7, tolerance=1e-2, settled=0.2
)
"""For many cycles at once: within 0.4 % of the span, far below the spread that is worked out with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """A place to watch: a share of the way through a layer from side a, 0 and 1 being its very faces."""

    layer: int
    at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The state of all cycles: temperature [K] and heat content over 0 degC [J/m2] of each cell, (cycles, cells)."""

    temperature: _Array
    heat: _Array


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What the probes saw.

    ``time`` [s] since the first phase began (steps, cycles); ``probes`` [K] (steps, probes, cycles); ``phase`` number
    of the phase each step ends in (steps,), the first row being the start; ``mean`` [K] of the watched layer (steps,
    cycles); ``heat_a`` and ``heat_b`` [J/m2] taken in from either fluid in each phase (phases, cycles); ``stored``
    [J/m2] heat content at the start and at each phase's end (phases + 1, cycles); ``field`` the last state.
    """

    time: _Array
    probes: _Array
    phase: NDArray[np.int64]
    mean: _Array
    heat_a: _Array
    heat_b: _Array
    stored: _Array
    field: Field


class Press:
    """A stack cut into cells, for a number of cycles worked at once."""

    def __init__(self, stack: Stack, cycles: int, mesh: Mesh = DEFAULT_MESH) -> None:
        self.stack, self.cycles, self.mesh = stack, cycles, mesh
        last = len(stack.layers) - 1
        shares = [
            cell_widths(
                layer,
                fine=mesh.fine,
                growth=mesh.growth,
                coarsest=mesh.coarsest,
                two_ends=not (stack.mirror and number == last),
            )
            for number, layer in enumerate(stack.layers)
        ]
        self.shares = shares
        ends = np.cumsum([0, *(s.size for s in shares)])
        self.spans = [slice(int(a), int(b)) for a, b in itertools.pairwise(ends)]
        self.cells = int(ends[-1])
        self.joints = [span.stop - 1 for span in self.spans[:-1]]
        self.width = np.empty((cycles, self.cells))
        density = np.empty(self.cells)
        for span, share, layer in zip(self.spans, shares, stack.layers, strict=True):
            self.width[:, span] = _spread(layer.thickness, cycles)[:, np.newaxis] * share
            density[span] = layer.material.density
        mass = self.width * density
        materials = [layer.material for layer in stack.layers]
        self.linear = all(m.specific_heat.constant and m.conductivity.constant for m in materials) and not any(
            contact.changes for contact in stack.contacts
        )
        warm = np.full((cycles, self.cells), 293.15)
        self.capacity = mass * self._of(warm, [m.specific_heat for m in materials])
        """Heat that a kelvin takes, of each cell, where temperature does not change it [J/(m2 K)]."""
        self.half = 0.5 * self.width / self._of(warm, [m.conductivity for m in materials])
        """Resistance from the middle of each cell to its face, likewise [m2 K/W]."""
        self.heats = [
            (cells, mass[:, cells], Ready(curve))
            for cells, curve in self._changing([m.specific_heat for m in materials])
        ]
        self.conductivities = [
            (cells, 0.5 * self.width[:, cells], Ready(curve))
            for cells, curve in self._changing([m.conductivity for m in materials])
        ]
        self._weights: dict[Probe, tuple[slice, _Array]] = {}

    def _changing(self, curves: Sequence[Curve]) -> "list[tuple[slice | NDArray[np.int64], Curve]]":
        """Cells of each curve that temperature changes; layers that share one are taken together."""
        shared: dict[int, list[int]] = {}
        for number, curve in enumerate(curves):
            if not curve.constant:
                shared.setdefault(id(curve), []).append(number)
        return [
            (
                self.spans[numbers[0]]
                if len(numbers) == 1
                else np.concatenate([np.arange(self.spans[n].start, self.spans[n].stop) for n in numbers]),
                curves[numbers[0]],
            )
            for numbers in shared.values()
        ]

    def _of(self, temperature: _Array, curves: Sequence[Curve]) -> _Array:
        found = np.empty((self.cycles, self.cells))
        for span, curve in zip(self.spans, curves, strict=True):
            found[:, span] = curve.at(temperature[:, span])
        return found

    def heat(self, temperature: _Array) -> tuple[_Array, _Array]:
        """Capacity [J/(m2 K)] and content over 0 degC [J/m2] of each cell."""
        content = self.capacity * (temperature - ZERO_DEGC)
        if not self.heats:
            return self.capacity, content
        capacity = self.capacity.copy()
        for span, mass, curve in self.heats:
            value, integral = curve.with_integral(temperature[:, span])
            capacity[:, span], content[:, span] = mass * value, mass * integral
        return capacity, content

    def resistance(self, temperature: _Array) -> _Array:
        """Resistance from the middle of each cell to its face [m2 K/W]."""
        if not self.conductivities:
            return self.half
        found = self.half.copy()
        for span, half, curve in self.conductivities:
            found[:, span] = half / curve.value(temperature[:, span])
        return found

    # -- state

    def start(self, mould: Number) -> Field:
        """Every layer at its own temperature, or at that of the mould [K]."""
        temperature = np.empty((self.cycles, self.cells))
        for span, layer in zip(self.spans, self.stack.layers, strict=True):
            initial = mould if layer.initial is None else layer.initial
            temperature[:, span] = _spread(initial, self.cycles)[:, np.newaxis]
        return self.field(temperature)

    def field(self, temperature: _Array) -> Field:
        """State of given temperatures [K], (cycles, cells)."""
        return Field(temperature=temperature, heat=self.heat(temperature)[1])

    def weights(self, probe: Probe) -> tuple[slice, _Array]:
        """Cells and weights that give the temperature inside a layer: a cubic through the four cells around."""
        if probe not in self._weights:
            self._weights[probe] = self._worked_weights(probe)
        return self._weights[probe]

    def _worked_weights(self, probe: Probe) -> tuple[slice, _Array]:
        span, share = self.spans[probe.layer], self.shares[probe.layer]
        centres = np.cumsum(share) - 0.5 * share
        if self.stack.mirror and probe.layer == len(self.spans) - 1:
            centres = np.concatenate([centres, 2.0 - centres[::-1]])
        n = centres.size
        first = int(np.clip(np.searchsorted(centres, probe.at) - 2, 0, max(n - 4, 0)))
        chosen = np.arange(first, min(first + 4, n))
        x = centres[chosen]
        w = np.array([np.prod([(probe.at - b) / (a - b) for b in x if b != a]) for a in x])
        found = np.zeros(share.size)
        for place, weight in zip(chosen, w, strict=True):
            found[place if place < share.size else n - 1 - place] += weight
        return span, found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Links:
    """Conductances at one moment: between cells (cycles, cells - 1), to either fluid (cycles,), half resistances, and
    the sum of those that meet in a cell (cycles, cells).
    """

    between: _Array
    to_a: _Array
    to_b: _Array
    half: _Array
    meeting: _Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Point:
    """A state with what flows in it: into each cell, and in from either fluid [W/m2]."""

    temperature: _Array
    heat: _Array
    into: _Array
    from_a: _Array
    from_b: _Array


class _March:
    """One phase of one batch."""

    def __init__(self, press: Press, phase: Phase, began: _Array) -> None:
        self.press, self.phase, self.began = press, phase, began
        self.duration = _spread(phase.duration, press.cycles)
        self.film_a = _spread(phase.a.film, press.cycles)
        self.film_b = np.zeros(press.cycles) if press.stack.mirror else _spread(phase.b.film, press.cycles)
        apart = dict(phase.parted)
        self.joint = np.zeros((press.cycles, press.cells - 1))
        self.changing: list[tuple[int, Contact, _Array]] = []
        for n, (place, contact) in enumerate(zip(press.joints, press.stack.contacts, strict=True)):
            closed = _spread(apart.get(n, contact.under(phase.pressure)), press.cycles)
            if contact.changes and n not in apart:
                self.changing.append((place, contact, closed))
            else:
                self.joint[:, place] = 1.0 / closed
        self.off = np.zeros((press.cycles, press.cells))
        self.steady = [None if callable(s.temperature) else _spread(s.temperature, press.cycles)
                       for s in (phase.a, phase.b)]  # fmt: skip
        self.links: _Links | None = None

    def linked(self, temperature: _Array) -> _Links:
        """Conductances at a temperature; worked out once where temperature changes none."""
        press = self.press
        if self.links is not None and press.linear:
            return self.links
        half = press.resistance(temperature)
        resistance = half[:, :-1] + half[:, 1:]
        resistance += self.joint
        for joint, contact, closed in self.changing:
            resistance[:, joint] += 1.0 / contact.at(closed, self.skin(joint, temperature))
        between = 1.0 / resistance
        to_a = self.film_a / (1.0 + self.film_a * half[:, 0])
        to_b = self.film_b / (1.0 + self.film_b * half[:, -1])
        meeting = np.empty_like(temperature)
        meeting[:, 0], meeting[:, 1:] = to_a, between
        meeting[:, :-1] += between
        meeting[:, -1] += to_b
        self.links = _Links(between=between, to_a=to_a, to_b=to_b, half=half, meeting=meeting)
        return self.links

    def skin(self, joint: int, temperature: _Array) -> _Array:
        """Temperature of the cell at a joint that belongs to the record, the side towards the stack's middle."""
        inner = joint + 1 if self.press.stack.mirror or 2 * joint < self.press.cells else joint
        return temperature[:, inner]

    def fluids(self, time: _Array) -> tuple[_Array, _Array]:
        """Temperatures of both fluids [K] at a time since the cycle began."""
        a, b = self.steady
        return (
            a if a is not None else _fluid(self.phase.a, time),
            b if b is not None else _fluid(self.phase.b, time),
        )

    def opening(self, field: Field) -> _Point:
        """The state in which the phase begins, under its own fluids."""
        t, fluids = field.temperature, self.fluids(self.began)
        links = self.linked(t)
        across = links.between * (t[:, :-1] - t[:, 1:])
        from_a, from_b = links.to_a * (fluids[0] - t[:, 0]), links.to_b * (fluids[1] - t[:, -1])
        into = np.empty_like(t)
        into[:, 0], into[:, 1:] = from_a, across
        into[:, :-1] -= across
        into[:, -1] += from_b
        return _Point(temperature=t, heat=field.heat, into=into, from_a=from_a, from_b=from_b)

    def implicit(self, ahead: _Array, target: _Array, reach: _Array, time: _Array) -> _Point:
        """The state whose heat content less ``reach`` times its inflow is the target.

        Conductances are taken at ``ahead``, the temperature expected there, which keeps the order. Where the specific
        heat changes, heat content is followed along its tangent there; the temperature is then the one that has the
        content reached, and Newton's method goes on only where that is too far from the one heat flowed at.
        """
        press, t = self.press, ahead
        fluids = self.fluids(time)
        links = self.linked(ahead)
        column = reach[:, np.newaxis]
        stiff = column * links.meeting
        np.multiply(links.between, -column, out=self.off[:, :-1])
        given = target.copy()
        given[:, 0] += reach * links.to_a * fluids[0]
        given[:, -1] += reach * links.to_b * fluids[1]
        capacity, content = press.heat(t)
        for _ in range(50):
            flowed = _symmetric(capacity + stiff, self.off, given - content + capacity * t)
            heat = content + capacity * (flowed - t)
            t = flowed
            if not press.heats:
                break
            capacity, content = press.heat(t)
            off = (heat - content) / capacity
            if max(off.max(), -off.min()) < press.mesh.tolerance:
                t = t + off
                break
        return _Point(
            temperature=t, heat=heat, into=(heat - target) / column, from_a=links.to_a * (fluids[0] - flowed[:, 0]),
            from_b=links.to_b * (fluids[1] - flowed[:, -1]),
        )  # fmt: skip

    def steps(self, field: Field) -> Iterator[tuple[_Array, Field, _Array, _Array]]:
        """Yield time since the phase began, state, and heat taken in from either fluid over each step."""
        now = self.opening(field)
        slope = np.zeros_like(field.temperature)
        done = np.zeros(self.press.cycles)
        for share in self.press.mesh.fractions(float(np.mean(self.duration))):
            step = share * self.duration - done
            reach = ALPHA * step
            column = reach[:, np.newaxis]
            start = self.began + done
            ahead = now.temperature + slope * step[:, np.newaxis]
            middle = self.implicit(ahead, now.heat + column * now.into, reach, start + _GAMMA * step)
            target = _LATE * middle.heat - (_LATE - 1.0) * now.heat
            ahead = middle.temperature + _REST * (middle.temperature - now.temperature)
            end = self.implicit(ahead, target, reach, start + step)
            yield (
                share * self.duration,
                Field(temperature=end.temperature, heat=end.heat),
                step * (_W * (now.from_a + middle.from_a) + ALPHA * end.from_a),
                step * (_W * (now.from_b + middle.from_b) + ALPHA * end.from_b),
            )
            slope = _GAMMA * (end.temperature - now.temperature) / step[:, np.newaxis]
            now, done = end, share * self.duration

    def seen(self, field: Field, probes: Sequence[Probe], time: _Array) -> _Array:
        """What the probes see, (probes, cycles) [K]."""
        press, t = self.press, field.temperature
        links = self.links if self.links is not None else self.linked(t)
        fluids = self.fluids(time)
        found = np.empty((len(probes), press.cycles))
        last = press.cells - 1
        for number, probe in enumerate(probes):
            span = press.spans[probe.layer]
            symmetric = press.stack.mirror and span.stop - 1 == last and probe.at == 1.0
            if probe.at == 0.0:
                cell = span.start
                flux = links.to_a * (fluids[0] - t[:, 0]) if cell == 0 else (
                    links.between[:, cell - 1] * (t[:, cell - 1] - t[:, cell])
                )  # fmt: skip
                found[number] = t[:, cell] + flux * links.half[:, cell]
            elif probe.at == 1.0 and not symmetric:
                cell = span.stop - 1
                flux = links.to_b * (t[:, last] - fluids[1]) if cell == last else (
                    links.between[:, cell] * (t[:, cell] - t[:, cell + 1])
                )  # fmt: skip
                found[number] = t[:, cell] - flux * links.half[:, cell]
            else:
                inside, weights = press.weights(probe)
                found[number] = t[:, inside] @ weights
        return found


def _symmetric(main: _Array, off: _Array, right: _Array) -> _Array:
    """Solve the tridiagonal systems of all cycles, laid end to end (LAPACK dptsv)."""
    _, _, found, info = dptsv(
        main.ravel(), off.ravel()[:-1], right.ravel(), overwrite_d=True, overwrite_e=False, overwrite_b=True
    )
    if info != 0:
        raise InputError("the temperatures cannot be worked out: check that every property is a plain number")
    return np.asarray(found).reshape(main.shape)


def run(
    press: Press, phases: Sequence[Phase], field: Field, *, probes: Sequence[Probe], watched: int | None = None
) -> History:
    """Go through the phases from a state.

    Parameters
    ----------
    press : Press
        The stack, cut into cells
    phases : sequence of Phase
        In order; durations may differ from cycle to cycle
    field : Field
        State at the start
    probes : sequence of Probe
        Places to watch
    watched : int, optional
        Layer whose mean temperature is wanted; the last if not given

    Returns
    -------
    history : History

    Notes
    -----
    Second order in step and cell. On the default mesh the temperatures are within 0.1 % of the span of the series
    solution of a slab from 0.1 s after a switch on.
    """
    state = field
    span = press.spans[len(press.spans) - 1 if watched is None else watched]
    share = press.width[:, span] / press.width[:, span].sum(axis=1, keepdims=True)
    began = np.zeros(press.cycles)
    times, seen, numbers, means = [], [], [], []
    heat_a = np.zeros((len(phases), press.cycles))
    heat_b = np.zeros((len(phases), press.cycles))
    stored = [state.heat.sum(axis=1)]
    for number, phase in enumerate(phases):
        march = _March(press, phase, began)
        if number == 0:
            times.append(began.copy())
            seen.append(march.seen(state, probes, began))
            numbers.append(0)
            means.append((share * state.temperature[:, span]).sum(axis=1))
        done = np.zeros(press.cycles)
        for done, reached, taken_a, taken_b in march.steps(state):
            state = reached
            heat_a[number] += taken_a
            heat_b[number] += taken_b
            times.append(began + done)
            seen.append(march.seen(state, probes, began + done))
            numbers.append(number)
            means.append((share * state.temperature[:, span]).sum(axis=1))
        began = began + done
        stored.append(state.heat.sum(axis=1))
    return History(
        time=np.array(times), probes=np.array(seen), phase=np.array(numbers), mean=np.array(means), heat_a=heat_a,
        heat_b=heat_b, stored=np.array(stored), field=state,
    )  # fmt: skip


def _fluid(side: Side, time: _Array) -> _Array:
    if callable(side.temperature):
        return side.temperature(time)
    return np.asarray(side.temperature + np.zeros_like(time))


def _spread(number: Number, cycles: int) -> _Array:
    return np.asarray(number + np.zeros(cycles))
