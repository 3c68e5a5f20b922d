"""Bounds of a blend (TOML) into values; every mistake becomes one line that says where it is."""

from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from runtrue.compound.blend import Bound, Bounds, Goal, Property, Ratio
from runtrue.compound.formula import Formula, Material
from runtrue.compound.regrind import (
    Ground,
    check_colour,
    label_paper,
    share_for_matter,
    share_for_passes,
)
from runtrue.errors import InputError
from runtrue.units import G_PER_CM3, GRAM, MM, PERCENT, PPM
from runtrue.workflow.toml_file import Day, Strict, load_toml

_Percent = Annotated[float, Field(ge=0.0, le=100.0)]
_Positive = Annotated[float, Field(gt=0.0)]


class _Head(Strict):
    name: Annotated[str, Field(min_length=1)]
    owner: Annotated[str, Field(min_length=1)]
    date: Day
    goal: Literal["nearest", "cheapest"] = "nearest"
    batch_swing_percent: Annotated[float, Field(ge=0.0, le=50.0)] = 0.0


class _Shares(Strict):
    lower_percent: _Percent | None = None
    upper_percent: _Percent | None = None


class _ClassBound(_Shares):
    class_: Annotated[Literal[tuple(m.value for m in Material)], Field(alias="class")]  # type: ignore[valid-type]


class _IngredientBound(_Shares):
    name: str
    bag_kg: _Positive | None = None
    available_kg: Annotated[float, Field(ge=0.0)] | None = None


class _Numbers(Strict):
    lower: float | None = None
    upper: float | None = None


class _Ratio(_Numbers):
    of: str
    to: str


class _Property(_Numbers):
    name: str
    unit: str = ""
    values: dict[str, float]


class _Density(Strict):
    lower_g_cm3: _Positive | None = None
    upper_g_cm3: _Positive | None = None


class _Cost(Strict):
    upper_per_kg: _Positive


class _Regrind(Strict):
    name: str
    colour: str
    rejects_percent: _Percent = 0.0
    label_mm: _Positive | None = None
    paper_g_m2: _Positive | None = None
    disc_g: _Positive | None = None
    labels_cut_out_percent: _Percent = 0.0
    dirt_ppm: Annotated[float, Field(ge=0.0, le=1e6)] = 0.0
    sieved_percent: _Percent = 0.0
    upper_mean_passes: Annotated[float, Field(ge=0.0)] | None = None
    upper_foreign_ppm: Annotated[float, Field(gt=0.0)] | None = None


class _File(Strict):
    bounds: _Head
    class_: Annotated[tuple[_ClassBound, ...], Field(alias="class", strict=False)] = ()
    ingredient: Annotated[tuple[_IngredientBound, ...], Field(strict=False)] = ()
    ratio: Annotated[tuple[_Ratio, ...], Field(strict=False)] = ()
    property: Annotated[tuple[_Property, ...], Field(strict=False)] = ()
    density: _Density = _Density()
    cost: _Cost | None = None
    water: _Shares = _Shares()
    regrind: Annotated[tuple[_Regrind, ...], Field(strict=False)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundFile:
    """Regrind of one ingredient; ``label`` its diameter [m] where stated."""

    name: str
    ground: Ground
    paper_of_disc: float | None
    label: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundsFile:
    """Bounds, with what is known of the regrind."""

    name: str
    digest: str
    bounds: Bounds
    regrind: tuple[GroundFile, ...]


def load_bounds(path: Path, formula: Formula) -> BoundsFile:
    """Read a bounds file for a formula; regrind of another colour and shares above its limits are kept out."""
    where = f"bounds {path}"
    file = load_toml(path, _File, "bounds")
    classes: dict[Material, Bound] = {}
    for one in file.class_:
        if Material(one.class_) in classes:
            raise InputError(f"{where}: class {one.class_} is bounded twice; keep one")
        classes[Material(one.class_)] = _shares(one, f"{where}: class {one.class_}")
    ingredients: dict[str, Bound] = {}
    for item in file.ingredient:
        if item.name in ingredients:
            raise InputError(f"{where}: ingredient {item.name} is bounded twice; keep one")
        ingredients[item.name] = _shares(item, f"{where}: ingredient {item.name}")
    regrind = tuple(_ground(one, formula, where) for one in file.regrind)
    for stated, known in zip(file.regrind, regrind, strict=True):
        most = _most(stated, known.ground)
        if most is not None:
            old = ingredients.get(known.name, Bound())
            upper = most if old.upper is None else min(old.upper, most)
            if old.lower is not None and old.lower > upper:
                raise InputError(
                    f"{where}: {known.name} at least {old.lower / PERCENT:g} %, but its heat history and foreign "
                    f"matter "
                    f"allow {upper / PERCENT:.3g} %; lower the one or raise the other"
                )
            ingredients[known.name] = replace(old, upper=upper)
    head = file.bounds
    return BoundsFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        bounds=Bounds(
            goal=Goal(head.goal),
            swing=head.batch_swing_percent * PERCENT,
            classes=classes,
            ingredients=ingredients,
            ratios=tuple(Ratio(of=r.of, to=r.to, bound=_numbers(r, f"{where}: ratio {r.of}")) for r in file.ratio),
            properties=tuple(
                Property(name=p.name, unit=p.unit, values=p.values, bound=_numbers(p, f"{where}: property {p.name}"))
                for p in file.property
            ),
            density=Bound(
                lower=None if file.density.lower_g_cm3 is None else file.density.lower_g_cm3 * G_PER_CM3,
                upper=None if file.density.upper_g_cm3 is None else file.density.upper_g_cm3 * G_PER_CM3,
            ),
            cost=Bound(upper=None if file.cost is None else file.cost.upper_per_kg),
            water=_shares(file.water, f"{where}: [water]"),
            bags={item.name: item.bag_kg for item in file.ingredient if item.bag_kg is not None},
            stock={item.name: item.available_kg for item in file.ingredient if item.available_kg is not None},
        ),
        regrind=regrind,
    )


def _shares(stated: _Shares, where: str) -> Bound:
    low, high = stated.lower_percent, stated.upper_percent
    _in_order(low, high, where, "_percent")
    return Bound(lower=None if low is None else low * PERCENT, upper=None if high is None else high * PERCENT)


def _numbers(stated: _Numbers, where: str) -> Bound:
    _in_order(stated.lower, stated.upper, where, "")
    return Bound(lower=stated.lower, upper=stated.upper)


def _in_order(low: float | None, high: float | None, where: str, unit: str) -> None:
    if low is not None and high is not None and low > high:
        raise InputError(f"{where}: lower{unit} {low:g} is above upper{unit} {high:g}; correct one")


def _ground(stated: _Regrind, formula: Formula, where: str) -> GroundFile:
    try:
        formula.ingredient(stated.name)
        check_colour(stated.name, stated.colour, formula.colour)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    paper = None
    if stated.label_mm is not None and stated.paper_g_m2 is not None and stated.disc_g is not None:
        paper = label_paper(
            label_diameter=stated.label_mm * MM, grammage=stated.paper_g_m2 * GRAM, disc=stated.disc_g * GRAM
        )
    elif stated.rejects_percent > 0.0 and stated.labels_cut_out_percent < 100.0:
        raise InputError(
            f"{where}: {stated.name} holds rejects, and what their labels bring is not stated: add label_mm, "
            f"paper_g_m2 "
            "and disc_g, or labels_cut_out_percent = 100"
        )
    left = 0.0 if paper is None else paper * (1.0 - stated.labels_cut_out_percent * PERCENT)
    ground = Ground(
        colour=stated.colour, rejects=stated.rejects_percent * PERCENT, paper=left, dirt=stated.dirt_ppm * PPM,
        sieved=stated.sieved_percent * PERCENT,
    )  # fmt: skip
    label = None if stated.label_mm is None else stated.label_mm * MM
    return GroundFile(name=stated.name, ground=ground, paper_of_disc=paper, label=label)


def _most(stated: _Regrind, ground: Ground) -> float | None:
    """Largest share of the regrind that its limits allow."""
    found = []
    if stated.upper_mean_passes is not None:
        found.append(share_for_passes(stated.upper_mean_passes))
    if stated.upper_foreign_ppm is not None:
        found.append(share_for_matter(stated.upper_foreign_ppm * PPM, ground))
    return min(found) if found else None
