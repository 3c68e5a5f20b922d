"""The moment when the store does not give the formula: the nearest that it does give, or what clashes."""

import json
from collections.abc import Mapping
from dataclasses import replace

import runtrue
from runtrue.compound.blend import NO_BOUNDS, Blended, Goal, blend
from runtrue.compound.charge import Charge, charge
from runtrue.compound.formula import Formula, Ingredient, Material, formula_density
from runtrue.compound.linear import Binding, Clash
from runtrue.compound.regrind import cut_out, foreign_matter, mean_passes, share_seen
from runtrue.contract import blend as printed
from runtrue.contract.charge import FileInput
from runtrue.errors import InputError
from runtrue.types import Progress
from runtrue.units import G_PER_CM3, PERCENT, PPM, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.bounds_file import BoundsFile, GroundFile, load_bounds
from runtrue.workflow.compound_files import FormulaFile, load_formula
from runtrue.workflow.compound_requests import CompoundBlendRequest
from runtrue.workflow.compound_words import fixed, listed, safety
from runtrue.workflow.new_file import check_new
from runtrue.workflow.nulls import not_judged

_OUTSIDE = 0.301
"""Diameter of a 12 in disc [m], for what cutting the labels out costs; IEC 60098."""
_SEEN = 4


def make_blend(request: CompoundBlendRequest, ports: Ports, progress: Progress) -> printed.Blend:
    """The nearest formula. Raises ``InputError`` for what is not usable; limits that clash are no error."""
    check_request(request)
    if request.out is not None:
        check_new(request.out, "out", ".toml")
    file = load_formula(request.formula)
    formula = _without(file.formula, request.without)
    bounds = None if request.bounds is None else load_bounds(request.bounds, formula)
    found = blend(formula, request.batch_kg, NO_BOUNDS if bounds is None else bounds.bounds)
    result = _printed(request, file, bounds, found)
    if request.out is not None and isinstance(found, Blended):
        request.out.write_text(formula_text(replace(file, formula=found.formula)), encoding="utf-8")
    return result


def _without(formula: Formula, lots: tuple[str, ...]) -> Formula:
    """The formula with these lots taken out of the store."""
    known = {lot.id for item in formula.ingredients for lot in item.lots or ()}
    for lot in lots:
        if lot not in known:
            raise InputError(f"without: lot '{lot}' is not in the formula's store; it has {', '.join(sorted(known))}")
    return replace(
        formula,
        ingredients=tuple(
            item if item.lots is None else replace(item, lots=tuple(lot for lot in item.lots if lot.id not in lots))
            for item in formula.ingredients
        ),
    )


def _printed(
    request: CompoundBlendRequest, file: FormulaFile, bounds: BoundsFile | None, found: Blended | Clash
) -> printed.Blend:
    made = None if isinstance(found, Clash) else found
    weighed = None if made is None else charge(made.formula, made.batch)
    density = None if made is None else formula_density(made.formula)
    goal = Goal.NEAREST if bounds is None else bounds.bounds.goal
    inputs = [FileInput(file=file.name, sha256=file.digest)]
    if bounds is not None:
        inputs.append(FileInput(file=bounds.name, sha256=bounds.digest))
    result = printed.Blend(
        found=made is not None,
        said=_said(file.formula, found),
        formula=file.formula.name,
        batch_kg=None if made is None else round(made.batch, 6),
        tolerances=None if made is None else round(made.tolerances, 4),
        density_g_cm3=None if density is None else round(density / G_PER_CM3, 6),
        cost_per_kg=None if made is None or made.cost is None else round(made.cost, 6),
        lines=None if made is None or weighed is None else _lines(file.formula, made, weighed),
        binding=None if made is None else [_binding(one, goal, file.currency) for one in made.bindings],
        clash=list(found.words) if isinstance(found, Clash) else [],
        regrind=[] if made is None or bounds is None else [_regrind(made.formula, one) for one in bounds.regrind],
        out=None if request.out is None or made is None else str(request.out),
        not_judged=[],
        cautions=_cautions(file, made, bounds),
        safety=safety(hazard for item in file.formula.ingredients for hazard in item.hazards),
        input=inputs,
        settings=printed.BlendSettings(batch_kg=request.batch_kg, goal=goal.value, without=list(request.without)),
        version=runtrue.__version__,
    )
    clashed = "the limits clash" if made is None else ""
    reasons = {
        "density_g_cm3": clashed or "an ingredient's density is not stated",
        "cost_per_kg": clashed or "an ingredient's price is not stated",
        "lines.bags": "it does not come in stated bags",
        "regrind.paper_of_disc_percent": "label, paper and disc are not stated",
        "regrind.lost_by_cutting_percent": "the label's diameter is not stated",
        "out": clashed or "no file was asked for",
    }
    result.not_judged.extend(not_judged(result, reasons, clashed or "not stated"))
    return result


def _said(formula: Formula, found: Blended | Clash) -> str:
    if isinstance(found, Clash):
        if found.whole:
            return (
                f"No blend of {formula.name} in whole bags: with part of a bag there is one. Let the batch swing more."
            )
        return f"No blend of {formula.name}: {listed(list(found.words))} cannot stand together. Give one of them way."
    moved = sorted(((name, by) for name, by in found.moved.items() if abs(by) >= 5e-6), key=lambda each: -abs(each[1]))
    if not moved:
        return f"The store gives {found.batch:.6g} kg of {formula.name} as it is."
    told = listed([f"{name} {'+' if by > 0 else ''}{fixed(by / PERCENT, 2)}" for name, by in moved[:4]])
    more = f", {len(moved) - 4} more by less" if len(moved) > 4 else ""
    return (
        f"Nearest to {formula.name} for {found.batch:.6g} kg, in percent points: {told}{more}. Try it before it runs."
    )


def _lines(formula: Formula, made: Blended, weighed: Charge) -> list[printed.BlendLine]:
    masses = {line.ingredient.name: line.mass for line in weighed.lines}
    return [
        printed.BlendLine(
            ingredient=item.name,
            material=item.material.value,
            was_percent=round(formula.ingredient(item.name).share / PERCENT, 9),
            percent=round(item.share / PERCENT, 9) + 0.0,
            moved_percent=round(made.moved[item.name] / PERCENT, 9) + 0.0,
            mass_kg=round(masses[item.name], 6),
            bags=made.bags.get(item.name),
        )
        for item in made.formula.ingredients
    ]


def _binding(one: Binding, goal: Goal, currency: str) -> printed.BindingRow:
    money = currency or "money"
    price_unit = "tolerances" if goal is Goal.NEAREST else money
    price = round(one.price, 6) + 0.0
    unit = {"%": "percent point", "per kg": f"{money} a kg"}.get(one.unit, one.unit)
    if abs(price) < 1e-6:
        said = f"{one.words}: binds, and costs nothing."
    else:
        what = f"brings the formula {abs(price):.3g} tolerances {'nearer' if price < 0 else 'further away'}"
        if goal is not Goal.NEAREST:
            what = f"{'saves' if price < 0 else 'costs'} {abs(price):.3g} {money} on the batch"
        said = f"{one.words}: one {unit} more {what}."
    return printed.BindingRow(limit=one.words, price=price, price_unit=price_unit, unit=unit, said=said)


def _regrind(formula: Formula, known: GroundFile) -> printed.RegrindRow:
    share = formula.ingredient(known.name).share
    paper, label = known.paper_of_disc, known.label
    return printed.RegrindRow(
        ingredient=known.name,
        colour=known.ground.colour,
        percent=round(share / PERCENT, 9),
        mean_passes=round(mean_passes(share), 6),
        seen=[printed.PassShare(passes=k, percent=round(share_seen(share, k) / PERCENT, 6)) for k in range(_SEEN)],
        foreign_ppm=round(foreign_matter(share, known.ground) / PPM, 3),
        paper_of_disc_percent=None if paper is None else round(paper / PERCENT, 4),
        lost_by_cutting_percent=(
            None if label is None else round(cut_out(label_diameter=label, disc_diameter=_OUTSIDE) / PERCENT, 3)
        ),
    )


def _cautions(file: FormulaFile, made: Blended | None, bounds: BoundsFile | None) -> list[str]:
    said = []
    if made is not None and made.tolerances > 1e-6:
        said.append("A blend within bounds is arithmetic: press a trial on a proved stamper and listen before it runs.")
    regrind = [i.name for i in file.formula.ingredients if i.material is Material.REGRIND and i.share > 0.0]
    stated = set() if bounds is None else {one.name for one in bounds.regrind}
    said += [
        f"{name}: its colour, heat history and dirt are not stated; add it to the bounds as [[regrind]]."
        for name in regrind
        if name not in stated
    ]
    return said


def formula_text(file: FormulaFile) -> str:
    """A formula as the TOML file that `compound charge` reads."""
    formula = file.formula
    head = {
        "name": formula.name, "basis": formula.basis.value, "owner": formula.owner, "date": formula.date,
        "colour": formula.colour, "currency": file.currency,
    }  # fmt: skip
    parts = ["[formula]", *_pairs(head)]
    if file.chamber is not None:
        parts += ["", "[mixer]", *_pairs({"volume_litre": round(1e3 * file.chamber, 6), "fill": file.fill})]
    for item in formula.ingredients:
        parts += ["", "[[ingredient]]", *_pairs(_table(item))]
        if item.lots is not None:
            rows = (
                {
                    "id": lot.id, "kg": lot.mass, "received": lot.received, "moisture_percent": _p(lot.moisture),
                    "assay_percent": _p(lot.assay),
                }
                for lot in item.lots
            )  # fmt: skip
            parts.append(f"lots = [{', '.join('{ ' + ', '.join(_pairs(row)) + ' }' for row in rows)}]")
    for scale in file.scales:
        parts += [
            "", "[[scale]]", *_pairs({"id": scale.id, "division_kg": scale.division, "u95_kg": scale.u95})
        ]  # fmt: skip
    return "\n".join(parts) + "\n"


def _table(item: Ingredient) -> dict[str, object]:
    return {
        "name": item.name,
        "class": item.material.value,
        "percent": _p(item.share),
        "moisture_percent": _p(item.moisture),
        "assay_percent": _p(item.assay),
        "assay_basis": "as_is" if item.assay_as_is else "dry",
        "solution_percent": _p(item.strength),
        "density_g_cm3": None if item.density is None else round(item.density / G_PER_CM3, 9),
        "tolerance_percent": _p(item.tolerance),
        "price_per_kg": item.price,
        "order": item.order,
        "add_at_degc": None if item.add_at is None else round(item.add_at - ZERO_DEGC, 3),
        "hazards": list(item.hazards),
    }


def _p(fraction: float | None) -> float | None:
    return None if fraction is None else round(fraction / PERCENT, 9) + 0.0


def _pairs(values: Mapping[str, object]) -> list[str]:
    """Keys of a TOML table; words and numbers are written as in JSON, what is None is left out."""
    return [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items() if value is not None]
