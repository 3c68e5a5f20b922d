"""What the stamper's actions are asked: one frozen request each, its fields described for command line and form."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask


def _formats() -> list[str]:
    from runtrue.disc.formats import FORMATS

    return list(FORMATS)


def _grooves() -> list[str]:
    return ["locked", "spiral"]


def _faces() -> list[str]:
    return ["stamper", "record"]


def _holes() -> list[str]:
    return ["small", "large"]


def _holds() -> list[str]:
    return ["placed", "pinned"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperCentreRequest:
    """Find a stamper's or record's centre from readings under the lens."""

    readings: Path = ask(
        Kind.PATH,
        "readings (CSV): angle_deg, reading_um, and turn, set, operator where they apply; angles against the clock as "
        "you see the face, readings outward positive",
        positional=True,
    )
    groove: str = ask(
        Kind.WORD, "groove under the lens, a closed ring or a spiral; locked if not given", choices=_grooves,
        default="locked",
    )  # fmt: skip
    pitch_um: float | None = ask(
        Kind.NUMBER,
        "known pitch of the spiral, positive where it runs inward as played; fitted if not given",
        default=None,
        unit="μm",
        low=-5000,
        high=5000,
    )
    face: str = ask(Kind.WORD, "face looked at; stamper if not given", choices=_faces, default="stamper")
    held: str = ask(
        Kind.WORD,
        "placed on the table before the punch, or pinned by its own hole after it; placed if not given",
        choices=_holds,
        default="placed",
    )
    format: str | None = ask(
        Kind.WORD, "kind of record, for what the offset does to the pitch", choices=_formats, default=None
    )
    limit_offset_um: float | None = ask(Kind.NUMBER, "limit on the offset", default=None, unit="μm", low=0, high=5000)
    limit_swing_um: float | None = ask(
        Kind.NUMBER, "limit on the swing, twice the offset", default=None, unit="μm", low=0, high=10000
    )
    limit_owner: str | None = ask(Kind.TEXT, "who sets the limit; you, if not given", default=None)
    limits: Path | None = ask(Kind.PATH, "limits file (TOML) of the house, in place of the options", default=None)
    punch: Path | None = ask(
        Kind.PATH, "punch file (TOML): its axes on the face, its checks after punching, the lens", default=None
    )
    lens_division_um: float | None = ask(
        Kind.NUMBER, "smallest step of the lens; the punch file's if not given", default=None, unit="μm", low=0,
        high=1000,
    )  # fmt: skip
    lens_noise_um: float | None = ask(
        Kind.NUMBER,
        "standard deviation of a reading from a study of operator and lens; told by the scatter if not given",
        default=None,
        unit="μm",
        low=0.01,
        high=1000,
    )
    stamper: str | None = ask(Kind.TEXT, "name of the stamper, for the check that is kept", default=None)
    keep: bool = ask(
        Kind.FLAG, "write the check after punching into the punch file, so that the next one aims better", default=False
    )
    sheet: Path | None = ask(
        Kind.PATH, "sheet to write (.pdf, A4): readings, run-out, move, decision, lines to sign", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperPictureRequest:
    """Find the centre from a scan or photograph of the hole and the closed groove."""

    image: Path = ask(Kind.PATH, "scan or photograph: PNG, TIFF (8 or 16 bit) or JPEG", positional=True)
    um_per_px: float | None = ask(
        Kind.NUMBER, "scale of the picture, 21.167 at 1200 dpi; needed unless a field file has it", default=None,
        unit="μm", low=1, high=500,
    )  # fmt: skip
    format: str = ask(Kind.WORD, "kind of record, for where the closed groove lies", choices=_formats)
    face: str = ask(Kind.WORD, "face looked at; record if not given", choices=_faces, default="record")
    hole: str = ask(Kind.WORD, "hole to look for; small if not given", choices=_holes, default="small")
    hole_mm: float | None = ask(
        Kind.NUMBER, "measured diameter of the hole; it then gives the scale", default=None, unit="mm", low=1, high=60
    )
    groove_mm: float | None = ask(
        Kind.NUMBER, "diameter of the closed groove; the format's if not given", default=None, unit="mm", low=10,
        high=300,
    )  # fmt: skip
    label_mm: float | None = ask(
        Kind.NUMBER, "diameter of the label; by the size of the record if not given", default=None, unit="mm", low=20,
        high=200,
    )  # fmt: skip
    rim_mm: float | None = ask(
        Kind.NUMBER, "diameter of the record; the format's if not given", default=None, unit="mm", low=30, high=420
    )
    turned: Path | None = ask(
        Kind.PATH,
        "the same record scanned again, turned by 90 deg on the glass: it parts the scanner's unequal scales from an "
        "oval record",
        default=None,
    )
    field: Path | None = ask(
        Kind.PATH, "field file (TOML) of the scanner, from `stamper field`: scale, stretch, skew, travel", default=None
    )
    field_u95_um: float | None = ask(
        Kind.NUMBER,
        "U95 of the scanner's travel from a check with a measured ring; 30, common practice, if not given",
        default=None,
        unit="μm",
        low=0,
        high=2000,
    )
    camera_mm: float | None = ask(
        Kind.NUMBER, "a photograph, taken from this height; a flatbed scan if not given", default=None, unit="mm",
        low=100, high=20_000,
    )  # fmt: skip
    limit_offset_um: float | None = ask(Kind.NUMBER, "limit on the offset", default=None, unit="μm", low=0, high=5000)
    limit_swing_um: float | None = ask(
        Kind.NUMBER, "limit on the swing, twice the offset", default=None, unit="μm", low=0, high=10000
    )
    limit_owner: str | None = ask(Kind.TEXT, "who sets the limit; you, if not given", default=None)
    limits: Path | None = ask(
        Kind.PATH,
        "limits file (TOML) of the house, in place of the options; it may bound hole, label and rim too",
        default=None,
    )
    overlay: Path | None = ask(Kind.PATH, "picture to write (.png) that shows what was found", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperStudyRequest:
    """Judge operators and lens from the same stampers centred by several people several times."""

    study: Path = ask(
        Kind.PATH,
        "study (CSV): operator, stamper, repeat, and per line either a reading (angle_deg, reading_um, turn) or an "
        "offset found (x_um, y_um); everybody centres every stamper equally often",
        positional=True,
    )
    groove: str = ask(
        Kind.WORD, "groove under the lens, a closed ring or a spiral; locked if not given", choices=_grooves,
        default="locked",
    )  # fmt: skip
    pitch_um: float | None = ask(
        Kind.NUMBER, "known pitch of the spiral; fitted if not given", default=None, unit="μm", low=-5000, high=5000
    )
    limit_offset_um: float | None = ask(
        Kind.NUMBER, "limit on the offset that these people judge by", default=None, unit="μm", low=0.1, high=5000
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperInspectRequest:
    """Look through a register of metal: family, and what to do with each piece."""

    register: Path = ask(
        Kind.PATH, "register (TOML): one [[piece]] each with what was measured and seen", positional=True
    )
    piece: str | None = ask(Kind.TEXT, "judge this piece only; all if not given", default=None)
    rules: Path | None = ask(
        Kind.PATH, "what the house asks of incoming metal (TOML); common practice if not given", default=None
    )


_NOW = "impressions of the stamper that is on the press; with the costs it says whether a change pays"
_CHANGE = "cost of a stamper change, in any money"
_BAD = "cost of one bad copy, in the same money"
_CHECK = "copies pressed between two listenings; 100 if not given"


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperLifeRequest:
    """How long stampers last, from those that were taken off."""

    retirements: Path = ask(
        Kind.PATH,
        "stampers taken off (CSV): stamper, impressions, worn (yes, or no for one taken off sound), reason",
        positional=True,
    )
    now: int | None = ask(Kind.WHOLE, _NOW, default=None, low=0, high=100_000)
    change_cost: float | None = ask(Kind.NUMBER, _CHANGE, default=None, low=0.01, high=1e9)
    bad_copy_cost: float | None = ask(Kind.NUMBER, _BAD, default=None, low=0.0001, high=1e9)
    check_every: int | None = ask(Kind.WHOLE, _CHECK, default=None, low=1, high=10_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperTrendRequest:
    """Where a stamper is heading, from what was measured on its copies."""

    measured: Path = ask(
        Kind.PATH,
        "copies measured (CSV): stamper, impressions, and any of noise_db, treble_db, ticks",
        positional=True,
    )
    limit_noise_db: float | None = ask(
        Kind.NUMBER, "surface noise at which a copy is bad, above it", default=None, unit="dB", low=-150, high=50
    )
    limit_treble_db: float | None = ask(
        Kind.NUMBER, "treble at which a copy is bad, below it", default=None, unit="dB", low=-150, high=50
    )
    limit_ticks: float | None = ask(
        Kind.NUMBER, "ticks a side at which a copy is bad, above them", default=None, low=0, high=10_000
    )
    change_cost: float | None = ask(Kind.NUMBER, _CHANGE, default=None, low=0.01, high=1e9)
    bad_copy_cost: float | None = ask(Kind.NUMBER, _BAD, default=None, low=0.0001, high=1e9)
    check_every: int | None = ask(Kind.WHOLE, _CHECK, default=None, low=1, high=10_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperFieldRequest:
    """Check a scanner with a measured ring."""

    scans: tuple[Path, ...] = ask(
        Kind.PATH,
        "scans of the ring (PNG, TIFF, JPEG), two or more, the ring laid anew and turned for each where records lie",
        positional=True,
        many=True,
    )
    um_per_px: float = ask(Kind.NUMBER, "scale as stated; 21.167 at 1200 dpi", unit="μm", low=1, high=500)
    rim_mm: float = ask(Kind.NUMBER, "measured diameter of the ring's rim", unit="mm", low=10, high=420)
    hole_mm: float = ask(
        Kind.NUMBER, "diameter of the ring's hole; 7.26 if not given", default=7.26, unit="mm", low=1, high=200
    )
    ring_u95_um: float = ask(
        Kind.NUMBER,
        "U95 of the ring itself: its diameter, and hole to rim (turned in one clamping); 2 if not given",
        default=2.0,
        unit="μm",
        low=0,
        high=100,
    )
    name: str = ask(Kind.TEXT, "the scanner's name for the field file", default="scanner")
    owner: str = ask(Kind.TEXT, "who answers for the check", default="the person who asked")
    out: Path | None = ask(Kind.PATH, "field file to write (.toml), for `stamper picture --field`", default=None)
