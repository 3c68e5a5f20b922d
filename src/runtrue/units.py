"""Exact factors between the shown units and SI. Inside everything is SI; this module is the only crossing.

Sources: the inch is 25.4 mm exactly (international inch, 1959); angles and decimal prefixes by definition.
"""

from math import pi

INCH = 0.0254
"""Metres in an inch, exact."""
MM = 1e-3
"""Metres in a millimetre."""
UM = 1e-6
"""Metres in a micrometre."""
MS = 1e-3
"""Seconds in a millisecond."""
PERCENT = 1e-2
"""Fraction in a percent."""
PPM = 1e-6
"""Fraction in a part per million."""
DEG = pi / 180.0
"""Radians in a degree."""
GRAM = 1e-3
"""Kilograms in a gram."""
LITRE = 1e-3
"""Cubic metres in a litre."""
G_PER_CM3 = 1e3
"""Kilograms per cubic metre in a gram per cubic centimetre."""
KW = 1e3
"""Watts in a kilowatt."""
KWH = 3.6e6
"""Joules in a kilowatt-hour."""
KJ = 1e3
"""Joules in a kilojoule."""
MINUTE = 60.0
"""Seconds in a minute."""
DAY = 86_400.0
"""Seconds in a day."""
BAR = 1e5
"""Pascals in a bar."""
ZERO_DEGC = 273.15
"""Kelvin at 0 degrees Celsius, exact."""


def rpm_to_hz(rpm: float) -> float:
    """Turns a minute to turns a second [Hz]."""
    return rpm / 60.0


def hz_to_rpm(frequency: float) -> float:
    """Turns a second [Hz] to turns a minute."""
    return frequency * 60.0


def amplitude_to_db(ratio: float) -> float:
    """20 log10 of an amplitude ratio above 0 [dB]."""
    from math import log10

    return 20.0 * log10(ratio)


def db_to_amplitude(level: float) -> float:
    """Amplitude ratio of a level difference [dB]."""
    return float(10.0 ** (level / 20.0))
