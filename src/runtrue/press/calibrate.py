r"""Fit the films and contacts of a press to the log of its thermocouples.

Every uncertain input has a Gaussian before the log is seen; the log sharpens what it can. The best fit is found by
Gauss-Newton on

.. math:: \sum \frac{(y - m(\theta))^2}{\sigma^2} + \sum \frac{\theta_i^2}{s_i^2}

and what is left unknown is the Gaussian of its curvature there; its limits are what is printed. Inputs that a log ties
to each other lie along a bent ridge, off which that Gaussian is too wide and askew; so what is foretold for other
cycles is worked with sets drawn from it and weighed anew by how well each predicts the log. What the log does not tell
stays as wide as it was, and is named. Offsets of the couples, the log's clock, the mould's start and the fluids are
fitted along, so that they cannot be taken for films.

References
----------
.. [1] Tarantola, Inverse Problem Theory, 2005, 3.4 (Gauss-Newton with a Gaussian prior); JCGM 101:2008, 6.4.
.. [2] Rubin, in Bernardo et al., Bayesian Statistics 3, 1988, 395 (sampling, importance, resampling; memory).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from runtrue.errors import InputError
from runtrue.press.conduction import DEFAULT_MESH, ROUGH_MESH, Field, Mesh, Press, Probe, run
from runtrue.press.cycle import Recipe, cycles_of, pieces, settle, varied
from runtrue.press.layers import Phase, Side
from runtrue.press.materials import Number

_Array = NDArray[np.float64]
U95_PER_DEVIATION = 1.959963984540054
NOT_TOLD = 0.9
"""An input whose spread shrinks by less than a tenth is not told by the log; our choice."""
LEAST_SCATTER = 0.02
"""No thermocouple is read better [K]; our choice."""
DRAWS = 400
"""Sets of inputs that are kept of a press."""
TOGETHER = 0.8
"""Two inputs whose errors go together so closely cannot be told apart; our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """What was recorded: times [s] since the press closed, temperatures [K] by place, fluids beside the press [K].

    ``couples`` holds one column for each probe; ``steam`` and ``water`` are None where not logged.
    """

    time: _Array
    couples: dict[str, _Array]
    steam: _Array | None = None
    water: _Array | None = None


COUPLES = ("die_face_a", "die_face_b", "stamper_face_a", "stamper_face_b", "mid_plane")
"""Places a log may hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """Half-widths at 95 % before the log is seen, of what is fitted along: offset of a couple [K], the clock [s], the
    mould's start [K], steam and water as logged [K].
    """

    couple: float = 1.5
    clock: float = 1.0
    mould: float = 10.0
    fluid: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What is known of the press's inputs after a log: means and covariance of ln factors, in the order of ``names``.

    ``dof`` of the scatter they were found with; ``draws`` are sets of inputs that are equally likely after the log,
    (sets, names).
    """

    names: tuple[str, ...]
    mean: _Array
    covariance: _Array
    dof: float
    draws: _Array

    def half_width(self) -> _Array:
        """95 % half-widths, by Student's t."""
        return np.asarray(float(stdtrit(self.dof, 0.975)) * np.sqrt(np.diag(self.covariance)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A fitted press. ``before`` are the half-widths before the log; ``told`` which inputs the log sharpened.

    ``apart`` are pairs that cannot be told apart; ``scatter`` [K] of a reading about the fit, ``hang`` the correlation
    of neighbouring residuals; ``predicted`` [K] beside the log, by place; ``along`` the best value of what was fitted
    along, by name.
    """

    posterior: Posterior
    before: tuple[float, ...]
    told: tuple[bool, ...]
    apart: tuple[tuple[str, str], ...]
    scatter: float
    hang: float
    predicted: dict[str, _Array]
    along: dict[str, float]
    iterations: int


def inputs_to_fit(recipe: Recipe, u95: dict[str, float]) -> dict[str, float]:
    """Inputs of the press, not of one cycle, with their half-widths; films of either half where there are two."""
    found: dict[str, float] = {}
    fluids = {phase.fluid for phase in recipe.phases}
    for name in ("steam_film", "water_film"):
        if name.partition("_")[0] in fluids and name in u95:
            found |= {name: u95[name]} if recipe.mirror else {f"{name}_a": u95[name], f"{name}_b": u95[name]}
    for name in ("back_contact", "face_contact", "compound_conductivity", "compound_heat"):
        if name in u95:
            found[name] = u95[name]
    return found


def couple_probe(recipe: Recipe, place: str) -> Probe:
    """Where a couple sits; raises ``InputError`` for one of half b in a press whose halves are one."""
    if place not in COUPLES:
        raise InputError(f"place '{place}' is unknown; known are {', '.join(COUPLES)}: choose one of them")
    if place == "mid_plane":
        return Probe(layer=recipe.compound, at=1.0 if recipe.mirror else 0.5)
    layer = recipe.die if place.startswith("die") else recipe.stamper
    if place.endswith("_a") or recipe.mirror:
        return Probe(layer=layer, at=1.0)
    return Probe(layer=recipe.half_b(layer), at=0.0)


class _Model:
    """The log as the recipe predicts it, for many sets of inputs at once."""

    def __init__(self, recipe: Recipe, log: Log, u95: dict[str, float], doubts: Doubts) -> None:
        self.recipe, self.log = recipe, log
        self.places = tuple(log.couples)
        self.probes = [couple_probe(recipe, place) for place in self.places]
        whole = sum(float(np.mean(p.duration)) for p in recipe.phases)
        self.whole, self.cycles = whole, max(1, int(np.ceil((log.time[-1] - 1.5) / whole)))
        self.physical = inputs_to_fit(recipe, u95)
        along = {"clock": doubts.clock}
        if recipe.mould is not None:
            along |= {"mould": doubts.mould} if recipe.mirror else {"mould_a": doubts.mould, "mould_b": doubts.mould}
        along |= {f"{fluid}_temperature": doubts.fluid if logged is not None else u95.get(f"{fluid}_temperature", 2.0)
                  for fluid, logged in (("steam", log.steam), ("water", log.water))
                  if any(p.fluid == fluid for p in recipe.phases)}  # fmt: skip
        if "compound_start" in u95:
            along["compound_start"] = u95["compound_start"]
        along |= {f"offset {place}": doubts.couple for place in self.places}
        self.names = (*self.physical, *along)
        self.half = np.array([*self.physical.values(), *along.values()])
        self.deviation = self.half / U95_PER_DEVIATION
        self.observed = np.concatenate([log.couples[place] for place in self.places])
        self.from_mould = self._first_reading()

    def _first_reading(self) -> dict[str, float]:
        """Where the mould starts, by the couples of each half."""
        found: dict[str, float] = {}
        for half in ("a", "b"):
            column = self.log.couples.get(f"die_face_{half}")
            if column is not None:
                found[half] = float(column[0])
        return found

    def start_of(self, half: str) -> float:
        """First reading of a half, or of the other, or what the recipe says [K]."""
        given = float(np.mean(self.recipe.mould)) if self.recipe.mould is not None else 300.0
        return self.from_mould.get(half, next(iter(self.from_mould.values()), given))

    def predict(self, theta: _Array, mesh: Mesh) -> _Array:
        """Readings, (sets, readings), of inputs (sets, names)."""
        value = dict(zip(self.names, theta.T, strict=True))
        count = theta.shape[0]
        recipe = self._with_log()
        moved = {name: value[name] for name in (*self.physical, "steam_temperature", "water_temperature",
                                                "compound_start") if name in value}  # fmt: skip
        recipe = varied(recipe, moved)
        if recipe.mould is not None:
            recipe = self._with_mould(recipe, value)
        press = Press(recipe.stack, max(count, cycles_of(recipe)), mesh)
        time, seen = self._run(recipe, press)
        found = np.empty((count, self.observed.size))
        size = self.log.time.size
        for number, place in enumerate(self.places):
            for row in range(count):
                at = self.log.time - value["clock"][row]
                found[row, number * size : (number + 1) * size] = (
                    np.interp(at, time[:, row], seen[:, number, row]) + value[f"offset {place}"][row]
                )
        return found

    def _run(self, recipe: Recipe, press: Press) -> tuple[_Array, _Array]:
        field = settle(recipe, press)
        span = press.spans[recipe.compound]
        fresh = press.start(300.0 if recipe.mould is None else recipe.mould).temperature[:, span]
        times, seen, began = [], [], 0.0
        for number in range(self.cycles):
            if number:
                t = field.temperature.copy()
                t[:, span] = fresh
                field = press.field(t)
            history = run(press, recipe.phases, field, probes=self.probes)
            field = Field(temperature=history.field.temperature, heat=history.field.heat)
            times.append(history.time + began)
            seen.append(history.probes)
            began += self.whole
        return np.concatenate(times), np.concatenate(seen)

    def _with_mould(self, recipe: Recipe, value: dict[str, _Array]) -> Recipe:
        layers = list(recipe.stack.layers)
        for number, layer in enumerate(layers):
            if number == recipe.compound:
                continue
            half = "a" if number < recipe.compound else "b"
            offset = value["mould"] if recipe.mirror else value[f"mould_{half}"]
            layers[number] = replace(layer, initial=self.start_of(half) + offset)
        return replace(recipe, stack=replace(recipe.stack, layers=tuple(layers)))

    def _with_log(self) -> Recipe:
        """The recipe with the fluids as they were logged, each phase by the readings well inside it."""
        phases: list[Phase] = []
        began = 0.0
        for phase in self.recipe.phases:
            ends = began + float(np.mean(phase.duration))
            logged = {"steam": self.log.steam, "water": self.log.water}.get(phase.fluid)
            read = None if logged is None else self._inside(logged, began, ends)
            if read is None:
                phases.append(phase)
            else:
                a, b = (Side(temperature=read, film=side.film) for side in (phase.a, phase.b))
                phases.append(replace(phase, a=a, b=b))
            began = ends
        return replace(self.recipe, phases=tuple(phases))

    def _inside(self, logged: _Array, began: float, ends: float) -> float | None:
        """Middle of the readings inside a phase, a second away from its ends; None where there is none."""
        time = self.log.time % self.whole
        chosen = (time > began + 1.0) & (time < ends - 1.0) & np.isfinite(logged)
        return float(np.median(logged[chosen])) if chosen.any() else None


def calibrate(
    recipe: Recipe,
    log: Log,
    u95: dict[str, float],
    *,
    doubts: Doubts | None = None,
    mesh: Mesh = DEFAULT_MESH,
    most: int = 15,
    proposals: int = 600,
    watch: Callable[[float], None] = lambda _share: None,
) -> Calibration:
    """Fit a press to a log.

    Parameters
    ----------
    recipe : Recipe
        The press as it is believed to be
    log : Log
        At least 10 readings of at least one couple
    u95 : dict of str to float
        Half-widths of the inputs before the log
    doubts : Doubts, optional
    mesh : Mesh
        For the prediction; sensitivities are worked on a rough one
    most : int
        Iterations
    proposals : int
        Sets drawn from the Gaussian, of which those that predict the log are kept
    watch : callable
        Told the share that is done

    Returns
    -------
    calibration : Calibration

    Notes
    -----
    Where neighbouring residuals hang together the scatter counts for that much more.
    """
    if not log.couples or log.time.size < 10:
        raise InputError("the log must hold at least 10 readings of at least one thermocouple; log a whole cycle")
    model = _Model(recipe, log, u95, doubts or Doubts())
    theta = np.zeros(len(model.names))
    fit = _Fit(theta=theta, predicted=model.predict(theta[np.newaxis], mesh)[0], scatter=1.0)
    number = 0
    for number in range(1, most + 1):
        watch(number / most)
        jacobian = _jacobian(model, fit.theta)
        fit = replace(fit, scatter=_scatter(model, fit, jacobian))
        better = _along(model, fit, _gauss_newton(model, fit, jacobian), mesh)
        moved = float(np.max(np.abs(better.theta - fit.theta) / model.deviation))
        fit = better
        if moved < 0.02:
            break
    jacobian = _jacobian(model, fit.theta)
    return _concluded(model, replace(fit, scatter=_scatter(model, fit, jacobian)), jacobian, number, proposals)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """Where the fit stands: inputs, readings predicted with them, standard deviation of a reading."""

    theta: _Array
    predicted: _Array
    scatter: float


def _concluded(model: _Model, fit: _Fit, jacobian: _Array, iterations: int, proposals: int) -> Calibration:
    hang = _hang(model.observed - fit.predicted, len(model.places))
    wide = fit.scatter * float(np.sqrt((1.0 + hang) / (1.0 - hang)))
    covariance = np.asarray(np.linalg.inv(jacobian.T @ jacobian / wide**2 + np.diag(model.deviation**-2)), np.float64)
    count, size = len(model.physical), model.log.time.size
    own = np.asarray(covariance[:count, :count], dtype=np.float64)
    deviation = np.sqrt(np.diag(own))
    correlation = own / np.outer(deviation, deviation)
    names = model.names[:count]
    dof = max(model.observed.size - len(model.names), 3)
    return Calibration(
        posterior=Posterior(
            names=names,
            mean=fit.theta[:count].copy(),
            covariance=own,
            dof=dof,
            draws=_weighed(model, fit, covariance, wide, proposals)[:, :count],
        ),
        before=tuple(float(h) for h in model.half[:count]),
        told=tuple(bool(d < NOT_TOLD * p) for d, p in zip(deviation, model.deviation, strict=False)),
        apart=tuple(
            (names[i], names[j]) for i in range(count) for j in range(i + 1, count) if abs(correlation[i, j]) > TOGETHER
        ),
        scatter=fit.scatter,
        hang=hang,
        predicted={place: fit.predicted[k * size : (k + 1) * size] for k, place in enumerate(model.places)},
        along={name: float(v) for name, v in zip(model.names[count:], fit.theta[count:], strict=True)},
        iterations=iterations,
    )


def _jacobian(model: _Model, theta: _Array) -> _Array:
    """Readings' slopes, (readings, names), by differences of a fiftieth of each spread, all in one batch."""
    steps = 0.02 * model.deviation
    sets = np.concatenate([theta[np.newaxis], theta + np.diag(steps)])
    found = model.predict(sets, ROUGH_MESH)
    return np.asarray(((found[1:] - found[0]) / steps[:, np.newaxis]).T)


def _gauss_newton(model: _Model, fit: _Fit, jacobian: _Array) -> _Array:
    curvature = jacobian.T @ jacobian / fit.scatter**2 + np.diag(model.deviation**-2)
    slope = jacobian.T @ (model.observed - fit.predicted) / fit.scatter**2 - fit.theta / model.deviation**2
    return np.asarray(np.linalg.solve(curvature, slope))


def _along(model: _Model, fit: _Fit, step: _Array, mesh: Mesh) -> _Fit:
    """Go the whole step, or the best share of it where the whole makes the fit worse."""

    def misfit(reading: _Array, at: _Array) -> float:
        off = (model.observed - reading) / fit.scatter
        return float((off**2).sum() + ((at / model.deviation) ** 2).sum())

    now = misfit(fit.predicted, fit.theta)
    for shares in (np.array([1.0]), np.array([0.5, 0.2, 0.05])):
        sets = fit.theta + shares[:, np.newaxis] * step
        found = model.predict(sets, mesh)
        misfits = [misfit(reading, at) for reading, at in zip(found, sets, strict=True)]
        best = int(np.argmin(misfits))
        if misfits[best] <= now:
            return replace(fit, theta=sets[best], predicted=found[best])
    return fit


def _scatter(model: _Model, fit: _Fit, jacobian: _Array) -> float:
    """Standard deviation of a reading; what the fit took away is given back."""
    residual = model.observed - fit.predicted
    weight = jacobian.T @ jacobian / fit.scatter**2
    used = float(np.trace(np.linalg.solve(weight + np.diag(model.deviation**-2), weight)))
    return max(float(np.sqrt((residual**2).sum() / max(residual.size - used, 3.0))), LEAST_SCATTER)


def _hang(residual: _Array, places: int) -> float:
    """Correlation of neighbouring residuals, 0 to 0.9; what pure noise would show by chance counts as none."""
    rows = residual.reshape(places, -1)
    whole = float((rows**2).sum())
    together = float((rows[:, 1:] * rows[:, :-1]).sum()) / whole if whole > 0.0 else 0.0
    chance = 2.0 / np.sqrt(residual.size)
    return min(together, 0.9) if together > chance else 0.0


def _weighed(model: _Model, fit: _Fit, covariance: _Array, wide: float, proposals: int) -> _Array:
    """Sets of all inputs drawn from the Gaussian, kept as often as the log makes them likely: (``DRAWS``, names)."""
    rng = np.random.default_rng(1)
    normal = rng.standard_normal((proposals, fit.theta.size))
    sets = fit.theta + normal @ np.linalg.cholesky(covariance).T
    # the rough mesh errs alike for all of them
    rough = fit.predicted - model.predict(fit.theta[np.newaxis], ROUGH_MESH)[0]
    weight = np.empty(proposals)
    for piece in pieces(proposals):
        off = (model.observed - model.predict(sets[piece], ROUGH_MESH) - rough) / wide
        weight[piece] = -0.5 * ((off**2).sum(axis=1) + ((sets[piece] / model.deviation) ** 2).sum(axis=1))
    weight += 0.5 * (normal**2).sum(axis=1)
    reached = np.cumsum(np.exp(weight - weight.max()))
    kept = np.searchsorted(reached, reached[-1] * (np.arange(DRAWS) + rng.random()) / DRAWS)
    return np.asarray(rng.permutation(sets[kept]))


def drawn_press(posterior: Posterior, count: int) -> dict[str, Number]:
    """Draws of the press's inputs as a log left them, taken round in turn."""
    found = np.resize(posterior.draws, (count, len(posterior.names)))
    return dict(zip(posterior.names, found.T, strict=True))
