"""One table of everything that is measured: unit inside, unit shown, words, definition.

The table feeds the suffix of JSON keys, the names in limits files, labels, CSV headers and the glossary. A quantity
that is not in it cannot be measured, limited or printed.
"""

from dataclasses import dataclass

from runtrue.errors import unknown_name
from runtrue.units import GRAM, KW, KWH, MINUTE, MM, MS, PERCENT, UM, ZERO_DEGC


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What a number means and how it is shown.

    ``factor`` is the SI value of one shown unit: ``shown = (si - offset) / factor``; only degrees Celsius have an
    offset. ``suffix`` ends the key wherever the number crosses an edge (JSON, limits file, CSV header).
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
    offset: float = 0.0
    """SI value where the shown scale has its zero."""

    @property
    def key(self) -> str:
        """Name with the shown unit at its end, as in JSON and limits files."""
        return f"{self.id}_{self.suffix}" if self.suffix else self.id

    def to_shown(self, si_value: float) -> float:
        """Convert from SI to the shown unit."""
        return (si_value - self.offset) / self.factor

    def to_si(self, shown_value: float) -> float:
        """Convert from the shown unit to SI."""
        return shown_value * self.factor + self.offset

    def span_to_shown(self, si_span: float) -> float:
        """Convert a difference or a U95 from SI to the shown unit."""
        return si_span / self.factor


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


def _of(  # noqa: PLR0917
    name: str, si_unit: str, shown_unit: str, suffix: str, factor: float, decimals: int, words: str, definition: str,
    offset: float = 0.0,
) -> Quantity:  # fmt: skip
    return Quantity(
        id=name,
        si_unit=si_unit,
        shown_unit=shown_unit,
        suffix=suffix,
        factor=factor,
        decimals=decimals,
        words=words,
        definition=definition,
        offset=offset,
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
        id="flutter_without_once_a_turn", si_unit="1", shown_unit="%", suffix="percent", factor=PERCENT, decimals=3,
        words="flutter, without its once-a-turn part",
        definition="weighted flutter less what comes once in each turn of the disc, two-sigma reading",
    ),
    Quantity(
        id="flutter_bandwidth", si_unit="Hz", shown_unit="Hz", suffix="hz", factor=1.0, decimals=0,
        words="flutter, bandwidth",
        definition="frequency up to which the music lets the speed be followed",
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
        id="hole_diameter", si_unit="m", shown_unit="mm", suffix="mm", factor=MM, decimals=3, words="hole",
        definition="diameter of the circle through the edge of the hole",
    ),
    Quantity(
        id="label_shift", si_unit="m", shown_unit="μm", suffix="um", factor=UM, decimals=0, words="label, shift",
        is_plane=True, definition="distance of the label's centre from the hole's",
    ),
    Quantity(
        id="rim_shift", si_unit="m", shown_unit="μm", suffix="um", factor=UM, decimals=0, words="rim, shift",
        is_plane=True, definition="distance of the rim's centre from the hole's",
    ),
    Quantity(
        id="rim_roundness", si_unit="m", shown_unit="μm", suffix="um", factor=UM, decimals=0, words="rim, out of round",
        definition="peak to valley of the rim about its least-squares circle, up to 15 waves a turn",
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
    _of("dump_temperature", "K", "°C", "degc", 1.0, 1, "temperature at dump", "temperature of the batch when it leaves the mixer", offset=ZERO_DEGC),
    _of("dump_time", "s", "s", "s", 1.0, 0, "time at dump", "time from the first reading of the log to the dump"),
    _of("specific_energy", "J/kg", "kWh/kg", "kwh_per_kg", KWH, 4, "specific energy", "net mixing energy up to the dump over the mass of the batch"),
    _of("peak_power", "W", "kW", "kw", KW, 1, "peak power", "largest net power of the mixer in the batch"),
    _of("second_peak_energy", "J/kg", "kWh/kg", "kwh_per_kg", KWH, 4, "energy to the second peak", "net mixing energy up to the second peak of power over the mass of the batch"),
    _of("mixing_loss", "1", "%", "percent", PERCENT, 0, "heat lost", "share of the mixing energy that did not heat the batch"),
    _of("curve_distance", "1", "sd", "sd", 1.0, 2, "distance of the curve", "rms distance of the power curve from its family's mean, in standard deviations"),
    _of("melt_flow", "kg/s", "g/10 min", "g_per_10min", GRAM / 600.0, 1, "melt flow", "mass through the standard die in ten minutes (ISO 1133)"),
    _of("flow_length", "m", "mm", "mm", MM, 1, "flow", "length that a weighed pellet runs on the hot inclined plate"),
    _of("heat_stability", "s", "min", "min", MINUTE, 1, "heat stability", "time at the test's temperature until the material changes as the method says"),
    _of("volatiles", "1", "%", "percent", PERCENT, 2, "volatiles", "loss of mass at the test's temperature, water included"),
    _of("moisture", "1", "%", "percent", PERCENT, 2, "moisture", "water over the mass as it lies in the store"),
    _of("sieve_residue", "1", "%", "percent", PERCENT, 3, "sieve residue", "mass left on the stated sieve over the mass sieved"),
    _count("grains_per_sheet", "grains", "foreign grains and gels seen in one pressed test sheet"),
    _of("colour_difference", "1", "ΔE", "", 1.0, 2, "colour difference", "CIELAB difference from the family's standard chip"),
    _of("trial_surface_difference", "dB", "dB", "db", 1.0, 1, "trial pressing, surface noise", "A-weighted surface noise of the trial pressing less that of the proved compound on the same stamper and rig"),
    _of("trial_ticks_difference", "1", "a side", "", 1.0, 1, "trial pressing, ticks", "ticks a side of the trial pressing less those of the proved compound on the same stamper and rig"),
    _of("sheet_thickness", "m", "mm", "mm", MM, 2, "sheet thickness", "thickness of the rolled sheet where it is broken into biscuits"),
    _of("biscuit_mass", "kg", "g", "g", GRAM, 1, "biscuit mass", "mass of one biscuit before it is pressed"),
    _of("opening_mid_plane", "K", "°C", "degc", 1.0, 1, "mid-plane at opening", "temperature in the middle of the record when the press opens", offset=ZERO_DEGC),
    _of("biscuit_temperature", "K", "°C", "degc", 1.0, 0, "biscuit temperature", "temperature of the biscuit as it goes to the press", offset=ZERO_DEGC),
    _of("balance_gap", "1", "%", "percent", PERCENT, 2, "gap of the balance", "compound and regrind in, less all that came out, over what went in"),
    Quantity(
        id="label_weight_loss", si_unit="1", shown_unit="%", suffix="percent", factor=PERCENT, decimals=2,
        words="labels, weight loss",
        definition="mass that a stack of labels loses in a check in the oven, over its mass before",
    ),
    Quantity(
        id="gauge_error", si_unit="1", shown_unit="", suffix="", factor=1.0, decimals=2, words="gauge, error",
        definition="reading less reference of a gauge, over the tolerance",
    ),
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
