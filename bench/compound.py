"""The compound station's goals: families, weighing lines, blends. ``python -m bench.compound [families]``."""

import json
import sys
import tempfile
from dataclasses import asdict, replace
from pathlib import Path
from time import perf_counter, process_time

import numpy as np

from runtrue.compound.blend import Bound, Bounds, blend
from runtrue.compound.family import check_family
from runtrue.compound.formula import Basis, Formula, Ingredient, Lot, Material
from runtrue.forward.weighing import family
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.compound_charge import make_charge
from runtrue.workflow.compound_requests import CompoundChargeRequest, CompoundWeighRequest
from runtrue.workflow.compound_weigh import weigh

NUMBERS, EARLIER, AFTER = 8, 30, 6
LINES = 100_000
INGREDIENTS = 40
SHIFTS = (1.0, 1.5, 2.0, 2.5, 3.0)
"""Shifts of the curve, in standard deviations."""


def families(count: int, shift: float, seed: int) -> tuple[float, list[float], float]:
    """Batches called out of those after the baseline; share found by each batch after it; share named first.

    The shifted number is the sixth of eight; 30 batches are the family and six come after.
    """
    names = tuple(f"n{k}" for k in range(NUMBERS))
    out, named = 0, 0
    found = np.zeros(AFTER)
    for k in range(count):
        made = family([0.0] * NUMBERS, [1.0] * NUMBERS, EARLIER + AFTER, seed=seed + k, shift={5: shift},
                      shift_from=EARLIER)  # fmt: skip
        checked = check_family(made, names, EARLIER, since=False)
        places = {one.place for one in checked.out}
        out += len(places)
        if places:
            found[min(places) :] += 1.0
            named += checked.out[0].number == "n5"
    return out / (count * AFTER), [float(f) / count for f in found], named / count


def weighing_seconds(lines: int = LINES) -> float:
    """Processor time from charge and a table of weighings to the result [s]."""
    ports = Ports(clock=lambda: "2026-11-25")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = make_charge(CompoundChargeRequest(formula=Path("invented-78-kiln-black"), batch_kg=100.0), ports, silent)
        (folder / "charge.json").write_text(json.dumps(asdict(made)), encoding="utf-8")
        each = lines // len(made.lines)
        rows = [
            f'06:00,"{line.ingredient}",{line.draws[0].lot},{line.mass_kg / each:.9f},S1,jt'
            for _ in range(each)
            for line in made.lines
        ]
        head = "time,ingredient,lot,mass_kg,scale,operator"
        (folder / "w.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
        asked = CompoundWeighRequest(charge=folder / "charge.json", weighings=folder / "w.csv")
        before = process_time()
        result = weigh(asked, ports, silent)
        taken = process_time() - before
    assert len(result.weighings) == each * len(made.lines)
    assert result.verdict == "pass", result.said
    return taken


def large_formula(count: int = INGREDIENTS) -> Formula:
    """A made formula of so many ingredients, one lot short."""
    rng = np.random.default_rng(7)
    raw = rng.uniform(0.2, 5.0, count)
    classes = list(Material)
    items = [
        Ingredient(
            name=f"i{k:02d}", material=classes[k % len(classes)], share=float(raw[k] / raw.sum()),
            moisture=float(rng.uniform(0.0, 0.03)), density=float(rng.uniform(1000.0, 4000.0)), tolerance=0.005,
            price=float(rng.uniform(0.2, 15.0)), lots=(Lot(id=f"L{k}", mass=500.0, received="2026-01-01"),),
        )
        for k in range(count)
    ]  # fmt: skip
    items[3] = replace(items[3], lots=(Lot(id="L3", mass=100.0 * items[3].share * 0.6, received="2026-01-01"),))
    return Formula(name="made", basis=Basis.DRY, ingredients=tuple(items))


def blend_seconds(times: int = 20) -> tuple[float, float]:
    """Best and median time of a blend of forty ingredients with class, density and water bounds [s]."""
    formula = large_formula()
    bounds = Bounds(
        classes={m: Bound(lower=0.02, upper=0.5) for m in list(Material)[:6]}, ingredients={}, bags={}, stock={},
        density=Bound(lower=1500.0, upper=3000.0), water=Bound(upper=0.03),
    )  # fmt: skip
    taken = []
    for _ in range(times):
        before = perf_counter()
        blend(formula, 100.0, bounds)
        taken.append(perf_counter() - before)
    return min(taken), float(np.median(taken))


def main(count: int = 10_000) -> None:
    """Print what the goals ask for."""
    alarms, _, _ = families(count, 0.0, 1)
    print(f"false alarms: {100 * alarms:.2f} in 100 batches (<= 1; {count} families of {EARLIER}, {NUMBERS} numbers)")
    for shift in SHIFTS:
        few = count if shift == SHIFTS[-1] else max(count // 5, 100)
        _, found, named = families(few, shift, 1_000_000)
        curve = ", ".join(f"{100 * f:.0f}" for f in found)
        print(
            f"shift of {shift:g} sigma: found by batch 1 to {AFTER} in {curve} of 100 (>= 90 by the sixth at 3), named "
            f"first in {100 * named:.1f} of 100 ({few} families)"
        )
    print(f"{LINES} weighing lines: {weighing_seconds():.2f} s of the processor (< 2 s)")
    best, median = blend_seconds()
    print(f"blend of {INGREDIENTS} ingredients: {1e3 * best:.1f} ms best, {1e3 * median:.1f} ms median (< 50 ms)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
