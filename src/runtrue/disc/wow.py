"""What an off-centre groove does to speed and time, and how fast and how fine the groove runs.

Plane geometry of a groove circle whose centre lies beside the spindle. Inputs and results are SI.
"""

from math import cos, pi

from runtrue.errors import InputError


def _positive(name: str, value: float, unit: str) -> None:
    if not value > 0.0:
        raise InputError(f"{name} must be above 0 {unit}, got {value:g} {unit}")


def groove_speed(*, radius: float, turn_frequency: float) -> float:
    """Speed of the groove under the stylus [m/s] at ``radius`` [m] and ``turn_frequency`` [Hz].

    Examples
    --------
    >>> groove_speed(radius=146.3e-3, turn_frequency=100 / 180)
    0.5107
    """
    _positive("radius", radius, "m")
    _positive("turn_frequency", turn_frequency, "Hz")
    return 2.0 * pi * turn_frequency * radius


def wavelength(*, frequency: float, radius: float, turn_frequency: float) -> float:
    """Length of one period of a tone of ``frequency`` [Hz] in the groove [m].

    Examples
    --------
    >>> wavelength(frequency=15e3, radius=60.325e-3, turn_frequency=100 / 180)
    1.404e-05
    """
    _positive("frequency", frequency, "Hz")
    return groove_speed(radius=radius, turn_frequency=turn_frequency) / frequency


def wow_from_offset(*, offset: float, radius: float, lean: float = 0.0) -> float:
    r"""Peak relative speed deviation of a groove that runs off centre [-].

    .. math:: \Delta v / v = e / (r \cos b)

    Parameters
    ----------
    offset : float
        Distance from groove centre to hole centre, e [m]
    radius : float
        Radius of the groove under the stylus, r [m]
    lean : float
        Lean b of the line stylus to pivot from the groove's tangent [rad]; 0 for a tangential arm

    Notes
    -----
    Exact in e/r for a stylus that moves on a radial line; for a pivoted arm first order in e/r, and what is left out is
    of order (e/r)**2, about 0.001 % at 0.2 mm and 60 mm. Raises ``InputError`` unless radius > 0, offset >= 0.

    Examples
    --------
    >>> wow_from_offset(offset=0.2e-3, radius=60.325e-3)
    0.003315
    """
    _positive("radius", radius, "m")
    if not offset >= 0.0:
        raise InputError(f"offset must be 0 m or more, got {offset:g} m")
    return offset / (radius * cos(lean))


def offset_from_wow(*, deviation: float, radius: float, lean: float = 0.0) -> float:
    """Offset [m] that gives this peak relative speed deviation [-] at ``radius`` [m]: the inverse of the above.

    Examples
    --------
    >>> offset_from_wow(deviation=0.005, radius=50.8e-3)
    0.000254
    """
    _positive("radius", radius, "m")
    if not deviation >= 0.0:
        raise InputError(f"deviation must be 0 or more, got {deviation:g}")
    return deviation * radius * cos(lean)


def peak_delay(*, offset: float, radius: float, turn_frequency: float, lean: float = 0.0) -> float:
    r"""Most by which an off-centre groove is early or late [s].

    .. math:: \tau = e / (2 \pi f r \cos b)

    Examples
    --------
    >>> peak_delay(offset=0.2e-3, radius=60.325e-3, turn_frequency=100 / 180)
    0.00095
    """
    return wow_from_offset(offset=offset, radius=radius, lean=lean) / (2.0 * pi * turn_frequency)
