"""One table of everything that is measured: unit inside, unit shown, words, definition.

The table feeds the suffix of JSON keys, the names in limits files, labels, CSV headers and the glossary. A quantity
that is not in it cannot be measured, limited or printed.
"""

from dataclasses import dataclass

from runtrue.errors import unknown_name
from runtrue.units import MM, MS, PERCENT, UM


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What a number means and how it is shown.

    ``factor`` is the SI value of one shown unit: ``shown = si / factor``. ``suffix`` ends the key wherever the number
    crosses an edge (JSON, limits file, CSV header).
    """

    id: str
    si_unit: str
    shown_unit: str
    suffix: str
    factor: float
    decimals: int
    words: str
    definition: str
    is_plane: bool = False
    """True for a vector in the disc's plane; its length is what a limit bounds."""

    @property
    def key(self) -> str:
        """Name with the shown unit at its end, as in JSON and limits files."""
        return f"{self.id}_{self.suffix}" if self.suffix else self.id

    def to_shown(self, si_value: float) -> float:
        """Convert from SI to the shown unit."""
        return si_value / self.factor

    def to_si(self, shown_value: float) -> float:
        """Convert from the shown unit to SI."""
        return shown_value * self.factor


def _db(name: str, words: str, definition: str, *, suffix: str = "db") -> Quantity:
    return Quantity(
        id=name,
        si_unit="dB",
        shown_unit="dB",
        suffix=suffix,
        factor=1.0,
        decimals=1,
        words=words,
        definition=definition,
    )


def _count(name: str, words: str, definition: str) -> Quantity:
    return Quantity(
        id=name, si_unit="1", shown_unit="", suffix="", factor=1.0, decimals=0, words=words, definition=definition
    )


_TABLE = (
    Quantity(
        id="off_centre_offset", si_unit="m", shown_unit="μm", suffix="um", factor=UM, decimals=0,
        words="off-centre, offset", is_plane=True,
        definition="distance between the centre of the groove and the centre of the hole",
    ),
    Quantity(
        id="off_centre_swing", si_unit="m", shown_unit="μm", suffix="um", factor=UM, decimals=0,
        words="off-centre, swing", is_plane=True,
        definition="total side-to-side movement of the groove, twice the offset",
    ),
    Quantity(
        id="speed_deviation", si_unit="1", shown_unit="%", suffix="percent", factor=PERCENT, decimals=3,
        words="speed",
        definition="programme time over capture time less one, mean over the reach; positive plays fast",
    ),
    Quantity(
        id="flutter_weighted", si_unit="1", shown_unit="%", suffix="percent", factor=PERCENT, decimals=3,
        words="flutter, weighted",
        definition="speed deviation weighted by the flutter curve, two-sigma reading",
    ),
    Quantity(
        id="turn_period", si_unit="s", shown_unit="s", suffix="s", factor=1.0, decimals=5, words="turn",
        definition="programme time of one turn of the disc",
    ),
    Quantity(
        id="groove_radius", si_unit="m", shown_unit="mm", suffix="mm", factor=MM, decimals=1, words="radius",
        definition="distance of the groove from the disc's centre",
    ),
    Quantity(
        id="programme_start", si_unit="s", shown_unit="s", suffix="s", factor=1.0, decimals=3, words="start",
        definition="capture time at which programme time 0 is heard",
    ),
    Quantity(
        id="tick_duration", si_unit="s", shown_unit="ms", suffix="ms", factor=MS, decimals=2, words="tick duration",
        definition="time over which the tick stands above the noise",
    ),
    _count("programme_identity", "programme", "1 where the capture holds the programme of the reference, 0 where it holds another"),
    _count("jumps_per_side", "jumps", "places where the stylus leaves its turn, forward or back"),
    _count("ticks_per_side", "ticks", "ticks of 12 dB and more over the local noise"),
    _count("loud_ticks_per_side", "loud ticks", "ticks of 20 dB and more over the local noise"),
    _count("audible_ticks_per_side", "audible ticks", "ticks that a listener would hear in the programme"),
    _db("tick_prominence", "loudest tick, over noise", "largest whitened difference of a tick, 1 to 16 kHz, over the local noise"),
    _db("surface", "surface noise (A)", "A-weighted rms of the difference outside events, mean power of left and right", suffix="db_a"),
    _db("surface_quasi_peak", "surface noise (468)", "difference outside events, ITU-R BS.468 weighting and quasi-peak reading", suffix="db_468"),
    _db("swish", "swish", "peak to peak of the once-a-turn part of the noise level"),
    _db("rumble", "rumble", "rms of the difference in the unweighted rumble band of IEC 60098:1987"),
    _db("hum", "hum", "strongest mains family, rms"),
    _db("balance", "balance", "left minus right of the transfer at 1 kHz"),
    _db("crosstalk_left_into_right", "crosstalk, left into right", "leak of left into right over left, 250 to 4000 Hz"),
    _db("crosstalk_right_into_left", "crosstalk, right into left", "leak of right into left over right, 250 to 4000 Hz"),
)  # fmt: skip

QUANTITIES: dict[str, Quantity] = {q.id: q for q in _TABLE}
"""All quantities by id."""

_BY_KEY = {q.key: q for q in _TABLE}


def quantity(name: str) -> Quantity:
    """Return the quantity with this id; raises ``UnknownNameError``."""
    try:
        return QUANTITIES[name]
    except KeyError:
        raise unknown_name("quantity", name, list(QUANTITIES)) from None


def quantity_by_key(key: str) -> Quantity:
    """Return the quantity whose shown key this is (``off_centre_offset_um``); raises ``UnknownNameError``."""
    try:
        return _BY_KEY[key]
    except KeyError:
        raise unknown_name("quantity", key, list(_BY_KEY)) from None
