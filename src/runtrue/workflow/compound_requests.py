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
    fluxed: bool = ask(Kind.FLAG, "the batch is fluxed already: hold or refuse it, nothing can be added", default=False)
