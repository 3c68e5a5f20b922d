"""What the press's actions are asked: one frozen request each, its fields described for command line and form."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask

_SPEC = "press file (TOML): phases, layers, limits"
_CALIBRATION = "what `press calibrate --json` printed for this press"


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCycleRequest:
    """Work out a press cycle."""

    spec: Path = ask(Kind.PATH, _SPEC, positional=True)
    compare: Path | None = ask(Kind.PATH, "a second press file to lay beside it", default=None)
    calibration: Path | None = ask(Kind.PATH, _CALIBRATION, default=None)
    picture: Path | None = ask(
        Kind.PATH, "temperature picture to write: .svg the picture alone, .pdf a sheet to print", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCalibrateRequest:
    """Fit a press to its log."""

    spec: Path = ask(Kind.PATH, _SPEC, positional=True)
    log: Path = ask(
        Kind.PATH,
        "log (CSV): time_s; die_face_a_degc, die_face_b_degc, stamper_face_a_degc, stamper_face_b_degc or "
        "mid_plane_degc; steam_bar_g and water_degc where there are",
        positional=True,
    )
    couple_u95_k: float = ask(
        Kind.NUMBER, "offset of a thermocouple, 95 %; 1.5, common practice, if not given", default=1.5, unit="K",
        low=0.05, high=10,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PressShortenRequest:
    """Weigh a shorter cycle."""

    spec: Path = ask(Kind.PATH, _SPEC, positional=True)
    by_s: float = ask(Kind.NUMBER, "how much shorter", unit="s", low=0.1, high=60)
    calibration: Path | None = ask(Kind.PATH, _CALIBRATION, default=None)
    phase: str | None = ask(
        Kind.TEXT, "phase to take it from; the last water before the opening, if not given", default=None
    )
    margin_percent: float = ask(
        Kind.NUMBER, "rise of bad records that counts as more; 0.5 in 100 if not given", default=0.5, unit="%", low=0,
        high=50,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PressTrialRequest:
    """Compare two settings by the records pressed at both."""

    results: Path = ask(
        Kind.PATH,
        "results (CSV): setting and copy; warp_24h_mm, noise_db_a, mass_g, non_fill (1 or 0) where they were taken",
        positional=True,
    )
    first: str | None = ask(Kind.TEXT, "setting to compare against; that of the first line if not given", default=None)
    warp_limit_mm: float | None = ask(
        Kind.NUMBER, "warp above this counts as warped, to compare the shares too", default=None, unit="mm", low=0.01,
        high=20,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PressRestRequest:
    """Say when a pile has cooled."""

    spec: Path = ask(Kind.PATH, "pile file (TOML): pile, room", positional=True)
    below_degc: float | None = ask(
        Kind.NUMBER, "temperature that the middle must come below; that of the pile file if not given", default=None,
        unit="°C", low=0, high=150,
    )  # fmt: skip
    laid_at: str | None = ask(Kind.TEXT, "clock time at which the last record was laid (14:05)", default=None)


def _formats() -> list[str]:
    from runtrue.disc.formats import FORMATS

    return list(FORMATS)


def _compounds() -> list[str]:
    return ["vinyl", "shellac"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressBiscuitRequest:
    """Work out the biscuit for a record."""

    format: str = ask(Kind.WORD, "kind of record", choices=_formats)
    mass_g: float | None = ask(
        Kind.NUMBER, "mass of the finished record; or give its thickness", default=None, unit="g", low=5, high=1000
    )
    thickness_mm: float | None = ask(
        Kind.NUMBER,
        "mean thickness of the finished record; or give its mass",
        default=None,
        unit="mm",
        low=0.3,
        high=10,
    )
    compound: str = ask(Kind.WORD, "property set; vinyl if not given", choices=_compounds, default="vinyl")
    density_g_cm3: float | None = ask(
        Kind.NUMBER, "density of the compound; that of the property set if not given", default=None, unit="g/cm³",
        low=0.8, high=4,
    )  # fmt: skip
    flash_percent: float = ask(
        Kind.NUMBER, "flash, over the record's mass; 15, common practice, if not given", default=15.0, unit="%", low=0,
        high=90,
    )  # fmt: skip
    contraction_percent: float = ask(
        Kind.NUMBER, "linear contraction from the mould to the room; 0.35 if not given", default=0.35, unit="%", low=0,
        high=5,
    )  # fmt: skip
    biscuit_mm: float = ask(
        Kind.NUMBER, "diameter of the biscuit; 120 if not given", default=120.0, unit="mm", low=20, high=320
    )
    table_degc: float | None = ask(
        Kind.NUMBER, "steam table, for the time to warm through", default=None, unit="°C", low=30, high=250
    )
    start_degc: float = ask(
        Kind.NUMBER, "biscuit before the table; 25 if not given", default=25.0, unit="°C", low=-20, high=200
    )
    core_degc: float | None = ask(
        Kind.NUMBER, "what the coldest part must come to on the table", default=None, unit="°C", low=20, high=220
    )
    both_sides: bool = ask(Kind.FLAG, "the biscuit lies between two plates", default=False)
    puck_degc: float | None = ask(
        Kind.NUMBER, "biscuit as it comes hot from extruder or table", default=None, unit="°C", low=30, high=250
    )
    waits_s: float | None = ask(
        Kind.NUMBER, "how long it then waits in the air", default=None, unit="s", low=0.5, high=600
    )
    room_degc: float = ask(Kind.NUMBER, "air of the hall; 25 if not given", default=25.0, unit="°C", low=-20, high=60)
    force_kn: float | None = ask(Kind.NUMBER, "force of the press", default=None, unit="kN", low=1, high=20000)
    die_degc: float | None = ask(
        Kind.NUMBER, "stamper's face as the press closes, for the frozen skin", default=None, unit="°C", low=0, high=250
    )
    ram_mm_s: float = ask(
        Kind.NUMBER, "speed of the ram; 20 if not given", default=20.0, unit="mm/s", low=0.1, high=500
    )
