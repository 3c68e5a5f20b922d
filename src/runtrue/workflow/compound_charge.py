"""The moment of the charge: from a formula to what is weighed, with its sheet."""

from hashlib import sha256
from pathlib import Path

import runtrue
from runtrue.compound.biscuit import FLASH, biscuit_mass, biscuits_from, mean_thickness, usual_mass
from runtrue.compound.charge import Charge, Line, batch_for, charge, check_chamber
from runtrue.compound.formula import Material
from runtrue.compound.remedy import WORKING_FILL
from runtrue.contract import charge as printed
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError
from runtrue.types import Progress
from runtrue.units import G_PER_CM3, GRAM, LITRE, MM, PERCENT, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.compound_files import FormulaFile, load_formula
from runtrue.workflow.compound_requests import CompoundChargeRequest
from runtrue.workflow.compound_words import listed, safety
from runtrue.workflow.new_file import check_new
from runtrue.workflow.nulls import not_judged

LEAST_FILL = 0.50
"""Least working fill of an internal mixer. Memory, common practice."""


def make_charge(request: CompoundChargeRequest, ports: Ports, progress: Progress) -> printed.ChargeSheet:
    """What to weigh. Raises ``InputError`` for what is not usable; lots that do not reach are no error."""
    check_request(request)
    if request.sheet is not None:
        check_new(request.sheet, "sheet", ".pdf")
    file = load_formula(request.formula)
    result = charge_sheet(request, file, _batch(request, file))
    if request.sheet is not None:
        write_sheet(result, request.sheet, ports.clock()[:10])
    return result


def write_sheet(result: printed.ChargeSheet, path: Path, day: str) -> None:
    """Write the charge as a sheet to weigh by."""
    from runtrue.paper.charge_sheet import charge_pages
    from runtrue.paper.pdf import write_pages

    write_pages(path, charge_pages(result, day=day), title=f"Charge {result.code}", author=result.formula.owner)


def _batch(request: CompoundChargeRequest, file: FormulaFile) -> float:
    """Mass of the batch on the formula's basis [kg]."""
    if request.batch_kg is not None:
        if request.fill is not None:
            raise InputError("batch_kg and fill both say how large the batch is; give one of them")
        return request.batch_kg
    chamber, fill = _chamber(request, file), request.fill if request.fill is not None else file.fill
    if chamber is None or fill is None:
        raise InputError("how large the batch is was not said: give batch_kg, or mixer_litre and fill")
    return batch_for(file.formula, chamber=chamber, fill=fill)


def _chamber(request: CompoundChargeRequest, file: FormulaFile) -> float | None:
    return file.chamber if request.mixer_litre is None else request.mixer_litre * LITRE


def charge_sheet(request: CompoundChargeRequest, file: FormulaFile, batch: float) -> printed.ChargeSheet:
    """The charge of ``batch`` kg as it is printed."""
    made = charge(file.formula, batch)
    chamber = _chamber(request, file)
    mixer = None
    if chamber is not None and (made.volume is not None or request.mixer_litre is not None):
        mixer = printed.ChargeMixer(
            volume_l=_r(chamber / LITRE), fill_percent=_r(check_chamber(made, chamber) / PERCENT, 4)
        )
    code = sha256(f"{file.digest} {batch!r}".encode()).hexdigest()[:6].upper()
    head = file.formula
    result = printed.ChargeSheet(
        code=code,
        ready=all(line.short == 0.0 for line in made.lines),
        formula=printed.ChargeFormula(
            name=head.name, basis=head.basis.value, owner=head.owner, date=head.date, colour=head.colour,
            currency=file.currency, sum_percent=_r(head.total / PERCENT),
        ),
        batch_kg=batch,
        mass_kg=_r(made.mass),
        solids_kg=_r(made.solids),
        water_kg=_r(made.water),
        water_percent=_r(made.water / made.mass / PERCENT),
        solvent_kg=_r(sum(line.solvent for line in made.lines)),
        density_g_cm3=None if made.density is None else _r(made.density / G_PER_CM3),
        volume_l=None if made.volume is None else _r(made.volume / LITRE),
        mixer=mixer,
        biscuits=_biscuits(request, made),
        cost=None if made.cost is None else _r(made.cost, 4),
        lines=[_line(number, code, line) for number, line in enumerate(made.lines, 1)],
        scales=[printed.Scale(id=s.id, division_kg=s.division, u95_kg=s.u95) for s in file.scales],
        sheet=None if request.sheet is None else str(request.sheet),
        not_judged=[],
        cautions=_cautions(request, file, made, mixer),
        safety=safety(hazard for line in made.lines for hazard in line.ingredient.hazards),
        input=printed.FileInput(file=file.name, sha256=file.digest),
        settings=printed.ChargeSettings(
            batch_kg=request.batch_kg, mixer_litre=request.mixer_litre, fill=request.fill, format=request.format
        ),
        version=runtrue.__version__,
    )  # fmt: skip
    result.not_judged.extend(not_judged(result, _REASONS))
    return result


_REASONS = {
    "density_g_cm3": "an ingredient's density is not stated",
    "volume_l": "an ingredient's density is not stated",
    "mixer": "no mixer was named, or a density is not stated",
    "biscuits": "no format was given",
    "biscuits.mean_thickness_mm": "an ingredient's density is not stated",
    "cost": "an ingredient's price is not stated",
    "lines.cost": "its price is not stated",
    "lines.tolerance_kg": "its tolerance is not stated, or none of it is asked for",
    "lines.division_kg": "its tolerance is not stated, or none of it is asked for",
    "lines.solution_percent": "it is no solution",
    "lines.lots": "nobody said what lies in the store",
    "lines.lots.moisture_percent": "the ingredient's holds",
    "lines.lots.assay_percent": "the ingredient's holds",
    "lines.add_at_degc": "it may go in at any temperature",
    "sheet": "no sheet was asked for",
}


def _line(number: int, code: str, line: Line) -> printed.ChargeLine:
    item = line.ingredient
    return printed.ChargeLine(
        line=number,
        code=f"{code}-{number:02d}",
        ingredient=item.name,
        material=item.material.value,
        percent=_r(item.share / PERCENT, 9),
        moisture_percent=_r(item.moisture / PERCENT, 9),
        assay_percent=_r(item.assay / PERCENT, 9),
        assay_basis="as_is" if item.assay_as_is else "dry",
        solution_percent=_percent(item.strength),
        density_g_cm3=None if item.density is None else _r(item.density / G_PER_CM3, 9),
        tolerance_percent=_percent(item.tolerance),
        price_per_kg=item.price,
        order=item.order,
        add_at_degc=None if item.add_at is None else _r(item.add_at - ZERO_DEGC, 3),
        hazards=list(item.hazards),
        lots=None if item.lots is None else [
            printed.StoreLot(
                id=lot.id, kg=lot.mass, received=lot.received, moisture_percent=_percent(lot.moisture),
                assay_percent=_percent(lot.assay),
            )
            for lot in item.lots
        ],
        need_kg=_r(line.need),
        mass_kg=_r(line.mass),
        tolerance_kg=None if line.tolerance is None else _r(line.tolerance),
        division_kg=None if line.division is None else _r(line.division, 9),
        water_kg=_r(line.water),
        solvent_kg=_r(line.solvent),
        cost=None if line.cost is None else _r(line.cost, 4),
        draws=[printed.DrawRow(lot=draw.lot, mass_kg=_r(draw.mass)) for draw in line.draws],
        short_kg=_r(line.short),
    )  # fmt: skip


def _biscuits(request: CompoundChargeRequest, made: Charge) -> printed.Biscuits | None:
    if request.format is None:
        if request.disc_g is not None or request.flash_percent is not None:
            raise InputError("disc_g and flash_percent are for biscuits of a format: say which with format")
        return None
    if request.disc_g is None:
        usual = usual_mass(request.format)
        disc, source = usual.mass, usual.source
    else:
        disc, source = request.disc_g * GRAM, "stated"
    flash = FLASH if request.flash_percent is None else request.flash_percent * PERCENT
    biscuit = biscuit_mass(disc, flash)
    outside = disc_format(request.format).outside_diameter.value
    thick = None if made.density is None else mean_thickness(mass=disc, diameter=outside, density=made.density)
    return printed.Biscuits(
        format=request.format,
        disc_g=_r(disc / GRAM, 3),
        disc_source=source,
        mean_thickness_mm=None if thick is None else _r(thick / MM, 4),
        flash_percent=_r(flash / PERCENT, 4),
        biscuit_g=_r(biscuit / GRAM, 3),
        count=biscuits_from(made.solids, biscuit),
    )


def _cautions(
    request: CompoundChargeRequest, file: FormulaFile, made: Charge, mixer: printed.ChargeMixer | None
) -> list[str]:
    said = [
        f"{line.ingredient.name}: the lots lack {line.short:.4g} kg of {line.mass:.4g} kg; get more, or find the "
        f"nearest "
        "formula with `compound blend`."
        for line in made.lines
        if line.short > 0.0
    ]
    said += [
        f"{line.ingredient.name}: not taken from one lot but from {listed([d.lot for d in line.draws])}, oldest first."
        for line in made.lines
        if len(line.draws) > 1
    ]
    if mixer is not None and not 100 * LEAST_FILL <= mixer.fill_percent <= 100 * WORKING_FILL:
        said.append(
            f"The chamber is filled to {mixer.fill_percent:.0f} %; internal mixers work from 50 to 85 % (common "
            f"practice)."
        )
    if request.format is not None and request.disc_g is None:
        said.append("The disc's mass is the usual one; your own scale says better: give it with --disc-g.")
    if abs(file.formula.total - 1.0) > 1e-9:
        said.append(
            f"The percentages sum to {file.formula.total / PERCENT:.6g}; each was divided by that, so that the batch "
            f"is "
            "whole."
        )
    if any(item.material is Material.REGRIND and item.share > 0.0 for item in file.formula.ingredients):
        said.append(
            "Regrind carries heat history, and may carry labels, dirt and colour: `compound blend` reckons them."
        )
    return said


def _percent(fraction: float | None) -> float | None:
    return None if fraction is None else _r(fraction / PERCENT, 9)


def _r(value: float, places: int = 6) -> float:
    return round(value, places) + 0.0
