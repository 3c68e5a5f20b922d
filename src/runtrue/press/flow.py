r"""Squeeze flow of the compound between two discs, and the skin that freezes on the stamper meanwhile.

h is the whole gap, R the radius, v = -dh/dt; no slip, thin film, no inertia. A hot biscuit spreads in milliseconds at
press force, so what closes is set by the ram; a groove that does not fill is a race with the frozen skin. These
figures are trends: odds of non-fill come only from the plant's own counts.

References
----------
.. [1] Stefan, Sitzungsber. Akad. Wiss. Wien 69 (1874) 713; Reynolds, Phil. Trans. 177 (1886) 157 (Newtonian).
.. [2] Dienes and Klemm, J. Appl. Phys. 17 (1946) 458 (constant volume).
.. [3] Scott, Trans. Inst. Rubber Ind. 7 (1931) 169 (power law). Texts that use half the gap print other constants.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError

_Array = NDArray[np.float64]
GAS = 8.31446261815324
"""Molar gas constant [J/(mol K)], exact (SI 2019)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLaw:
    """Shear stress K (shear rate)^n: consistency [Pa s^n] and exponent; n = 1 is Newtonian with viscosity K."""

    consistency: float
    exponent: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what does not flow."""
        if not self.consistency > 0.0 or not 0.0 < self.exponent <= 2.0:
            raise InputError(
                f"consistency must be above 0 Pa s^n and the exponent above 0 and up to 2, got {self.consistency:g} "
                f"and {self.exponent:g}"
            )

    def shifted(self, factor: float) -> "PowerLaw":
        """At another temperature: by time-temperature shift a_T the consistency goes as a_T^n.

        Examples
        --------
        >>> PowerLaw(consistency=8e3, exponent=0.35).shifted(0.5).consistency
        6276.67
        """
        return replace(self, consistency=self.consistency * factor**self.exponent)


def carreau(rate: ArrayLike, *, zero: float, infinite: float = 0.0, relaxation: float, exponent: float) -> _Array:
    r"""Carreau's viscosity.

    .. math:: \eta = \eta_\infty + (\eta_0 - \eta_\infty) (1 + (\lambda \dot\gamma)^2)^{(n-1)/2}

    Parameters
    ----------
    rate : array_like
        Shear rate, 0 or more [1/s]
    zero, infinite : float
        Viscosity at rest and at the highest rates [Pa s]
    relaxation : float
        lambda [s]
    exponent : float
        n [-]

    Returns
    -------
    viscosity : ndarray
        [Pa s]

    Examples
    --------
    >>> float(carreau(10.0, zero=1e4, relaxation=1.0, exponent=0.35))
    2231.493

    References
    ----------
    .. [1] Carreau, Trans. Soc. Rheol. 16 (1972) 99.
    """
    g = np.asarray(rate, dtype=np.float64)
    return np.asarray(infinite + (zero - infinite) * (1.0 + (relaxation * g) ** 2) ** ((exponent - 1.0) / 2.0))


def arrhenius_shift(temperature: float, reference: float, activation: float) -> float:
    r"""Shift factor of the viscosity from one temperature to another, well above the glass transition.

    .. math:: a_T = \exp\left[ \frac{E}{R} \left( \frac1T - \frac1{T_0} \right) \right]

    Parameters
    ----------
    temperature, reference : float
        [K]
    activation : float
        E [J/mol]

    Returns
    -------
    factor : float
        [-]

    Examples
    --------
    >>> arrhenius_shift(463.15, 453.15, 80e3)
    0.632263

    References
    ----------
    .. [1] Any text on polymer melts (Arrhenius, Eyring).
    """
    return exp(activation / GAS * (1.0 / temperature - 1.0 / reference))


def wlf_shift(above: float, *, c1: float = 17.44, c2: float = 51.6) -> float:
    r"""Shift factor near the glass transition, for Tg to Tg + 100 K.

    .. math:: \log_{10} a_T = \frac{-c_1 (T - T_g)}{c_2 + T - T_g}

    Parameters
    ----------
    above : float
        T - Tg, or T less the reference that c1 and c2 belong to; above -c2 [K]
    c1, c2 : float
        Universal values about Tg; 8.86 and 101.6 about Tg + 50 K

    Returns
    -------
    factor : float
        [-]

    Examples
    --------
    >>> from math import log10
    >>> log10(wlf_shift(50.0)), log10(wlf_shift(-50.0, c1=8.86, c2=101.6))
    (-8.582677, 8.585272)

    References
    ----------
    .. [1] Williams, Landel and Ferry, J. Am. Chem. Soc. 77 (1955) 3701.
    """
    if not above > -c2:
        raise InputError(f"the temperature must be above the reference less {c2:g} K, got {above:g} K")
    return float(10.0 ** (-c1 * above / (c2 + above)))


def squeeze_force(fluid: PowerLaw, *, radius: float, gap: float, speed: float) -> float:
    r"""Force that closes a gap filled to the rim (Scott; Stefan for n = 1).

    .. math:: F = \frac{2 \pi K}{n+3} \left( \frac{2n+1}{n} \right)^n \frac{R^{n+3} v^n}{h^{2n+1}}

    Parameters
    ----------
    fluid : PowerLaw
    radius, gap : float
        [m]
    speed : float
        At which the gap closes [m/s]

    Returns
    -------
    force : float
        [N]

    Examples
    --------
    >>> squeeze_force(PowerLaw(consistency=1000.0), radius=0.1, gap=2e-3, speed=1e-3)
    58904.862
    >>> squeeze_force(PowerLaw(consistency=1000.0, exponent=0.5), radius=0.05, gap=1e-3, speed=1e-4)
    1003.545
    """
    _above_zero(radius=radius, gap=gap, speed=speed)
    n = fluid.exponent
    shear = 2.0 * pi * fluid.consistency / (n + 3.0) * ((2.0 * n + 1.0) / n) ** n
    return float(shear * radius ** (n + 3.0) * speed**n / gap ** (2.0 * n + 1.0))


def squeeze_time(fluid: PowerLaw, *, radius: float, force: float, start: float, end: float) -> float:
    r"""Time to close from one gap to another at constant force, the gap filled to the rim.

    .. math:: h^{-p} - h_0^{-p} = p C t, \quad p = \frac{n+1}{n}, \quad
              C = \frac{n}{2n+1} \left[ \frac{F (n+3)}{2 \pi K R^{n+3}} \right]^{1/n}

    Parameters
    ----------
    fluid : PowerLaw
    radius, start, end : float
        start above end [m]
    force : float
        [N]

    Returns
    -------
    time : float
        [s]

    Examples
    --------
    >>> squeeze_time(PowerLaw(consistency=100.0), radius=0.05, force=100.0, start=1e-3, end=0.5e-3)
    44.17865
    """
    _closing(start, end)
    _above_zero(radius=radius, force=force)
    n = fluid.exponent
    p = (n + 1.0) / n
    c = n / (2.0 * n + 1.0) * (force * (n + 3.0) / (2.0 * pi * fluid.consistency * radius ** (n + 3.0))) ** (1.0 / n)
    return float((end**-p - start**-p) / (p * c))


def spread_time(fluid: PowerLaw, *, volume: float, force: float, start: float, end: float) -> float:
    r"""Time to close at constant force while the compound has not reached the rim: its volume stays, its radius grows.

    .. math:: h^{1-m} - h_0^{1-m} = (m-1) D t, \quad m = \frac{5(n+1)}{2n}, \quad
              D = \frac{n}{2n+1} \left[ \frac{F (n+3)}{2 \pi K} \right]^{1/n}
                  \left( \frac{\pi}{V} \right)^{(n+3)/(2n)}

    Parameters
    ----------
    fluid : PowerLaw
    volume : float
        [m3]
    force : float
        [N]
    start, end : float
        Gaps, start above end [m]

    Returns
    -------
    time : float
        [s]

    Examples
    --------
    >>> spread_time(PowerLaw(consistency=1e4), volume=120e-6, force=1e6, start=20e-3, end=1.6863914e-3)
    2.125144
    """
    _closing(start, end)
    _above_zero(volume=volume, force=force)
    n = fluid.exponent
    m = 5.0 * (n + 1.0) / (2.0 * n)
    d = (
        n / (2.0 * n + 1.0) * (force * (n + 3.0) / (2.0 * pi * fluid.consistency)) ** (1.0 / n)
        * (pi / volume) ** ((n + 3.0) / (2.0 * n))
    )  # fmt: skip
    return float((end ** (1.0 - m) - start ** (1.0 - m)) / ((m - 1.0) * d))


def closing_speed(fluid: PowerLaw, *, volume: float, rim: float, force: float, gap: float, free: float) -> float:
    """Speed at which the press closes [m/s], the compound ending at its own edge or at the rim [m].

    ``free`` is the part of the gap that still flows, less than ``gap`` by the frozen skins; at 0 nothing moves.
    """
    if free <= 0.0:
        return 0.0
    n = fluid.exponent
    radius = min(sqrt(volume / (pi * gap)), rim)
    return float(
        (force * (n + 3.0) * free ** (2.0 * n + 1.0)
         / (2.0 * pi * fluid.consistency * radius ** (n + 3.0))) ** (1.0 / n) * n / (2.0 * n + 1.0)
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """How a press closes on a biscuit: times [s], gaps [m], thickness of one frozen skin [m]; whether it got there."""

    time: _Array
    gap: _Array
    skin: _Array
    reached: bool


def close(
    fluid: PowerLaw,
    *,
    volume: float,
    rim: float,
    force: float,
    start: float,
    end: float,
    ram: float,
    skin: Callable[[float], float],
    until: float = 5.0,
) -> Closing:
    """Close on a biscuit with a ram of limited speed until there, or until the skins that freeze on both faces meet.

    Parameters
    ----------
    fluid : PowerLaw
        Of what still flows
    volume : float
        Of the biscuit [m3]
    rim, start, end : float
        Radius of the mould, gaps [m]
    force : float
        [N]
    ram : float
        Highest speed of the ram [m/s]
    skin : callable
        Thickness of the frozen skin on one face [m] at a time since the touch [s]
    until : float
        Give up after [s]

    Returns
    -------
    closing : Closing
        Relative error below 1e-6; a trend, not odds

    Examples
    --------
    >>> done = close(PowerLaw(consistency=1e4), volume=120e-6, rim=1.0, force=1e6, start=20e-3, end=1.6863914e-3,
    ...              ram=1e9, skin=lambda t: 0.0)
    >>> float(done.time[-1])
    2.125144
    """
    from scipy.integrate import solve_ivp

    _closing(start, end)
    _above_zero(volume=volume, rim=rim, force=force, ram=ram)

    def slope(t: float, state: _Array) -> list[float]:
        # in the log of the gap, so that a relative error is an absolute one
        gap = exp(state[0])
        free = gap - 2.0 * skin(t)
        speed = closing_speed(fluid, volume=volume, rim=rim, force=force, gap=gap, free=free)
        return [-min(speed, ram) / gap]

    def there(_t: float, state: _Array) -> float:
        return float(state[0] - np.log(end))

    def met(t: float, state: _Array) -> float:
        return exp(state[0]) - 2.0 * skin(t)

    there.terminal = met.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        slope, (0.0, until), [np.log(start)], method="LSODA", events=(there, met), rtol=1e-9, atol=1e-11,
        max_step=until / 20.0,
    )  # fmt: skip
    skins, gap = np.array([skin(float(t)) for t in found.t]), np.exp(found.y[0])
    return Closing(time=found.t, gap=gap, skin=skins, reached=bool(gap[-1] <= end * (1.0 + 1e-6)))


def frozen_skin(
    time: ArrayLike, *, melt: float, wall: float, solid: float, diffusivity: float, resistance: float = 0.0
) -> _Array:
    r"""Thickness of the frozen skin on a wall that stays at its temperature, no latent heat.

    .. math:: d = 2 \sqrt{\alpha t} \; \operatorname{erf}^{-1} \frac{T_g - T_w}{T_m - T_w} - \delta

    Parameters
    ----------
    time : array_like
        Since the melt touched [s]
    melt, wall, solid : float
        Temperatures of melt and wall, and the one below which nothing flows [K]
    diffusivity : float
        Of the compound [m2/s]
    resistance : float
        Contact's resistance as a layer of compound, k/h [m]; taken off the skin, which is good once the skin is
        thicker than it

    Returns
    -------
    skin : ndarray
        [m]; 0 where the wall is above ``solid``

    Examples
    --------
    >>> round(1e6 * float(frozen_skin(0.102, melt=423.15, wall=313.15, solid=345.65, diffusivity=0.0852e-6)), 1)
    50.0

    References
    ----------
    .. [1] Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 2.4 (half space, step at the wall).
    """
    from scipy.special import erfinv

    t = np.asarray(time, dtype=np.float64)
    if not melt > max(wall, solid):
        raise InputError("the melt must be hotter than the wall and than the temperature at which it freezes")
    if solid <= wall:
        return np.zeros_like(t)
    reach = 2.0 * np.sqrt(diffusivity * t) * float(erfinv((solid - wall) / (melt - wall)))
    return np.asarray(np.maximum(reach - resistance, 0.0))


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(f"{name} must be above 0, got {value:g}")


def _closing(start: float, end: float) -> None:
    if not start > end > 0.0:
        raise InputError(f"the gap must close: start above end above 0, got {start * 1e3:g} and {end * 1e3:g} mm")
