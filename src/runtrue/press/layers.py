"""The layers heat goes through, from one fluid to the other or to the mid-plane, and what is done to them in time."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.press.materials import Material, Number

_Array = NDArray[np.float64]
Temperature = Number | Callable[[_Array], _Array]
"""A temperature [K], one for each cycle, or a function of the time since the cycle began ([s], one for each cycle)."""
SHRINK_WIDTH = 2.0
"""Range of skin temperature over which a contact opens [K]; our choice, so that it opens smoothly."""
PRESSURE_EXPONENT = 0.95
"""How a contact grows with pressure (Cooper, Mikic and Yovanovich 1969, conforming rough faces; memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer: matter, thickness [m], temperature at the start [K], None for that of the mould."""

    name: str
    material: Material
    thickness: Number
    initial: Number | None = None

    def __post_init__(self) -> None:
        """Refuse a layer that is none."""
        if not np.all(np.asarray(self.thickness) > 0.0):
            raise InputError(
                f"layer '{self.name}': thickness must be above 0 mm, got {np.min(self.thickness) * 1e3:g} mm"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """The joint of two layers [W/(m2 K)].

    ``opened`` holds once the skin (the inner side of the joint) has shrunk off, below ``opens_below`` [K]. With
    ``at_pressure`` [Pa] the conductance is that at this pressure and follows the press with its ``exponent``.
    """

    conductance: Number
    opened: Number | None = None
    opens_below: float | None = None
    at_pressure: float | None = None
    exponent: float = PRESSURE_EXPONENT

    def __post_init__(self) -> None:
        """Refuse a joint through which nothing can be worked out."""
        for number in (self.conductance, self.opened):
            if number is not None and not np.all(np.asarray(number) > 0.0):
                raise InputError(f"a contact must be above 0 W/(m2 K), got {np.min(number):g} W/(m2 K)")
        if (self.opened is None) is not (self.opens_below is None):
            raise InputError("a contact that opens needs both its conductance when open and the skin's temperature")

    @property
    def changes(self) -> bool:
        """Whether it depends on the skin's temperature."""
        return self.opened is not None

    def under(self, pressure: float | None) -> Number:
        """Conductance while closed, at a pressure of the press [Pa]."""
        if self.at_pressure is None or pressure is None:
            return self.conductance
        grown: Number = self.conductance * float((pressure / self.at_pressure) ** self.exponent)
        return grown

    def at(self, closed: Number, skin: _Array) -> _Array:
        """Conductance at skin temperatures [K], (cycles,); ``closed`` from :meth:`under`."""
        if self.opened is None or self.opens_below is None:
            return np.asarray(closed + np.zeros_like(skin))
        share = np.clip((skin - self.opens_below) / SHRINK_WIDTH + 0.5, 0.0, 1.0)
        share = share * share * (3.0 - 2.0 * share)
        return np.asarray(self.opened + (closed - self.opened) * share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Layers from fluid a inward with the joint after each but the last.

    ``mirror``: the last layer ends at the mid-plane, which no heat crosses; else at fluid b.
    """

    layers: tuple[Layer, ...]
    contacts: tuple[Contact, ...]
    mirror: bool

    def __post_init__(self) -> None:
        """Refuse layers and joints that do not belong together."""
        if not self.layers:
            raise InputError("the press needs at least one layer")
        if len(self.contacts) != len(self.layers) - 1:
            raise InputError(f"{len(self.layers)} layers have {len(self.layers) - 1} joints, got {len(self.contacts)}")

    def place(self, name: str) -> int:
        """Number of the first layer of this name, from 0."""
        for number, layer in enumerate(self.layers):
            if layer.name == name:
                return number
        raise InputError(f"layer '{name}' is missing; there are {', '.join(x.name for x in self.layers)}: add it")

    def with_layer(self, number: int, **changes: object) -> "Stack":
        """The same stack with one layer changed."""
        layers = list(self.layers)
        layers[number] = replace(layers[number], **changes)  # type: ignore[arg-type]
        return replace(self, layers=tuple(layers))

    def with_contact(self, number: int, **changes: object) -> "Stack":
        """The same stack with one joint changed."""
        contacts = list(self.contacts)
        contacts[number] = replace(contacts[number], **changes)  # type: ignore[arg-type]
        return replace(self, contacts=tuple(contacts))


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A fluid at one end: its temperature and its film [W/(m2 K)]; a film of 0 lets no heat through."""

    temperature: Temperature
    film: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch of the cycle: which fluid, how long [s], what the ends see, how hard the press holds [Pa].

    With ``parted`` (number of the joint, its conductance [W/(m2 K)]) joints stand open, as when the record has left.
    """

    name: str
    fluid: str
    duration: Number
    a: Side
    b: Side
    pressure: float | None = None
    parted: tuple[tuple[int, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a phase without time."""
        if not np.all(np.asarray(self.duration) > 0.0):
            raise InputError(f"phase '{self.name}': duration must be above 0 s, got {np.min(self.duration):g} s")


def cell_widths(layer: Layer, *, fine: float, growth: float, coarsest: float, two_ends: bool) -> _Array:
    """Widths of the cells of a layer as shares of its thickness: small at its faces, growing inward.

    The first is ``fine`` times the way that heat diffuses in 0.1 s, none is above ``coarsest`` of the run from a face
    to the middle. With ``two_ends`` both faces are fine, else the far end is a plane of symmetry.
    """
    thickness = float(np.mean(layer.thickness))
    first = fine * float(np.sqrt(layer.material.diffusivity * 0.1))
    run = thickness / 2.0 if two_ends else thickness
    most = coarsest * run
    widths: list[float] = []
    width = first
    while sum(widths) < run:
        widths.append(width)
        width = min(width * growth, most)
    half = np.array(widths) / sum(widths)
    if not two_ends:
        return half
    return np.concatenate([half, half[::-1]]) / 2.0
