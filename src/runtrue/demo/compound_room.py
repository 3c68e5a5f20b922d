"""The compound room of the story: one batch of twenty ingredients weighed with slips, repaired, and charted."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from runtrue.types import silent
from runtrue.workflow.actions import Ports

FORMULA = "invented-78-kiln-black"
BATCH_KG = 100.0
EARLIER = 30
NUMBERS = (
    ("peak_power_kw", 142.0, 4.0),
    ("specific_energy_kwh_per_kg", 0.0621, 0.0015),
    ("dump_temperature_degc", 118.0, 1.6),
    ("dump_time_s", 212.0, 5.0),
    ("sheet_thickness_mm", 6.20, 0.07),
    ("moisture_percent", 0.31, 0.02),
    ("flow_length_mm", 61.0, 1.8),
    ("sieve_residue_percent", 0.040, 0.004),
)
"""Numbers of the family of batches: key, mean, standard deviation (all invented)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomJob:
    """Write everything into ``folder``; ``now`` is the time of the story's paper."""

    folder: Path
    now: str


def weigh_and_chart(job: RoomJob) -> list[str]:
    """Weigh, mis-weigh and repair a batch, chart it beside thirty earlier ones; the sentences that come of it."""
    job.folder.mkdir()
    ports = Ports(clock=lambda: job.now)
    return [*_weigh(job.folder, ports), _chart(job.folder, ports)]


def _weigh(folder: Path, ports: Ports) -> list[str]:
    from runtrue.forward.weighing import Slips, weigh_sheet
    from runtrue.workflow.compound_charge import make_charge
    from runtrue.workflow.compound_requests import CompoundChargeRequest, CompoundWeighRequest
    from runtrue.workflow.compound_weigh import weigh

    asked = CompoundChargeRequest(
        formula=Path(FORMULA), batch_kg=BATCH_KG, format="10in-78", sheet=folder / "charge-sheet.pdf"
    )
    made = make_charge(asked, ports, silent)
    keep(folder / "charge.json", made)
    targets = {line.ingredient: line.mass_kg for line in made.lines}
    lots = {line.ingredient: line.draws[-1].lot for line in made.lines}
    slips = Slips(missing=("zinc stearate",), scaled={"carbon black": 1.09})
    rows = [(one.written, one.lot, one.mass) for one in weigh_sheet(targets, lots, slips, scatter=4e-4, seed=4170)]
    _table(folder / "weighings.csv", rows)
    slipped = weigh(
        CompoundWeighRequest(charge=folder / "charge.json", weighings=folder / "weighings.csv"), ports, silent
    )
    keep(folder / "weighed.json", slipped)
    additions = [] if slipped.remedy is None else slipped.remedy.additions
    rows += [(one.ingredient, lots[one.ingredient], one.mass_kg) for one in additions]
    _table(folder / "repaired.csv", rows)
    again = CompoundWeighRequest(
        charge=folder / "charge.json", weighings=folder / "repaired.csv",
        batch_kg=None if slipped.remedy is None else slipped.remedy.batch_kg,
    )  # fmt: skip
    repaired = weigh(again, ports, silent)
    keep(folder / "repaired.json", repaired)
    return [slipped.said, f"With what was added: {repaired.said}"]


def _chart(folder: Path, ports: Ports) -> str:
    from runtrue.forward.weighing import family
    from runtrue.workflow.compound_batch import judge_family
    from runtrue.workflow.compound_requests import CompoundFamilyRequest

    _, means, spreads = zip(*NUMBERS, strict=True)
    wet = next(k for k, (key, _, _) in enumerate(NUMBERS) if key == "moisture_percent")
    rows = family(means, spreads, EARLIER + 1, common=0.2, seed=4172, shift={wet: 7.0}, shift_from=EARLIER)
    lines = [",".join(["batch", *(key for key, _, _ in NUMBERS)])]
    lines += [",".join([f"B-{401 + k}", *(f"{v:.5g}" for v in row)]) for k, row in enumerate(rows)]
    (folder / "family.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    asked = CompoundFamilyRequest(family=folder / "family.csv", chart=folder / "family-chart.pdf")
    found = judge_family(asked, ports, silent)
    keep(folder / "family.json", found)
    return found.said


def _table(path: Path, rows: list[tuple[str, str, float]]) -> None:
    lines = ["time,ingredient,lot,mass_kg,scale,operator"]
    lines += [f'2026-11-25T06:{k:02d}:00Z,"{name}",{lot},{mass:.4f},S1,nc' for k, (name, lot, mass) in enumerate(rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def keep(path: Path, result: Any) -> None:
    """Write a result as its command prints it with --json."""
    text = json.dumps(asdict(result), ensure_ascii=False, allow_nan=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8")
