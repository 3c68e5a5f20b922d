"""What the compound station's actions are asked: one frozen request each, described for command line and form."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask


def _formats() -> list[str]:
    from runtrue.disc.formats import FORMATS

    return list(FORMATS)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundChargeRequest:
    """What to weigh for one batch."""

    formula: Path = ask(
        Kind.PATH, "formula file (TOML), or the name of a formula that ships with the program", positional=True
    )
    batch_kg: float | None = ask(
        Kind.NUMBER,
        "mass of the batch on the formula's basis: dry, solids or as charged",
        default=None,
        unit="kg",
        low=0.001,
        high=100_000,
    )
    mixer_litre: float | None = ask(
        Kind.NUMBER,
        "net volume of the mixer's chamber, as measured with its wear; the formula file's if not given",
        default=None,
        unit="l",
        low=0.01,
        high=100_000,
    )
    fill: float | None = ask(
        Kind.NUMBER,
        "share of the chamber that the dry compound takes, in place of the mass of the batch",
        default=None,
        low=0.05,
        high=1,
    )
    format: str | None = ask(
        Kind.WORD, "kind of record, for the biscuits that the batch gives", choices=_formats, default=None
    )
    disc_g: float | None = ask(
        Kind.NUMBER, "mass of a disc; the usual one of the format if not given", default=None, unit="g", low=5,
        high=1000,
    )  # fmt: skip
    flash_percent: float | None = ask(
        Kind.NUMBER, "flash over biscuit; 15, common practice, if not given", default=None, unit="%", low=0, high=60
    )
    sheet: Path | None = ask(Kind.PATH, "charge sheet to write (.pdf), with boxes to sign and bar codes", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundWeighRequest:
    """Was it weighed?"""

    charge: Path = ask(Kind.PATH, "charge (JSON) that `compound charge --json` wrote", positional=True)
    weighings: Path = ask(
        Kind.PATH,
        "weighings (CSV): time, ingredient, lot, mass_kg, scale, operator; - reads line by line from standard input, "
        "as "
        "a scale prints; the ingredient may be the bar code of its line",
        positional=True,
    )
    batch_kg: float | None = ask(
        Kind.NUMBER,
        "size to which the batch has grown by its remedy, on the formula's basis; the charge's if not given",
        default=None,
        unit="kg",
        low=0.001,
        high=100_000,
    )
    fluxed: bool = ask(Kind.FLAG, "the batch is fluxed already: hold or refuse it, nothing can be added", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundBlendRequest:
    """The nearest formula that the store allows."""

    formula: Path = ask(
        Kind.PATH, "formula file (TOML) with its lots, or the name of a formula that ships", positional=True
    )
    batch_kg: float = ask(Kind.NUMBER, "mass of the batch on the formula's basis", unit="kg", low=0.001, high=100_000)
    bounds: Path | None = ask(
        Kind.PATH,
        "bounds (TOML) on classes, ingredients, ratios, density, cost, water, named properties, bags and regrind; only "
        "the store binds if not given",
        default=None,
    )
    without: tuple[str, ...] = ask(
        Kind.TEXT, "lot that is off and must not be used; may be given several times", default=(), many=True
    )
    out: Path | None = ask(Kind.PATH, "formula file to write (.toml) with the new percentages", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundBatchRequest:
    """One batch by its mixer's log."""

    log: Path = ask(
        Kind.PATH,
        "log (CSV): time_s, power_kw, temperature_degc, and ram_bar, speed_rpm where they are logged",
        positional=True,
    )
    batch_kg: float | None = ask(
        Kind.NUMBER, "mass of the batch, for the specific energy", default=None, unit="kg", low=0.001, high=100_000
    )
    idle_kw: float | None = ask(
        Kind.NUMBER,
        "power of the running empty mixer; it is taken off, and its fall tells the dump",
        default=None,
        unit="kW",
        low=0,
        high=100_000,
    )
    dump_s: float | None = ask(
        Kind.NUMBER, "time of the dump in the log; found by the power, or the end of the log, if not given",
        default=None, unit="s", low=0, high=1e9,
    )  # fmt: skip
    heat_capacity_kj_kg_k: float | None = ask(
        Kind.NUMBER, "heat capacity of the compound, for the heat balance", default=None, unit="kJ/(kg K)", low=0.1,
        high=10,
    )  # fmt: skip
    power_u95_percent: float = ask(
        Kind.NUMBER, "U95 of the power meter; 2 if not given", default=2.0, unit="%", low=0, high=50
    )
    temperature_u95_k: float = ask(
        Kind.NUMBER, "U95 of the temperature probe in the mix; 2 if not given", default=2.0, unit="K", low=0, high=100
    )
    limits: Path | None = ask(
        Kind.PATH,
        "dump rule as a limits file (TOML): floors and ceilings on dump_temperature_degc, specific_energy_kwh_per_kg, "
        "dump_time_s and the others",
        default=None,
    )
    family: Path | None = ask(
        Kind.PATH, "earlier batches of the family (CSV): batch, and their numbers or log with mass_kg", default=None
    )
    baseline: int | None = ask(
        Kind.WHOLE, "how many of the first batches are the family; all, up to 30, if not given", default=None, low=1,
        high=100_000,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundFamilyRequest:
    """Batches against their family."""

    family: Path = ask(
        Kind.PATH,
        "batches in the order they were made (CSV): batch, and a column for each number with its unit "
        "(dump_temperature_degc, sheet_thickness_mm, ...)",
        positional=True,
    )
    baseline: int | None = ask(
        Kind.WHOLE,
        "how many of the first batches are the family; the first 30, or all but the last, if not given",
        default=None,
        low=1,
        high=100_000,
    )
    chart: Path | None = ask(Kind.PATH, "chart to write (.pdf)", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundLotRequest:
    """What to do with a supplier's lot."""

    lot: Path = ask(
        Kind.PATH,
        "lot (TOML): its certificate, the plant's own tests, shelf life, and a trial pressing's results",
        positional=True,
    )
    limits: Path | None = ask(Kind.PATH, "limits file (TOML) for this material", default=None)
    family: Path | None = ask(
        Kind.PATH, "earlier lots of the material (CSV): batch holds the lot, and their numbers", default=None
    )
    on: str | None = ask(Kind.TEXT, "day of the decision, as 2026-11-25; today if not given", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundSheetRequest:
    """Charts and capability of sheet and biscuits."""

    readings: Path = ask(
        Kind.PATH,
        "readings in order (CSV): any of sheet_thickness_mm, biscuit_mass_g, biscuit_temperature_degc, and time, batch",
        positional=True,
    )
    limits: Path | None = ask(Kind.PATH, "limits file (TOML), for the capability", default=None)
    cpk: float = ask(
        Kind.NUMBER, "least capability asked for; 1.33, common practice, if not given", default=1.33, low=0.1, high=10
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundBalanceRequest:
    """Does what came out make up what went in?"""

    masses: Path = ask(
        Kind.PATH,
        "masses (CSV): post (compound_in, regrind_in, discs, flash, purge, rejects, held), kg and u95_kg, or count, "
        "each_g and each_u95_g",
        positional=True,
    )
    gap_limit_percent: float | None = ask(
        Kind.NUMBER, "largest gap either way, of what went in", default=None, unit="%", low=0, high=100
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundTraceRequest:
    """Who came of whom."""

    links: Path = ask(
        Kind.PATH,
        "links (CSV): kind drawn (lot, ingredient, batch), made (batch, first, last, slack) or pressed (press, first, "
        "last, slack, from_time, to_time); biscuits by their count, times as 2026-11-25T06:00:00Z",
        positional=True,
    )
    lot: str | None = ask(Kind.TEXT, "lot to follow forward", default=None)
    batch: str | None = ask(Kind.TEXT, "batch to follow both ways", default=None)
    press: str | None = ask(Kind.TEXT, "press whose hours to follow back", default=None)
    from_time: str | None = ask(Kind.TEXT, "first hour of the press; from its first if not given", default=None)
    to_time: str | None = ask(Kind.TEXT, "last hour of the press; to its last if not given", default=None)
