r"""Water and steam by IAPWS-IF97, regions 1 (water), 2 (steam) and 4 (saturation).

Pressures are absolute here, in pascal. What a plant reads off its gauge is another quantity with another name:
:func:`absolute_pressure` crosses over, and taking 7 bar gauge for 7 bar absolute costs 5.5 K.

The formulation: IAPWS, Revised Release on the IAPWS Industrial Formulation 1997 for the Thermodynamic Properties of
Water and Steam (IAPWS R7-97(2012)), equations 7, 15 to 17, 30 and 31. Coefficients written from memory; the printed
verification values of tables 5, 15, 35 and 36 and an independent library hold them in the tests.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError

_Array = NDArray[np.float64]

ATMOSPHERE = 101_325.0
"""Standard atmosphere [Pa], exact (ISO 2533)."""
GAS_CONSTANT = 461.526
"""Specific gas constant of water [J/(kg K)], IF97 equation 1."""
COLDEST, HOTTEST = 273.15, 623.15
"""Range of saturation in which regions 1 and 2 meet region 4 [K]."""

_R1 = np.array([
    (0, -2, 0.14632971213167), (0, -1, -0.84548187169114), (0, 0, -0.37563603672040e1),
    (0, 1, 0.33855169168385e1), (0, 2, -0.95791963387872), (0, 3, 0.15772038513228),
    (0, 4, -0.16616417199501e-1), (0, 5, 0.81214629983568e-3), (1, -9, 0.28319080123804e-3),
    (1, -7, -0.60706301565874e-3), (1, -1, -0.18990068218419e-1), (1, 0, -0.32529748770505e-1),
    (1, 1, -0.21841717175414e-1), (1, 3, -0.52838357969930e-4), (2, -3, -0.47184321073267e-3),
    (2, 0, -0.30001780793026e-3), (2, 1, 0.47661393906987e-4), (2, 3, -0.44141845330846e-5),
    (2, 17, -0.72694996297594e-15), (3, -4, -0.31679644845054e-4), (3, 0, -0.28270797985312e-5),
    (3, 6, -0.85205128120103e-9), (4, -5, -0.22425281908000e-5), (4, -2, -0.65171222895601e-6),
    (4, 10, -0.14341729937924e-12), (5, -8, -0.40516996860117e-6), (8, -11, -0.12734301741641e-8),
    (8, -6, -0.17424871230634e-9), (21, -29, -0.68762131295531e-18), (23, -31, 0.14478307828521e-19),
    (29, -38, 0.26335781662795e-22), (30, -39, -0.11947622640071e-22), (31, -40, 0.18228094581404e-23),
    (32, -41, -0.93537087292458e-25),
])  # fmt: skip
_R2_IDEAL = np.array([
    (0, -0.96927686500217e1), (1, 0.10086655968018e2), (-5, -0.56087911283020e-2), (-4, 0.71452738081455e-1),
    (-3, -0.40710498223928), (-2, 0.14240819171444e1), (-1, -0.43839511319450e1), (2, -0.28408632460772),
    (3, 0.21268463753307e-1),
])  # fmt: skip
_R2 = np.array([
    (1, 0, -0.17731742473213e-2), (1, 1, -0.17834862292358e-1), (1, 2, -0.45996013696365e-1),
    (1, 3, -0.57581259083432e-1), (1, 6, -0.50325278727930e-1), (2, 1, -0.33032641670203e-4),
    (2, 2, -0.18948987516315e-3), (2, 4, -0.39392777243355e-2), (2, 7, -0.43797295650573e-1),
    (2, 36, -0.26674547914087e-4), (3, 0, 0.20481737692309e-7), (3, 1, 0.43870667284435e-6),
    (3, 3, -0.32277677238570e-4), (3, 6, -0.15033924542148e-2), (3, 35, -0.40668253562649e-1),
    (4, 1, -0.78847309559367e-9), (4, 2, 0.12790717852285e-7), (4, 3, 0.48225372718507e-6),
    (5, 7, 0.22922076337661e-5), (6, 3, -0.16714766451061e-10), (6, 16, -0.21171472321355e-2),
    (6, 35, -0.23895741934104e2), (7, 0, -0.59059564324270e-17), (7, 11, -0.12621808899101e-5),
    (7, 25, -0.38946842435739e-1), (8, 8, 0.11256211360459e-10), (8, 36, -0.82311340897998e1),
    (9, 13, 0.19809712802088e-7), (10, 4, 0.10406965210174e-18), (10, 10, -0.10234747095929e-12),
    (10, 14, -0.10018179379511e-8), (16, 29, -0.80882908646985e-10), (16, 50, 0.10693031879409),
    (18, 57, -0.33662250574171), (20, 20, 0.89185845355421e-24), (20, 35, 0.30629316876232e-12),
    (20, 48, -0.42002467698208e-5), (21, 21, -0.59056029685639e-25), (22, 53, 0.37826947613457e-5),
    (23, 39, -0.12768608934681e-14), (24, 26, 0.73087610595061e-28), (24, 40, 0.55414715350778e-16),
    (24, 58, -0.94369707241210e-6),
])  # fmt: skip
_R4 = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Specific volume [m3/kg], enthalpy and internal energy [J/kg], entropy and isobaric heat [J/(kg K)], speed of
    sound [m/s].
    """

    volume: float
    enthalpy: float
    energy: float
    entropy: float
    heat: float
    sound: float


def absolute_pressure(gauge: float, *, atmosphere: float = ATMOSPHERE) -> float:
    """Absolute pressure of a gauge reading.

    Parameters
    ----------
    gauge : float
        What the gauge shows, above the atmosphere [Pa]
    atmosphere : float
        Of the place [Pa]; lower in the mountains, by some 1.2 kPa each 100 m

    Returns
    -------
    pressure : float
        Absolute [Pa]; raises ``InputError`` when it would not be above 0

    Examples
    --------
    >>> absolute_pressure(7e5)
    801325.0
    """
    if not gauge + atmosphere > 0.0:
        raise InputError(f"gauge pressure must be above {-atmosphere / 1e5:.5f} bar, got {gauge / 1e5:g} bar")
    return gauge + atmosphere


def saturation_pressure(temperature: ArrayLike) -> _Array:
    """Pressure at which water boils (IF97 equation 30).

    Parameters
    ----------
    temperature : array_like
        273.15 to 647.096 [K]; raises ``InputError`` outside

    Returns
    -------
    pressure : ndarray
        Absolute [Pa]

    Examples
    --------
    >>> float(saturation_pressure(500.0))
    2638897.76

    References
    ----------
    .. [1] IAPWS R7-97(2012), table 35.
    """
    t = np.asarray(temperature, dtype=np.float64)
    if not np.all((t >= 273.15) & (t <= 647.096)):
        raise InputError("temperature must be 0 to 373.946 degC for saturated water (IAPWS-IF97, region 4)")
    n = _R4
    theta = t + n[8] / (t - n[9])
    a = theta**2 + n[0] * theta + n[1]
    b = n[2] * theta**2 + n[3] * theta + n[4]
    c = n[5] * theta**2 + n[6] * theta + n[7]
    return np.asarray(1e6 * (2.0 * c / (-b + np.sqrt(b * b - 4.0 * a * c))) ** 4)


def saturation_temperature(pressure: ArrayLike) -> _Array:
    """Temperature of saturated steam (IF97 equation 31).

    Parameters
    ----------
    pressure : array_like
        Absolute, 611.213 Pa to 22.064 MPa [Pa]; raises ``InputError`` outside

    Returns
    -------
    temperature : ndarray
        [K]

    Examples
    --------
    >>> float(saturation_temperature(1e6))
    453.035632

    References
    ----------
    .. [1] IAPWS R7-97(2012), table 36.
    """
    p = np.asarray(pressure, dtype=np.float64)
    if not np.all((p >= 611.213) & (p <= 22.064e6)):
        raise InputError("pressure must be 0.00611213 to 220.64 bar absolute for saturated steam (IAPWS-IF97)")
    n = _R4
    beta = (p / 1e6) ** 0.25
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    return np.asarray((n[9] + d - np.sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) / 2.0)


def dew_point(pressure: float, *, air_volume_share: float = 0.0, air_mass_share: float = 0.0) -> float:
    r"""Temperature at which steam that holds air condenses: that of the steam's own partial pressure (Dalton).

    .. math:: p_s = (1 - y) p, \quad y = \frac{w / M_a}{w / M_a + (1 - w) / M_w}

    Parameters
    ----------
    pressure : float
        Of the mixture, absolute [Pa]
    air_volume_share, air_mass_share : float
        Air in the mixture by volume (y) or by mass (w), 0 to below 1; give one [-]

    Returns
    -------
    temperature : float
        [K]; both gases taken as ideal

    Examples
    --------
    >>> round(dew_point(7e5, air_volume_share=0.1) - 273.15, 2)
    160.75
    >>> round(float(saturation_temperature(7e5)) - dew_point(7e5, air_mass_share=0.01), 2)
    0.25

    References
    ----------
    .. [1] Dalton's law; molar masses 28.9647 (ISO 2533) and 18.015268 g/mol (IAPWS).
    """
    for name, share in (("air_volume_share", air_volume_share), ("air_mass_share", air_mass_share)):
        if not 0.0 <= share < 1.0:
            raise InputError(f"{name} must be 0 to below 1, got {share:g}")
    if air_volume_share and air_mass_share:
        raise InputError("air_volume_share and air_mass_share say the same thing; give one")
    y = air_volume_share
    if air_mass_share:
        moles = air_mass_share / 28.9647
        y = moles / (moles + (1.0 - air_mass_share) / 18.015268)
    return float(saturation_temperature((1.0 - y) * pressure))


def water(pressure: float, temperature: float) -> State:
    """Liquid water (IF97 region 1, equation 7).

    Parameters
    ----------
    pressure : float
        Absolute, up to 100 MPa and not below saturation [Pa]
    temperature : float
        273.15 to 623.15 [K]; raises ``InputError`` outside

    Returns
    -------
    state : State

    Examples
    --------
    >>> found = water(3e6, 300.0)
    >>> found.volume * 1e3, found.enthalpy / 1e3
    (1.00215168, 115.331273)

    References
    ----------
    .. [1] IAPWS R7-97(2012), table 5.
    """
    _in_range(pressure, temperature, most=100e6, hottest=HOTTEST)
    i, j, n = _R1.T
    pi, tau = pressure / 16.53e6, 1386.0 / temperature
    a, b = 7.1 - pi, tau - 1.222
    base = n * a**i * b**j
    g = base.sum()
    g_p = -(base * i).sum() / a
    g_pp = (base * i * (i - 1.0)).sum() / a**2
    g_t = (base * j).sum() / b
    g_tt = (base * j * (j - 1.0)).sum() / b**2
    g_pt = -(base * i * j).sum() / (a * b)
    return _state(pressure, temperature, pi, tau, (g, g_p, g_pp, g_t, g_tt, g_pt))


def steam(pressure: float, temperature: float) -> State:
    """Steam (IF97 region 2, equations 15 to 17).

    Parameters
    ----------
    pressure : float
        Absolute, above 0 and not above saturation, or the boundary to region 3 [Pa]
    temperature : float
        273.15 to 1073.15 [K]; raises ``InputError`` outside

    Returns
    -------
    state : State

    Examples
    --------
    >>> found = steam(30e6, 700.0)
    >>> found.volume * 1e3, found.enthalpy / 1e3
    (5.42946619, 2631.49474)

    References
    ----------
    .. [1] IAPWS R7-97(2012), table 15.
    """
    _in_range(pressure, temperature, most=100e6, hottest=1073.15)
    pi, tau = pressure / 1e6, 540.0 / temperature
    j0, n0 = _R2_IDEAL.T
    ideal = n0 * tau**j0
    i, j, n = _R2.T
    b = tau - 0.5
    rest = n * pi**i * b**j
    g = np.log(pi) + ideal.sum() + rest.sum()
    g_p = 1.0 / pi + (rest * i).sum() / pi
    g_pp = -1.0 / pi**2 + (rest * i * (i - 1.0)).sum() / pi**2
    g_t = (ideal * j0).sum() / tau + (rest * j).sum() / b
    g_tt = (ideal * j0 * (j0 - 1.0)).sum() / tau**2 + (rest * j * (j - 1.0)).sum() / b**2
    g_pt = (rest * i * j).sum() / (pi * b)
    return _state(pressure, temperature, pi, tau, (g, g_p, g_pp, g_t, g_tt, g_pt))


@dataclass(frozen=True, slots=True, kw_only=True)
class Saturated:
    """Saturated steam and water at one pressure: temperature [K], both states, heat of vaporisation [J/kg]."""

    pressure: float
    temperature: float
    water: State
    steam: State

    @property
    def latent_heat(self) -> float:
        """Heat given up by a kilogram that condenses [J/kg]."""
        return self.steam.enthalpy - self.water.enthalpy


def saturated(pressure: float) -> Saturated:
    """Both states at the boiling point.

    Parameters
    ----------
    pressure : float
        Absolute, 611.213 Pa to 16.529 MPa (where region 3 begins) [Pa]

    Returns
    -------
    saturated : Saturated

    Examples
    --------
    >>> found = saturated(8e5)
    >>> found.temperature - 273.15, found.latent_heat / 1e3
    (170.414, 2047.29)

    References
    ----------
    .. [1] IAPWS R7-97(2012); the example agrees with the standard's own evaluation by two libraries.
    """
    t = float(saturation_temperature(pressure))
    if t > HOTTEST:
        raise InputError(f"pressure must be at most 165.29 bar absolute, got {pressure / 1e5:g} bar")
    return Saturated(pressure=pressure, temperature=t, water=water(pressure, t), steam=steam(pressure, t))


def _in_range(pressure: float, temperature: float, *, most: float, hottest: float) -> None:
    if not COLDEST <= temperature <= hottest:
        raise InputError(
            f"temperature must be {COLDEST - 273.15:g} to {hottest - 273.15:g} degC (IAPWS-IF97), "
            f"got {temperature - 273.15:g} degC"
        )
    if not 0.0 < pressure <= most:
        raise InputError(f"pressure must be above 0 and up to {most / 1e5:g} bar absolute, got {pressure / 1e5:g} bar")


def _state(
    pressure: float, temperature: float, pi: float, tau: float, g: tuple[float, float, float, float, float, float]
) -> State:
    """Properties from the dimensionless Gibbs energy and its derivatives (IF97 tables 3 and 12)."""
    gamma, g_p, g_pp, g_t, g_tt, g_pt = (float(v) for v in g)
    rt = GAS_CONSTANT * temperature
    heat = -GAS_CONSTANT * tau**2 * g_tt
    return State(
        volume=rt * pi * g_p / pressure,
        enthalpy=rt * tau * g_t,
        energy=rt * (tau * g_t - pi * g_p),
        entropy=GAS_CONSTANT * (tau * g_t - gamma),
        heat=heat,
        sound=float(np.sqrt(rt * g_p**2 / ((g_p - tau * g_pt) ** 2 / (tau**2 * g_tt) - g_pp))),
    )
