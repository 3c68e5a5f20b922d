"""The moment of the scale: each weighing judged as it arrives, then what it does to the formula and what helps."""

import csv
import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple, cast

import runtrue
from runtrue.compound.formula import class_shares, mixture_density
from runtrue.compound.remedy import Remedy, RemedyKind, remedy
from runtrue.compound.weighing import BAD, Call, Check, Fault, FaultKind, Judged, after_fluxing, shares
from runtrue.contract import weighed as printed
from runtrue.contract.charge import FileInput
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.types import Progress, Verdict
from runtrue.units import G_PER_CM3, LITRE, PERCENT
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.compound_files import ChargeFile, load_charge
from runtrue.workflow.compound_requests import CompoundWeighRequest
from runtrue.workflow.compound_words import count, fixed, listed, safety
from runtrue.workflow.nulls import not_judged
from runtrue.workflow.table_file import Row, load_table

NEEDED = ("time", "ingredient", "mass_kg")
KNOWN = ("time", "ingredient", "lot", "mass_kg", "scale", "operator")
MOST = 1_000_000
"""Lines above which it is no file of weighings."""
STDIN = Path("-")
_OF_A_LINE = ("mass_kg", "total_kg", "away_kg")


class _Read(NamedTuple):
    """A line of the scale, or why it could not be read."""

    line: int
    row: Row
    mass: float | None
    trouble: str = ""


def weigh(request: CompoundWeighRequest, ports: Ports, progress: Progress) -> printed.Weighed:
    """Judge the weighings. From standard input each is told as it comes; one that cannot be read is weighed again."""
    check_request(request)
    file = load_charge(request.charge, request.batch_kg)
    if request.weighings == STDIN:
        source = FileInput(file="standard input", sha256="")
        return _judged(_Asked(request=request, file=file, source=source), _from_scale(ports), ports)
    with _uncollected():
        rows = load_table(request.weighings, "weighings", needed=NEEDED, known=KNOWN, most=MOST)
        read = (_Read(line=int(row.where.rpartition(" ")[2]), row=row, mass=_mass(row)) for row in rows)
        digest = sha256(request.weighings.read_bytes()).hexdigest()
        source = FileInput(file=request.weighings.name, sha256=digest)
        return _judged(_Asked(request=request, file=file, source=source), read, None)


@contextmanager
def _uncollected() -> Iterator[None]:
    """A long table makes values without cycles only; to look for cycles in them takes a third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _mass(row: Row) -> float:
    row.needed("time")
    row.needed("ingredient")
    mass = row.number("mass_kg", low=0.0, high=100_000.0, unit="kg")
    if mass == 0.0:
        raise InputError(f"{row.where}: mass_kg must be above 0 kg, got 0: nothing was weighed; remove the line")
    return mass


def _from_scale(ports: Ports) -> Iterator[_Read]:
    """Lines as a scale prints them: with a heading, or in the usual order of columns."""
    names: list[str] = []
    for number, text in enumerate(ports.lines(), 1):
        if not text.strip():
            continue
        try:
            cells = [cell.strip() for cell in next(csv.reader([text], strict=True))]
        except csv.Error as error:
            yield _Read(line=number, row=Row(where=f"line {number}", values={}), mass=None, trouble=str(error))
            continue
        if not names:
            names = cells if "ingredient" in cells else list(KNOWN)
            if names is cells:
                lacking = [name for name in NEEDED if name not in names]
                if lacking:
                    raise InputError(
                        f"standard input, line {number}: column '{lacking[0]}' is missing; needed are "
                        f"{', '.join(NEEDED)}: add it"
                    )
                continue
        row = Row(where=f"standard input, line {number}", values=dict(zip(names, cells, strict=False)))
        try:
            if len(cells) > len(names):
                raise InputError(f"{row.where}: more values than columns; write 12.5, not 12,5")
            yield _Read(line=number, row=row, mass=_mass(row))
        except InputError as error:
            yield _Read(line=number, row=row, mass=None, trouble=str(error))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The question with its charge read, and where the weighings come from."""

    request: CompoundWeighRequest
    file: ChargeFile
    source: FileInput


def _judged(asked: _Asked, read: Iterator[_Read], ports: Ports | None) -> printed.Weighed:
    file = asked.file
    check = Check(file.charge)
    codes = {line.code: line.ingredient for line in file.sheet.lines}
    doubts = {scale.id: scale.u95_kg for scale in file.sheet.scales}
    unknown: set[str] = set()
    weighings: list[printed.WeighingRow] = []
    for one in read:
        row = _weighing(one, check, codes, doubts, unknown)
        weighings.append(row)
        if ports is not None:
            ports.tell(_told(row, check))
    return _result(asked, check, weighings, unknown)


def _weighing(
    one: _Read, check: Check, codes: dict[str, str], doubts: dict[str, float], unknown: set[str]
) -> printed.WeighingRow:
    text = one.row.text
    name, lot, scale = text("ingredient"), text("lot"), text("scale")
    name = codes.get(name, name)
    judged = None
    if one.mass is not None:
        if scale not in doubts:
            unknown.add(scale)
        judged = check.take(ingredient=name, mass=one.mass, lot=lot, u95=doubts.get(scale, 0.0))
    return printed.WeighingRow(
        line=one.line,
        time=text("time"),
        ingredient=name,
        lot=lot,
        mass_kg=one.mass,
        scale=scale,
        operator=text("operator"),
        call="unreadable" if judged is None else judged.call.value,
        went_in="" if judged is None else judged.ingredient,
        total_kg=None if judged is None else round(judged.total, 6),
        away_kg=None if judged is None else round(judged.away, 6),
        said=one.trouble if judged is None else _said(judged, check),
    )


def _said(judged: Judged, check: Check) -> str:
    """What a weighing is, where it is not right."""
    if judged.call is Call.RIGHT:
        return ""
    return _SAID[judged.call](judged, check)


def _swapped(judged: Judged, _check: Check) -> str:
    if judged.by_lot:
        return f"swapped: the lot is {judged.ingredient}, weighed as {judged.about}"
    return f"swapped: {_kg(judged.total)} is {judged.about}'s mass, not {judged.ingredient}'s"


def _doubtful(judged: Judged, check: Check) -> str:
    tolerance = _kg(check.tolerance(judged.ingredient))
    return f"{judged.ingredient}: {_signed(judged.away)}, too near the edge of ± {tolerance} for this scale"


_SAID: dict[Call, Callable[[Judged, Check], str]] = {
    Call.PORTION: lambda judged, _: f"{_kg(-judged.away)} of {judged.ingredient} still to come",
    Call.DOUBTFUL: _doubtful,
    Call.OVER: lambda judged, _: f"{judged.ingredient}: {_kg(judged.away)} too much",
    Call.DOUBLE: lambda judged, _: f"{judged.ingredient} is weighed a second time: {_kg(judged.away)} too much",
    Call.SWAPPED: _swapped,
    Call.WRONG_LOT: lambda judged, _: f"lot {judged.about} is none of {judged.ingredient}'s",
    Call.STRANGER: lambda judged, _: f"{judged.ingredient} is not in the formula",
}


def _told(row: printed.WeighingRow, check: Check) -> str:
    """One line at once for whoever stands at the scale."""
    if row.mass_kg is None:
        return f"WEIGH AGAIN  {row.said}"
    mark = "STOP" if row.call in {call.value for call in BAD} else "right" if row.call == "right" else "wait"
    return f"{mark:11}  {row.ingredient} {_kg(row.mass_kg)}{': ' + row.said if row.said else ''}"


def _result(asked: _Asked, check: Check, weighings: list[printed.WeighingRow], unknown: set[str]) -> printed.Weighed:
    file, request = asked.file, asked.request
    found = check.faults()
    states = {line.ingredient.name: check.state(line.ingredient.name) for line in file.charge.lines}
    doubtful = [name for name, (word, _) in states.items() if word is Verdict.CANNOT_JUDGE]
    unread = sum(row.mass_kg is None for row in weighings)
    helped = None if request.fluxed else _remedy(file, check)
    verdict: Any = "fail" if found else "cannot_judge" if doubtful or unread else "pass"
    row = None if helped is None else _remedy_row(helped)
    decision = _decision(verdict, found, helped)
    faults = [_fault_row(fault) for fault in found]
    doubt = (
        f"{listed(doubtful[:3])} lie too near the edge of the tolerance"
        if doubtful
        else f"{count(unread, 'line')} could not be read"
    )
    mix = shares(check)
    solids = file.charge.formula.total
    result = printed.Weighed(
        verdict=verdict,
        decision=decision,
        said=f"Charge {file.sheet.code} of {file.charge.formula.name} {_headline(decision, faults, row, doubt)}",
        charge=file.sheet.code,
        formula=file.charge.formula.name,
        faults=faults,
        remedy=row,
        lines=[
            printed.WeighedLine(
                ingredient=line.ingredient.name,
                target_kg=round(line.mass, 6),
                tolerance_kg=round(check.tolerance(line.ingredient.name), 6),
                weighed_kg=round(check.totals[line.ingredient.name], 6),
                away_kg=round(check.totals[line.ingredient.name] - line.mass, 6),
                times=states[line.ingredient.name][1],
                verdict=cast(Any, states[line.ingredient.name][0].value),
                formula_percent=round(_counted(line.ingredient.share, line.ingredient.counted, file) / solids, 6),
                mix_percent=round(mix[line.ingredient.name] / PERCENT, 6),
            )
            for line in file.charge.lines
        ],
        classes=_classes(file, mix),
        density_g_cm3=None if file.charge.density is None else round(file.charge.density / G_PER_CM3, 6),
        mix_density_g_cm3=_mix_density(file, check),
        weighings=weighings,
        not_judged=[],
        cautions=_cautions(unknown, file, unread),
        safety=safety(hazard for line in file.charge.lines for hazard in line.ingredient.hazards),
        input=[FileInput(file=file.name, sha256=file.digest), asked.source],
        settings=printed.WeighSettings(fluxed=request.fluxed, batch_kg=request.batch_kg),
        version=runtrue.__version__,
    )
    reasons = {
        "remedy": "the batch is fluxed: nothing can be added",
        "density_g_cm3": "an ingredient's density is not stated",
        "mix_density_g_cm3": "an ingredient's density is not stated, something foreign lies in it, or nothing does",
        "remedy.fill_percent": "the charge names no mixer, or a density is not stated",
        "faults.tolerances": "it has no tolerance in this charge",
    }
    result.not_judged.extend(not_judged(result, reasons, leave=("weighings",)))
    if unread:
        why = "the line could not be read"
        result.not_judged.extend(NotJudged(key=f"weighings.{key}", reason=why) for key in _OF_A_LINE)
    return result


def _classes(file: ChargeFile, mix: dict[str, float]) -> list[printed.ClassRow]:
    """What the mix is against what was asked for, class by class."""
    asked = class_shares(file.charge.formula)
    return [
        printed.ClassRow(
            material=material.value,
            formula_percent=round(share / PERCENT, 6),
            mix_percent=round(
                sum(mix[i.name] for i in file.charge.formula.ingredients if i.material is material) / PERCENT, 6
            ),
        )
        for material, share in asked.items()
    ]


def _mix_density(file: ChargeFile, check: Check) -> float | None:
    """Density of the dry mix so far; None where it cannot be told."""
    parts = [
        (check.totals[line.ingredient.name] * line.ingredient.solids(), line.ingredient.density)
        for line in file.charge.lines
    ]
    known = [(mass, density) for mass, density in parts if density is not None and mass > 0.0]
    if check.strangers or not known or any(density is None for _, density in parts):
        return None
    return round(mixture_density(tuple(m for m, _ in known), tuple(d for _, d in known)) / G_PER_CM3, 6)


def _counted(share: float, counted: float, file: ChargeFile) -> float:
    return share * (counted if file.charge.formula.basis.value == "solids" else 1.0) / PERCENT


def _remedy(file: ChargeFile, check: Check) -> Remedy:
    mixer = file.sheet.mixer
    return remedy(
        file.charge,
        check.totals,
        {name: check.tolerance(name) for name in check.totals},
        foreign=bool(check.strangers) or any(f.kind is FaultKind.WRONG_LOT for f in check.faults()),
        chamber=None if mixer is None else mixer.volume_l * LITRE,
    )


def _decision(verdict: str, faults: tuple[Fault, ...], helped: Remedy | None) -> printed.DecisionWord:
    if verdict == "pass":
        return "go_on"
    if verdict == "cannot_judge":
        return "weigh_again"
    if helped is None:
        return "hold" if after_fluxing(faults) else "refuse"
    if helped.kind is RemedyKind.DIVIDE:
        return "divide"
    if helped.kind is RemedyKind.NONE:
        return "refuse"
    return "add" if helped.additions else "hold"


def _remedy_row(found: Remedy) -> printed.RemedyRow:
    each = 1.0 / found.parts
    additions = [
        printed.Addition(ingredient=name, mass_kg=round(mass * each, 6)) for name, mass in found.additions.items()
    ]
    return printed.RemedyRow(
        kind=found.kind.value,
        parts=found.parts,
        additions=additions,
        mass_kg=round(found.mass * each, 6),
        batch_kg=round(found.batch * each, 6),
        fill_percent=None if found.fill is None else round(found.fill / PERCENT, 4),
        said=_remedy_said(found, additions),
    )


def _remedy_said(found: Remedy, additions: list[printed.Addition]) -> str:
    if found.kind is RemedyKind.NOTHING:
        return "Nothing to add: every ingredient is within its tolerance."
    if found.kind is RemedyKind.NONE:
        return f"No addition helps: {found.reason}."
    named = [f"{_kg(a.mass_kg)} {a.ingredient}" for a in additions[:3]]
    if len(additions) > 3:
        named.append(f"of {count(len(additions) - 3, 'other')} as listed")
    first = listed(named)
    where = f" of {found.mass / found.parts:.4g} kg"
    if found.fill is not None:
        where += f", {100.0 * found.fill:.0f} % of the chamber"
    if found.kind is RemedyKind.DIVIDE:
        return (
            f"Blend the dry mix evenly, divide it into {found.parts} equal parts and add to each {first}: each "
            f"is "
            f"then a batch{where}. In one piece it does not go in: {found.reason}."
        )
    then = "the mix is the formula again" if found.kind is RemedyKind.RESTORE else "every share is within its tolerance"
    return f"Add {first}: {then}, a batch{where}." + (f" ({found.reason}.)" if found.reason else "")


def _fault_row(fault: Fault) -> printed.WeighFault:
    name, about, away = fault.ingredient, fault.about, fault.away
    said = {
        FaultKind.MISSING: f"{name} is missing: {_kg(-away)}",
        FaultKind.LIGHT: f"{name} is {_kg(-away)} light",
        FaultKind.OVER: f"{name} is {_kg(away)} over",
        FaultKind.DOUBLE: f"{name} was weighed twice: {_kg(away)} too much",
        FaultKind.SWAPPED: f"{name} and {about} were swapped",
        FaultKind.WRONG_LOT: f"lot {about} is none of {name}'s",
        FaultKind.STRANGER: f"{name}, {_kg(away)}, is not in the formula",
    }[fault.kind]
    return printed.WeighFault(
        kind=fault.kind.value,
        ingredient=name,
        about=about,
        away_kg=round(away, 6),
        tolerances=None if fault.tolerances is None else round(fault.tolerances, 3),
        said=said,
    )


def _headline(decision: str, faults: list[printed.WeighFault], helped: printed.RemedyRow | None, doubt: str) -> str:
    if decision == "go_on":
        return "is weighed as asked: every ingredient is within its tolerance."
    if decision == "weigh_again":
        return f"cannot be judged: {doubt}. Weigh again."
    shown = "; ".join(fault.said for fault in faults[:4]) + (f"; {len(faults) - 4} more" if len(faults) > 4 else "")
    if helped is not None:
        return f"is not as asked: {shown}. {helped.said}"
    then = (
        "Hold it: every deviation is within three tolerances, its test decides."
        if decision == "hold"
        else "Refuse it: it is fluxed, and nothing can be added."
    )
    return f"is not as asked: {shown}. {then}"


def _cautions(unknown: set[str], file: ChargeFile, unread: int) -> list[str]:
    said = []
    if unknown:
        names = listed(sorted(name or "no scale named" for name in unknown))
        said.append(
            f"Scales without a stated doubt ({names}) are taken as exact; state them in the formula's [[scale]]."
        )
    if any(line.tolerance is None for line in file.charge.lines):
        said.append("Where the formula states no tolerance, 0.5 % of the set mass is taken (common practice).")
    if unread:
        said.append(f"{count(unread, 'line')} could not be read and count as not weighed.")
    return said


def _kg(mass: float) -> str:
    """A mass as a scale shows it: grams below 10 kg, else ten grams."""
    return f"{fixed(mass, 3 if abs(mass) < 10.0 else 2)} kg"


def _signed(mass: float) -> str:
    return f"{'+' if mass > 0.0 else ''}{_kg(mass)}"
