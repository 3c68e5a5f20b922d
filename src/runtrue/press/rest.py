r"""When the middle of a pile has cooled: along the pile layer by layer, across it as a cylinder in the air.

The two ways out are multiplied (product solution): exact for one matter throughout that starts at one temperature, a
good measure for a pile of thin layers.

.. math:: \theta = \theta_{along}(t) \; \theta_{across}(t), \quad
          \theta_{across} = \sum_n C_n e^{-z_n^2 Fo}, \quad z_n J_1(z_n) = Bi J_0(z_n), \quad
          C_n = \frac{2}{z_n} \frac{J_1(z_n)}{J_0^2(z_n) + J_1^2(z_n)}

References
----------
.. [1] Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 7.7 (cylinder) and 1.15 (products).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from runtrue.errors import InputError
from runtrue.press.conduction import Mesh, Press, Probe, run
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import Material, Number

_Array = NDArray[np.float64]
PILE_MESH = Mesh(fine=30.0, growth=1.5, coarsest=1.0, first=5.0, step_growth=1.3, longest=900.0, tolerance=1e-2)
"""Two cells or so to a record, minutes to a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """Records in a pile: how many, their matter, thickness and diameter [m], joint between neighbours [W/(m2 K)].

    ``plate_every`` records lies a plate; 0 for none. Numbers may hold many draws.
    """

    records: int
    material: Material
    thickness: float
    diameter: float
    joint: Number
    plate_every: int = 0
    plate: Layer | None = None

    def __post_init__(self) -> None:
        """Refuse a pile that is none."""
        if not 1 <= self.records <= 500:
            raise InputError(f"records must be 1 to 500 in a pile, got {self.records}")
        if (self.plate_every > 0) is not (self.plate is not None):
            raise InputError("plate_every and the plate go together; give both or none")


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Air round the pile: temperature [K], film on sides and top, and what the foot stands on [W/(m2 K)]."""

    temperature: Number
    film: Number
    foot: Number


def cylinder_roots(biot: float, count: int) -> tuple[_Array, _Array]:
    """Roots and constants of the series for the axis of a cylinder.

    Examples
    --------
    >>> z, c = cylinder_roots(1.0, 1)
    >>> float(z[0]), float(c[0])
    (1.2558, 1.2071)
    """
    if not biot > 0.0:
        raise InputError(f"Biot number must be above 0, got {biot:g}")
    low, high = np.concatenate([[0.0], jn_zeros(1, count - 1)]) if count > 1 else np.array([0.0]), jn_zeros(0, count)
    z = np.array([brentq(lambda x: x * j1(x) - biot * j0(x), a + 1e-12, b) for a, b in zip(low, high, strict=True)])
    return z, np.asarray(2.0 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2))


def across(time: _Array, *, film: float, radius: float, conductivity: float, diffusivity: float) -> _Array:
    """What is left of the temperature difference on the axis of a long cylinder [-], at times [s]."""
    z, c = cylinder_roots(film * radius / conductivity, 30)
    fourier = diffusivity * np.asarray(time, dtype=np.float64) / radius**2
    return np.asarray(np.minimum(np.exp(-np.multiply.outer(fourier, z**2)) @ c, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """Temperature of the hottest place of a pile over time: (steps,) [s] and (steps, draws) [K]."""

    time: _Array
    hottest: _Array


def cool(pile: Pile, room: Room, *, start: Number, seconds: float, mesh: Mesh = PILE_MESH) -> Cooling:
    """Follow a pile laid at one temperature [K].

    Parameters
    ----------
    pile : Pile
    room : Room
    start : float or ndarray
        [K]
    seconds : float
        How long

    Returns
    -------
    cooling : Cooling

    Notes
    -----
    All records count as laid at once, so a pile that grew slowly is cooler than this.
    """
    layers, middle = _layers(pile)
    count = max((int(v.size) for v in (pile.joint, room.temperature, room.film, room.foot, start)
                 if isinstance(v, np.ndarray)), default=1)  # fmt: skip
    stack = Stack(layers=layers, contacts=tuple(Contact(conductance=pile.joint) for _ in layers[1:]), mirror=False)
    press = Press(stack, count, mesh)
    phase = Phase(name="rest", fluid="air", duration=seconds, a=Side(temperature=room.temperature, film=room.film),
                  b=Side(temperature=room.temperature, film=room.foot))  # fmt: skip
    probes = [Probe(layer=k, at=0.5) for k in middle]
    seen = run(press, [phase], press.start(start), probes=probes, watched=middle[0])
    along = seen.probes.max(axis=1)
    k_plane, alpha = _in_plane(layers)
    films, air = (np.asarray(v + np.zeros(count)) for v in (room.film, room.temperature))
    time = seen.time[:, 0]
    out = np.stack(
        [
            across(time, film=float(f), radius=pile.diameter / 2.0, conductivity=k_plane, diffusivity=alpha)
            for f in films
        ],
        axis=1,
    )
    return Cooling(time=time, hottest=air + (along - air) * out)


def _layers(pile: Pile) -> tuple[tuple[Layer, ...], list[int]]:
    """Layers from the top down, and the numbers of the records."""
    layers: list[Layer] = []
    records: list[int] = []
    for number in range(pile.records):
        if pile.plate is not None and number and number % pile.plate_every == 0:
            layers.append(pile.plate)
        records.append(len(layers))
        layers.append(Layer(name="record", material=pile.material, thickness=pile.thickness))
    return tuple(layers), records


def _in_plane(layers: tuple[Layer, ...]) -> tuple[float, float]:
    """Conductivity and diffusivity of the layers side by side."""
    thickness = np.array([float(np.mean(x.thickness)) for x in layers])
    k = np.array([x.material.conductivity.points[0][1] for x in layers])
    c = np.array([x.material.density * x.material.specific_heat.points[0][1] for x in layers])
    mean = float((k * thickness).sum() / thickness.sum())
    return mean, mean / float((c * thickness).sum() / thickness.sum())


def when_below(cooling: Cooling, temperature: float) -> _Array:
    """When the hottest place has come below a temperature for good, (draws,) [s]; NaN where it has not."""
    from runtrue.press.cycle import first_below

    time = np.repeat(cooling.time[:, np.newaxis], cooling.hottest.shape[1], axis=1)
    return first_below(time, cooling.hottest, temperature, after=np.zeros(cooling.hottest.shape[1]))
