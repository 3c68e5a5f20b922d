"""Compound: a charge to weigh, judged as it is weighed, and batches against their family."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from runtrue.contract.charge import ChargeLine, ChargeSheet
from runtrue.contract.listening import VerdictWord
from runtrue.contract.weighed import Weighed, WeighedLine
from runtrue.errors import InputError
from runtrue.formulas import shipped
from runtrue.paper.charge_sheet import decimals
from runtrue.paper.family_chart import LANE, lane
from runtrue.paper.layout import PRINT
from runtrue.paper.page import INNER
from runtrue.paper.words import VERDICT_WORDS, count, fixed, sentence_case
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.compound_batch import judge_family
from runtrue.workflow.compound_charge import make_charge
from runtrue.workflow.compound_requests import CompoundChargeRequest, CompoundFamilyRequest, CompoundWeighRequest
from runtrue.workflow.compound_told import charge_facts, charge_told, family_row, kg, number_word
from runtrue.workflow.compound_weigh import weigh
from runtrue.workflow.compound_words import safety
from runtrue.workflow.pages.beside import file_beside, files_beside
from runtrue.workflow.pages.page import Head, Picture, head, mark, picture

FOLDER = "compound"
BATCH_KG = 100.0
"""Mass of a batch where nobody says [kg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A formula or a family that can be chosen."""

    name: str
    words: str
    href: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRow:
    """An ingredient to weigh, what was typed, and how it stands; masses in kg, ``step`` is the scale's division."""

    code: str
    ingredient: str
    lots: str
    set_kg: str
    tolerance: str
    step: str
    mass_kg: str
    away: str
    verdict: VerdictWord | None
    verdict_words: str
    mark: str
    next: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A number of the batch in words."""

    name: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighings:
    """What the form holds: masses as typed [kg], one per line of the charge; ``scan`` is a line's bar code."""

    batch_kg: str = ""
    masses: tuple[str, ...] = ()
    scan: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CompoundPage:
    """Formulas and families, and the chosen charge: empty rows where none is chosen."""

    head: Head
    formulas: list[Choice]
    families: list[Choice]
    formula: str
    batch_kg: str
    code: str
    rows: list[ChargeRow]
    faults: list[str]
    remedy: str
    facts: list[Fact]
    cautions: list[str]
    safety: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyRow:
    """A number of the batches beside its family."""

    name: str
    centre: str
    sigma: str
    newest: str
    limits: str
    verdict: VerdictWord
    verdict_words: str
    mark: str
    lane: Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyPage:
    """Batches against their family."""

    head: Head
    families: list[Choice]
    family: str
    baseline: str
    rows: list[FamilyRow]
    cautions: list[str]
    safety: list[str]


def _formulas(ports: Ports, here: str = "") -> tuple[list[Choice], dict[str, Path]]:
    own = files_beside(ports.open_book(None), FOLDER, ".toml")
    paths = {name: Path(name) for name in shipped()} | own
    made = [
        Choice(name=name, words="beside the book" if name in own else "ships with the program",
               href=f"/compound/charge/{name}", here=name == here)
        for name in paths
    ]  # fmt: skip
    return sorted(made, key=lambda one: (one.words != "beside the book", one.name)), paths


def _family_files(ports: Ports, here: str = "") -> tuple[list[Choice], dict[str, Path]]:
    found = files_beside(ports.open_book(None), FOLDER, ".csv")
    paths = {name: path for name, path in found.items() if "family" in name}
    return [
        Choice(name=name, words="batches in the order they were made", href=f"/compound/family/{name}",
               here=name == here) for name in paths
    ], paths  # fmt: skip


def compound_page(ports: Ports) -> CompoundPage:
    """What can be weighed and checked."""
    formulas, _ = _formulas(ports)
    families, _ = _family_files(ports)
    lie = f"{count(len(families), 'family', 'families')} of batches {'lies' if len(families) == 1 else 'lie'}"
    top = head("Compound", "Choose the formula to weigh.", act=f"{sentence_case(lie)} beside the book.")
    return CompoundPage(head=top, formulas=formulas, families=families, formula="", batch_kg="", code="", rows=[],
                        faults=[], remedy="", facts=[], cautions=[], safety=safety(()))  # fmt: skip


def charge_page(ports: Ports, name: str, asked: Weighings) -> CompoundPage:
    """A charge of a formula, with what was weighed of it judged so far."""
    formulas, paths = _formulas(ports, name)
    families, _ = _family_files(ports)
    path = file_beside(paths, name, "formula")
    batch = _batch(asked.batch_kg)
    sheet = make_charge(CompoundChargeRequest(formula=path, batch_kg=batch), ports, silent)
    masses = _masses(sheet, asked.masses)
    weighed = _weighed(sheet, masses, ports)
    there = [bool(mass) for mass in masses]
    at = _at(sheet, there, asked.scan)
    faults = _faults(weighed, there)
    rows = [
        _row(line, masses[place], None if weighed is None else weighed.lines[place], here=place == at)
        for place, line in enumerate(sheet.lines)
    ]
    return CompoundPage(
        head=_head(sheet, weighed, there, faults=faults, at=at, asked=asked), formulas=formulas, families=families,
        formula=name, batch_kg=f"{batch:g}", code=sheet.code, rows=rows, faults=faults,
        remedy=_remedy(weighed, there) if faults else "",
        facts=[Fact(name=key, words=words) for key, words in charge_facts(sheet)], cautions=list(sheet.cautions),
        safety=list(sheet.safety),
    )  # fmt: skip


def _batch(typed: str) -> float:
    text = typed.strip()
    try:
        value = BATCH_KG if not text else float(text)
    except ValueError:
        value = float("nan")
    if not 0.001 <= value <= 100_000.0 or "_" in text:
        raise InputError(f"batch_kg must be 0.001 to 100000 kg, got '{text[:20]}': correct it")
    return value


def _masses(sheet: ChargeSheet, typed: Sequence[str]) -> list[str]:
    """Masses as typed, one per line; raises ``InputError`` for what is no mass."""
    given = [one.strip() for one in typed][: len(sheet.lines)]
    for line, text in zip(sheet.lines, given, strict=False):
        try:
            good = not text or (0.0 < float(text) <= 100_000.0 and "_" not in text)
        except ValueError:
            good = False
        if not good:
            raise InputError(f"{line.ingredient}: '{text[:20]}' is no mass above 0 kg; write 12.5, not 12,5")
    return given + [""] * (len(sheet.lines) - len(given))


def _weighed(sheet: ChargeSheet, masses: Sequence[str], ports: Ports) -> Weighed | None:
    """What the weighings make of the charge; None before the first."""
    if not any(masses):
        return None
    now = ports.clock()
    lines = [f"{now},{line.code},{mass}" for line, mass in zip(sheet.lines, masses, strict=True) if mass]
    with TemporaryDirectory() as folder:
        charge, weighings = Path(folder) / "charge.json", Path(folder) / "weighings.csv"
        charge.write_text(json.dumps(asdict(sheet), ensure_ascii=False, allow_nan=False), encoding="utf-8")
        weighings.write_text("\n".join(["time,ingredient,mass_kg", *lines, ""]), encoding="utf-8")
        return weigh(CompoundWeighRequest(charge=charge, weighings=weighings), ports, silent)


def _at(sheet: ChargeSheet, there: Sequence[bool], scan: str) -> int | None:
    """The line to weigh next: the one whose bar code was read, else the first that is open."""
    code = scan.strip().casefold()
    named = next((place for place, line in enumerate(sheet.lines) if line.code.casefold() == code), None)
    return named if named is not None else next((place for place, one in enumerate(there) if not one), None)


def _faults(weighed: Weighed | None, there: Sequence[bool]) -> list[str]:
    """What is wrong; while lines are open, what is merely not there yet is left out."""
    if weighed is None:
        return []
    done = all(there)
    by_name = dict(zip((line.ingredient for line in weighed.lines), there, strict=True))
    return [one.said for one in weighed.faults if done or (one.kind != "missing" and by_name.get(one.ingredient, True))]


def _remedy(weighed: Weighed | None, there: Sequence[bool]) -> str:
    """What brings the formula back; only a charge that is weighed to its end tells."""
    return weighed.remedy.said if weighed is not None and weighed.remedy is not None and all(there) else ""


def _head(
    sheet: ChargeSheet, weighed: Weighed | None, there: Sequence[bool], *, faults: Sequence[str], at: int | None,
    asked: Weighings,
) -> Head:  # fmt: skip
    scanned = asked.scan.strip()
    unknown = scanned and scanned.casefold() not in {line.code.casefold() for line in sheet.lines}
    detail = f"'{scanned[:30]}' is no line of charge {sheet.code}: read the code again." if unknown else ""
    if weighed is None:
        return head("Compound", charge_told(sheet), act=_next(sheet, at), detail=detail)
    if faults:
        more = f"{count(len(faults) - 1, 'more fault')} below." if len(faults) > 1 else ""
        act = _act(weighed) if all(there) else "Stop: settle this before the next line."
        return head("Compound", sentence_case(faults[0]).rstrip(".") + ".", act=act, detail=detail or more,
                    verdict="fail")  # fmt: skip
    if not all(there):
        said = f"{sum(there)} of {len(there)} lines weighed, none wrong."
        return head("Compound", said, act=_next(sheet, at), detail=detail)
    return head("Compound", weighed.said, detail=detail, verdict=weighed.verdict)


def _act(weighed: Weighed) -> str:
    return {
        "go_on": "Go on.", "weigh_again": "Weigh it again.", "add": "Put right what is below, then go on.",
        "divide": "Divide the batch as below.", "hold": "Hold the batch.", "refuse": "Refuse the batch.",
    }[weighed.decision]  # fmt: skip


def _next(sheet: ChargeSheet, at: int | None) -> str:
    if at is None:
        return ""
    line = sheet.lines[at]
    return f"Next: {line.ingredient}, {kg(line.mass_kg)} kg."


def _row(line: ChargeLine, mass: str, weighed: WeighedLine | None, *, here: bool) -> ChargeRow:
    verdict = weighed.verdict if weighed is not None and mass else None
    away = "" if weighed is None or not mass else f"{kg(weighed.away_kg, signed=True)} kg"
    tolerance = "no tolerance" if line.tolerance_kg is None else f"± {kg(line.tolerance_kg)} kg"
    step = "" if line.division_kg is None else f"{line.division_kg:g} kg"
    lots = ", ".join(f"{fixed(one.mass_kg, 3)} kg of {one.lot}" for one in line.draws)
    return ChargeRow(
        code=line.code, ingredient=line.ingredient, lots=lots or "write the lot on the sheet",
        set_kg=fixed(line.mass_kg, decimals(line.division_kg)), tolerance=tolerance, step=step, mass_kg=mass, away=away,
        verdict=verdict,
        verdict_words="" if verdict is None else VERDICT_WORDS[verdict],
        mark="" if verdict is None else mark(verdict, 24.0), next=here,
    )  # fmt: skip


def family_page(ports: Ports, name: str, baseline: str = "") -> FamilyPage:
    """Batches against their family."""
    families, paths = _family_files(ports, name)
    path = file_beside(paths, name, "family")
    text = baseline.strip()
    if text and not (text.isascii() and text.isdigit() and len(text) < 7 and int(text)):
        raise InputError(f"baseline must be a whole number of batches, 1 or more, got '{text[:20]}': correct it")
    result = judge_family(CompoundFamilyRequest(family=path, baseline=int(text) if text else None), ports, silent)
    part = result.family
    rows = [
        FamilyRow(
            **dict(zip(("name", "centre", "sigma", "newest", "limits"), family_row(row), strict=True)),
            verdict=(word := number_word(row, part)), verdict_words=VERDICT_WORDS[word], mark=mark(word, 24.0),
            lane=picture(lane(row, part, pen=PRINT, wide=INNER, high=LANE), f"lane-{place}"),
        )
        for place, row in enumerate(part.numbers)
    ]  # fmt: skip
    after = len(part.batches) - part.baseline
    detail = (
        f"{count(part.baseline, 'batch', 'batches')} are the family, {count(after, 'batch', 'batches')} came after."
    )
    return FamilyPage(
        head=head("Compound", result.said, detail=detail, verdict=result.verdict), families=families, family=name,
        baseline=text, rows=rows, cautions=list(result.cautions), safety=list(result.safety),
    )  # fmt: skip
