"""What kinds of record there are: eight formats as data, each figure with its source and how sure it is.

Where standards disagree the user names one; where none is named, or the one named is silent, the first figure of the
list counts, and it says whose it is. Diameters, pitches and tolerances are metres, speeds turns per minute.
The hole is an attribute of its own: a 7 in record comes with a small, a large or a knock-out hole.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from runtrue.errors import InputError, unknown_name
from runtrue.units import INCH, MM, rpm_to_hz


class Standard(StrEnum):
    """A published standard for records. ``IEC`` (60098:1987, speed of 2020) is the default."""

    IEC = "iec"
    IEC_1964 = "iec-1964"
    IEC_1958 = "iec-1958"
    BS_1928 = "bs-1928"
    DIN_45547 = "din-45547"
    RIAA_1963 = "riaa-1963"
    JIS_S_8502 = "jis-s-8502"


class Certainty(StrEnum):
    """How sure a figure is: seen in a copy, recalled, a rule of the trade, or computed from another."""

    READ = "read"
    MEMORY = "memory"
    MEMORY_LOW = "memory, low"
    COMMON_PRACTICE = "common practice"
    DERIVED = "derived"
    DOUBTFUL = "read, doubtful"


class Meaning(StrEnum):
    """What the owner of an off-centre limit bounds: the offset, or the swing, which is twice the offset."""

    OFFSET = "offset"
    SWING = "swing"


class Hole(StrEnum):
    """The hole in the middle. A knock-out is a small hole in a centre that can be pushed out of a large one."""

    SMALL = "small"
    LARGE = "large"
    KNOCK_OUT = "knock_out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One printed figure: value with its tolerance below and above, all in the same unit, and where it stands."""

    value: float
    minus: float = 0.0
    plus: float = 0.0
    standard: Standard | None
    source: str
    certainty: Certainty

    @property
    def low(self) -> float:
        """Smallest value within tolerance."""
        return self.value - self.minus

    @property
    def high(self) -> float:
        """Largest value within tolerance."""
        return self.value + self.plus

    def holds(self, value: float) -> bool:
        """Whether ``value`` is within tolerance; the bounds themselves are (to 1 part in 10^9, for rounding).

        Examples
        --------
        >>> hole(Hole.SMALL).holds(7.33e-3)
        True
        """
        slack = 1e-9 * abs(self.value)
        return self.low - slack <= value <= self.high + slack


def _read(value: float, standard: Standard, source: str, *, minus: float = 0.0, plus: float = 0.0) -> Figure:
    return Figure(value=value, minus=minus, plus=plus, standard=standard, source=source, certainty=Certainty.READ)


_IEC, _IEC64, _IEC58 = Standard.IEC, Standard.IEC_1964, Standard.IEC_1958
_BS, _DIN, _RIAA, _JIS = Standard.BS_1928, Standard.DIN_45547, Standard.RIAA_1963, Standard.JIS_S_8502
_COARSE = "BS 1928, coarse groove"

# Each list begins with the default.
_OUTSIDE: Mapping[int, tuple[Figure, ...]] = {
    12: (
        _read(301 * MM, _JIS, "JIS S 8502-1973, row A", minus=2 * MM, plus=2 * MM),
        _read(302 * MM, _RIAA, "RIAA, as quoted in an encyclopaedia"),
    ),
    10: (
        _read(251 * MM, _JIS, "JIS S 8502-1973, row A", minus=2 * MM, plus=2 * MM),
        _read(250 * MM, _RIAA, "RIAA, as quoted in an encyclopaedia"),
    ),
    7: (
        _read(175 * MM, _JIS, "JIS S 8502-1973, row A", minus=1 * MM, plus=1 * MM),
        _read(175 * MM, _RIAA, "RIAA, as quoted in an encyclopaedia"),
    ),
}
_COARSE_OUTSIDE: Mapping[int, tuple[Figure, ...]] = {
    inches: (
        Figure(
            value=diameter * INCH, minus=INCH / 32, plus=INCH / 32, standard=_BS, source=_COARSE,
            certainty=Certainty.MEMORY,
        ),
    )
    for inches, diameter in ((12, 11.875), (10, 9.875))
}  # fmt: skip
_OUTERMOST: Mapping[int, tuple[Figure, ...]] = {
    12: (
        _read(292.6 * MM, _IEC, "IEC 60098:1987, clause 8.5"),
        _read(292.6 * MM, _IEC64, "IEC 98:1964"),
        _read(292.6 * MM, _BS, "BS 1928:1965"),
        _read(292.6 * MM, _DIN, "DIN 45547:1981"),
        _read(292.1 * MM, _IEC58, "IEC 98:1958"),
        _read(292.1 * MM, _RIAA, "RIAA 1963"),
        _read(293 * MM, _JIS, "JIS S 8502-1973, row C (less than)"),
    ),
    10: (
        _read(241.8 * MM, _IEC, "IEC 60098:1987, clause 8.5"),
        _read(242 * MM, _JIS, "JIS S 8502-1973, row C (less than)"),
    ),
    7: (
        _read(168.3 * MM, _IEC, "IEC 60098:1987, clause 8.5"),
        _read(168 * MM, _JIS, "JIS S 8502-1973, row C (less than)"),
    ),
}
_COARSE_OUTERMOST: Mapping[int, tuple[Figure, ...]] = {
    inches: (Figure(value=diameter * INCH, standard=_BS, source=_COARSE, certainty=Certainty.MEMORY),)
    for inches, diameter in ((12, 11.5), (10, 9.5))
}
_INNERMOST: Mapping[int, tuple[Figure, ...]] = {
    12: (
        _read(115 * MM, _DIN, "DIN 45547:1981 (IEC 98:1964 and 60098:1987 give none)"),
        _read(115.2 * MM, _JIS, "JIS S 8502-1973, row D"),
        _read(120 * MM, _IEC58, "IEC 98:1958, meant for transcription discs"),
        _read(4.75 * INCH, _RIAA, "RIAA 1963"),
    ),
    10: (_read(115.2 * MM, _JIS, "JIS S 8502-1973, row D"),),
    7: (_read(106 * MM, _JIS, "JIS S 8502-1973, row D"),),
}
_COARSE_INNERMOST = (
    Figure(value=3.75 * INCH, standard=_BS, source=_COARSE, plus=INCH / 8, certainty=Certainty.MEMORY_LOW),
)
_FINISHING_LARGE = tuple(
    _read(106.4 * MM, standard, source, minus=0.8 * MM, plus=0.8 * MM)
    for standard, source in (
        (_IEC, "IEC 60098:1987"), (_IEC64, "IEC 98:1964"), (_BS, "BS 1928:1965"), (_DIN, "DIN 45547:1981"),
        (_RIAA, "RIAA 1963"), (_JIS, "JIS S 8502-1973"),
    )
)  # fmt: skip
_FINISHING: Mapping[int, tuple[Figure, ...]] = {
    12: _FINISHING_LARGE,
    10: _FINISHING_LARGE,
    7: (
        _read(97.4 * MM, _IEC, "IEC 60098:1987, clause 8.9", minus=1 * MM, plus=1 * MM),
        _read(97 * MM, _JIS, "JIS S 8502-1973, row E", minus=1 * MM, plus=1 * MM),
    ),
}
_COARSE_FINISHING = (
    Figure(
        value=3.4375 * INCH, standard=None, certainty=Certainty.MEMORY_LOW,
        source="coarse-groove stopping groove, often eccentric by 1/4 in run-out",
    ),
)  # fmt: skip
_LEAD_IN = (
    _read(1.2 * MM, _IEC, "IEC 60098:1987, clause 8.4", minus=0.4 * MM, plus=0.4 * MM),
    _read(1.2 * MM, _IEC64, "IEC 98:1964, 0.8 to 1.6 mm", minus=0.4 * MM, plus=0.4 * MM),
    _read(1.2 * MM, _BS, "BS 1928:1965, 0.8 to 1.6 mm", minus=0.4 * MM, plus=0.4 * MM),
    _read(1.2 * MM, _RIAA, "RIAA 1963, 1/32 to 1/16 in", minus=0.4 * MM, plus=0.4 * MM),
    Figure(
        value=0.9 * MM, minus=0.1 * MM, plus=0.1 * MM, standard=_DIN, certainty=Certainty.DOUBTFUL,
        source="DIN 45547:1981, 0.8 to 1.0 mm as printed, perhaps a misprint for 0.8 to 1.6 mm",
    ),
)  # fmt: skip
_LEAD_OUT = (
    _read(6.4 * MM, _IEC, "IEC 60098:1987", minus=3.2 * MM, plus=3.2 * MM),
    _read(6.4 * MM, _IEC64, "IEC 98:1964", minus=3.2 * MM, plus=3.2 * MM),
    _read(6.4 * MM, _BS, "BS 1928:1965", minus=3.2 * MM, plus=3.2 * MM),
    _read(6.4 * MM, _DIN, "DIN 45547:1981", minus=3.2 * MM, plus=3.2 * MM),
    _read(INCH / 4, _IEC58, "IEC 98:1958", minus=INCH / 8, plus=INCH / 8),
    _read(INCH / 3, _RIAA, "RIAA 1963, 2 to 6 grooves per inch", minus=INCH / 6, plus=INCH / 6),
)
_HOLES: Mapping[Hole, tuple[Figure, ...]] = {
    Hole.SMALL: (
        *(
            _read(7.24 * MM, standard, source, plus=0.09 * MM)
            for standard, source in (
                (_IEC, "IEC 60098:1987"), (_IEC64, "IEC 98:1964"), (_IEC58, "IEC 98:1958"), (_BS, "BS 1928:1965"),
                (_DIN, "DIN 45547:1981"), (_JIS, "JIS S 8502-1973, row G"),
            )
        ),
        _read(0.286 * INCH, _RIAA, "RIAA 1963", minus=0.002 * INCH, plus=0.001 * INCH),
    ),
    Hole.LARGE: (_read(38.2 * MM, _JIS, "JIS S 8502-1973, row G", minus=0.05 * MM, plus=0.05 * MM),),
}  # fmt: skip

SPINDLE = Figure(
    value=7.10 * MM, minus=0.05 * MM, plus=0.05 * MM, standard=None, source="players' spindles, no standard seen",
    certainty=Certainty.COMMON_PRACTICE,
)  # fmt: skip
"""Diameter of a player's spindle of which nothing is known [m]."""

_PRACTICE = Certainty.COMMON_PRACTICE
_PITCH: Mapping[str, Figure] = {
    speed: Figure(
        value=pitch * MM, minus=0.3 * pitch * MM, plus=0.3 * pitch * MM, standard=None, source="nominal groove pitch",
        certainty=_PRACTICE,
    )
    for speed, pitch in (("33", 0.125), ("45", 0.16), ("78", 0.26))
}  # fmt: skip


def _speed(rpm: float, source: str, certainty: Certainty, *, standard: Standard | None = _IEC) -> Figure:
    tolerance = 0.005 * rpm
    return Figure(value=rpm, minus=tolerance, plus=tolerance, standard=standard, source=source, certainty=certainty)


_SPEEDS: Mapping[str, tuple[Figure, ...]] = {
    "33": (_speed(100.0 / 3.0, "IEC 60098:2020, clause 5.6, 0.5 %", Certainty.READ),),
    "45": (_speed(45.0, "IEC 60098:2020, clause 5.6, 0.5 %", Certainty.READ),),
    "78": (
        _speed(78.26, "60 Hz countries, strobe of 92 bars; tolerance as microgroove", Certainty.DERIVED, standard=None),
        _speed(77.92, "50 Hz countries, strobe of 77 bars; tolerance as microgroove", Certainty.READ, standard=None),
    ),
}

_ECCENTRICITY = (
    _read(0.2 * MM, _IEC, "IEC 60098:1987"),
    _read(0.2 * MM, _IEC64, "IEC 98:1964"),
    _read(0.2 * MM, _IEC58, "IEC 98:1958"),
    _read(0.13 * MM, _BS, "BS 1928:1965"),
    _read(0.2 * MM, _DIN, "DIN 45547:1981"),
    Figure(
        value=1.27 * MM, standard=_RIAA, certainty=Certainty.DOUBTFUL,
        source="RIAA 1963, run-out 0.050 in as transcribed, flagged there; 0.005 in would match BS 1928",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One kind of record. Diameters and pitches in metres, speeds in turns a minute; None where no figure is known."""

    id: str
    inches: int
    rpm: float
    speeds: tuple[Figure, ...]
    outside_diameter: Figure
    outermost_groove: Figure
    innermost_groove: Figure
    finishing_groove: Figure
    lead_in_pitch: Figure | None
    lead_out_pitch: Figure | None
    pitch: Figure

    @property
    def coarse(self) -> bool:
        """Whether it is a coarse-groove record (78)."""
        return self.id.endswith("78")

    @property
    def turn_frequency(self) -> float:
        """Nominal turns per second [Hz]."""
        return rpm_to_hz(self.rpm)

    @property
    def pitch_spread(self) -> float:
        """Spread of the nominal pitch, relative, 95 %."""
        return self.pitch.plus / self.pitch.value

    @property
    def start_radius(self) -> float:
        """Radius at which the programme starts when nobody says [m]: outermost groove less half the lead-in.

        The lead-in counts as one turn of its pitch; coarse groove has no figure for it, so nothing is taken off.
        """
        lead_in = self.lead_in_pitch.value if self.lead_in_pitch is not None else 0.0
        return 0.5 * self.outermost_groove.value - 0.5 * lead_in


START_RADIUS_U95 = 1.0 * MM
"""U95 of a start radius that nobody stated [m]. Common practice, no source."""

FORMATS = ("7in-33", "7in-45", "10in-33", "10in-45", "12in-33", "12in-45", "10in-78", "12in-78")
"""Names of all formats."""


def _pick(figures: tuple[Figure, ...], standard: Standard) -> Figure:
    """Return the standard's figure; the first of the list where it says nothing."""
    return next((figure for figure in figures if figure.standard is standard), figures[0])


def standard_named(name: str) -> Standard:
    """Return the standard of this name; raises ``UnknownNameError`` with the list."""
    try:
        return Standard(name)
    except ValueError:
        raise unknown_name("standard", name, [s.value for s in Standard]) from None


def disc_format(name: str, standard: Standard = Standard.IEC) -> Format:
    """Return the format of this name with the figures of ``standard``; raises ``UnknownNameError`` with the list.

    Examples
    --------
    >>> disc_format("12in-33").outermost_groove.value
    0.2926
    >>> disc_format("12in-33", Standard.RIAA_1963).outermost_groove.source
    'RIAA 1963'
    """
    if name not in FORMATS:
        raise unknown_name("format", name, FORMATS)
    size, speed = name.split("in-")
    inches = int(size)
    coarse = speed == "78"
    return Format(
        id=name,
        inches=inches,
        rpm=_SPEEDS[speed][0].value,
        speeds=_SPEEDS[speed],
        outside_diameter=_pick((_COARSE_OUTSIDE if coarse else _OUTSIDE)[inches], standard),
        outermost_groove=_pick((_COARSE_OUTERMOST if coarse else _OUTERMOST)[inches], standard),
        innermost_groove=_pick(_COARSE_INNERMOST if coarse else _INNERMOST[inches], standard),
        finishing_groove=_pick(_COARSE_FINISHING if coarse else _FINISHING[inches], standard),
        lead_in_pitch=None if coarse else _pick(_LEAD_IN, standard),
        lead_out_pitch=None if coarse else _pick(_LEAD_OUT, standard),
        pitch=_PITCH[speed],
    )


def hole(kind: Hole, standard: Standard = Standard.IEC) -> Figure:
    """Diameter of the hole a spindle goes through [m]. A knock-out with its centre in place is a small hole."""
    return _pick(_HOLES[Hole.LARGE if kind is Hole.LARGE else Hole.SMALL], standard)


def eccentricity_limit(standard: Standard = Standard.IEC, *, meaning: Meaning = Meaning.OFFSET) -> Figure:
    """Most the groove may be off centre by the standard, as an offset [m].

    Read as a distance between centres; no copy seen says so, and an owner who reads the figure as a total swing says
    ``Meaning.SWING``, which halves it. Raises ``InputError`` for a standard of which the figure was not seen.

    Examples
    --------
    >>> eccentricity_limit(Standard.BS_1928).value
    0.00013
    >>> eccentricity_limit(meaning=Meaning.SWING).value
    0.0001
    """
    found = next((figure for figure in _ECCENTRICITY if figure.standard is standard), None)
    if found is None:
        known = ", ".join(figure.standard or "" for figure in _ECCENTRICITY)
        raise InputError(f"standard {standard}: its eccentricity limit was not seen; known are {known}")
    if meaning is Meaning.OFFSET:
        return found
    return Figure(
        value=0.5 * found.value, standard=found.standard, certainty=found.certainty,
        source=f"{found.source}, read as swing",
    )  # fmt: skip
