"""What the listening actions are asked: one frozen request each, its fields described for command line and form."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask


def _formats() -> list[str]:
    from runtrue.disc.formats import FORMATS

    return list(FORMATS)


def _limit_names() -> list[str]:
    from runtrue.limits import shipped

    return shipped()


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenCheckRequest:
    """Judge one recording of a record against what its side should sound like."""

    capture: Path = ask(Kind.PATH, "recording of the record: WAV, RF64, AIFF or FLAC, 44.1 to 192 kHz", positional=True)
    reference: Path | None = ask(
        Kind.PATH,
        "what the side should sound like: cutting file, or a recording of the mother or an approved pressing",
        default=None,
    )
    format: str = ask(Kind.WORD, "kind of record", choices=_formats)
    rpm: float | None = ask(
        Kind.NUMBER,
        "speed at which the side is cut; 33 1/3, 45 or 78.26 by the format if not given",
        default=None,
        unit="rpm",
        low=10,
        high=120,
    )
    start_radius_mm: float | None = ask(
        Kind.NUMBER,
        "radius at which the programme starts, taken to 0.1 mm; if not given the outermost groove of the format less "
        "half the lead-in, known to 1 mm",
        default=None,
        unit="mm",
        low=20,
        high=200,
    )
    end_radius_mm: float | None = ask(
        Kind.NUMBER,
        "radius at which the reference ends, taken to 0.1 mm; if not given it follows from the usual pitch, known to "
        "30 % of it",
        default=None,
        unit="mm",
        low=20,
        high=200,
    )
    arm_offset_deg: float | None = ask(
        Kind.NUMBER,
        "angle by which the line from stylus to pivot leans from the groove toward the spindle; 0 for a tangential "
        "arm; unknown within 0 to 25 deg if not given",
        default=None,
        unit="deg",
        low=-45,
        high=45,
    )
    arm_length_mm: float | None = ask(
        Kind.NUMBER, "pivoted arm: pivot to stylus, with the overhang", default=None, unit="mm", low=120, high=500
    )
    arm_overhang_mm: float | None = ask(
        Kind.NUMBER,
        "pivoted arm: how far the stylus reaches past the spindle",
        default=None,
        unit="mm",
        low=-30,
        high=30,
    )
    player_swing_percent: float | None = ask(
        Kind.NUMBER,
        "the player's own once-a-turn swing: radius that holds its peak 95 times in 100; 0.02 if not given",
        default=None,
        unit="%",
        low=0,
        high=5,
    )
    spindle_mm: float | None = ask(
        Kind.NUMBER,
        "diameter of the player's spindle; 7.05 to 7.15 mm if not given",
        default=None,
        unit="mm",
        low=1,
        high=60,
    )
    hole_mm: float | None = ask(
        Kind.NUMBER,
        "diameter of the record's hole; 7.24 to 7.33 mm if not given",
        default=None,
        unit="mm",
        low=1,
        high=60,
    )
    rig: Path | None = ask(
        Kind.PATH,
        "rig file (TOML): arm, platter, channels and calibration of the bench; options override it",
        default=None,
    )
    limits: Path | None = ask(Kind.PATH, "limits file (TOML) of the house, in place of a standard's", default=None)
    standard: str | None = ask(
        Kind.WORD,
        "published limits by name, with that standard's dimensions; iec if not given",
        default=None,
        choices=_limit_names,
    )
    quick: bool = ask(
        Kind.FLAG,
        "only what the time line tells: programme, speed, flutter, off-centre, jumps; no ticks, no noise, and so no "
        "pass where a limit asks for them",
        default=False,
    )
    listening_level_db: float | None = ask(
        Kind.NUMBER, "sound level at which the programme's rms is heard; 75 dB if not given", default=None,
        unit="dB", low=40, high=110,
    )  # fmt: skip
    hearing_shift_db: float | None = ask(
        Kind.NUMBER, "how far what is just heard lies above the computed threshold, as `listen marks` found it",
        default=None, unit="dB", low=-40, high=40,
    )  # fmt: skip
    hearing_spread_db: float | None = ask(
        Kind.NUMBER, "over how much that is spread; 3 dB if not given", default=None, unit="dB", low=0.3, high=20,
    )  # fmt: skip
    sample: str | None = ask(
        Kind.TEXT, "sample of the book that was played: the placing is entered with the result", default=None
    )
    book: str | None = ask(
        Kind.TEXT,
        "path or URL of the book that keeps the result, from which the same question is answered again; the one of "
        "RUNTRUE_BOOK or in your data folder, where there is one",
        default=None,
        common=True,
    )


OF_ONE = frozenset(
    {
        "capture", "reference", "rig", "book", "sample", "quick", "listening_level_db", "hearing_shift_db",
        "hearing_spread_db",
    }
)  # fmt: skip
"""What a check asks of one recording alone, and not of compared copies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenRenderRequest:
    """Make a recording with faults to listen to, or to try a limit on."""

    reference: Path = ask(Kind.PATH, "what the side sounds like without faults", positional=True)
    out: Path = ask(Kind.PATH, "file to write, .wav or .flac", positional=True)
    format: str = ask(Kind.WORD, "kind of record", choices=_formats)
    offset_um: float | None = ask(
        Kind.NUMBER, "off-centre, distance of the centres", default=None, unit="μm", low=0, high=5000
    )
    direction_deg: float | None = ask(
        Kind.NUMBER,
        "off-centre, direction from the groove's centre to the hole's",
        default=None,
        unit="deg",
        low=0,
        high=360,
    )
    speed_percent: float | None = ask(
        Kind.NUMBER, "how much too fast the player runs", default=None, unit="%", low=-25, high=25
    )
    surface_db: float | None = ask(
        Kind.NUMBER,
        "surface noise, rms above 200 Hz re programme; none if not given",
        default=None,
        unit="dB",
        low=-120,
        high=20,
    )
    tick: tuple[float, ...] = ask(
        Kind.NUMBER, "tick at this programme time; may be given several times", default=(), unit="s", low=0, many=True
    )
    tick_db: float = ask(
        Kind.NUMBER, "peak of the ticks re full scale; -20 if not given", default=-20.0, unit="dB", low=-120, high=20
    )
    skip: tuple[float, ...] = ask(
        Kind.NUMBER,
        "jump forward one turn at this programme time; may be given several times",
        default=(),
        unit="s",
        low=0,
        many=True,
    )
    repeat: tuple[float, ...] = ask(
        Kind.NUMBER,
        "go back one turn at this programme time; may be given several times",
        default=(),
        unit="s",
        low=0,
        many=True,
    )
    rpm: float | None = ask(
        Kind.NUMBER, "nominal speed; the format's if not given", default=None, unit="rpm", low=12, high=120
    )
    start_radius_mm: float | None = ask(
        Kind.NUMBER,
        "radius at which the programme starts; the format's if not given",
        default=None,
        unit="mm",
        low=30,
        high=200,
    )
    end_radius_mm: float | None = ask(
        Kind.NUMBER,
        "radius at which it ends; by the usual pitch if not given",
        default=None,
        unit="mm",
        low=20,
        high=200,
    )
    arm_offset_deg: float | None = ask(
        Kind.NUMBER,
        "lean of the line from stylus to pivot; 0, a tangential arm, if not given",
        default=None,
        unit="deg",
        low=-45,
        high=45,
    )
    faults: Path | None = ask(Kind.PATH, "faults file (TOML) in place of the options above", default=None)
    seed: int = ask(Kind.WHOLE, "start of everything random; same seed, same recording", default=0, low=0)
