"""The moment of the dump: one batch by its log, by the dump rule, and beside the batches of its family."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue.compound.family import Checked, Number, Out, check_family, curve_distances, limits
from runtrue.compound.mixing import Mixed, Mixer, measurements, mixed
from runtrue.contract import batch as printed
from runtrue.contract.charge import FileInput
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.quantities import QUANTITIES, Quantity, quantity
from runtrue.stats import conformity
from runtrue.stats.charts import FEWEST_POINTS
from runtrue.types import Measurement, Progress, Verdict
from runtrue.units import KJ, KW, KWH, PERCENT
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.batch_files import CURVE, FamilyFile, load_family, load_log
from runtrue.workflow.compound_requests import CompoundBatchRequest, CompoundFamilyRequest
from runtrue.workflow.compound_words import fixed, listed, safety
from runtrue.workflow.limits import load_limits
from runtrue.workflow.new_file import check_new
from runtrue.workflow.nulls import not_judged
from runtrue.workflow.printing import _row as finding_row

_Array = NDArray[np.float64]

USUAL_BASELINE = 30
"""Batches that are the family where nobody says."""
FROM_LOG = ("peak_power", "specific_energy", "second_peak_energy", "dump_temperature", "dump_time", "mixing_loss")
PARTED = 2.0
"""The curve parts from its family where it lies further than this many of its standard deviations (our choice)."""


def judge_batch(request: CompoundBatchRequest, ports: Ports, progress: Progress) -> printed.BatchResult:
    """Measure and judge one batch. Raises ``InputError`` for what is not usable."""
    check_request(request)
    file = load_log(request.log)
    rule = None if request.limits is None else load_limits(request.limits)
    earlier = None if request.family is None else load_family(request.family)
    mixer = _mixer(request, request.batch_kg, request.dump_s)
    found = mixed(file.log, mixer)
    rows = measurements(found)
    findings = conformity.judge(rows, [] if rule is None else [one.limit for one in rule.limits])
    part = None if earlier is None else _beside(request, earlier, found, rows, file.name)
    words = [finding.verdict for finding in findings] + ([] if part is None else [Verdict(part.verdict)])
    verdict = None if not words else conformity.verdict(findings) if part is None else _worst(words)
    result = printed.BatchResult(
        verdict=None if verdict is None else verdict.value,
        said="",
        dump_s=round(found.dump, 3),
        dump_known=cast(Any, found.dump_known),
        measured=[_measured(row) for row in rows],
        peaks=[_peak(found, place) for place in range(len(found.peaks))],
        findings=[finding_row(finding, True) for finding in findings],
        family=part,
        curve=[
            (round(float(t), 3), round(float(p) / KW, 4))
            for t, p in zip(np.linspace(0.0, found.dump, found.curve.size), found.curve, strict=True)
        ],
        not_judged=[],
        cautions=_cautions(request, found),
        safety=safety(()),
        input=[FileInput(file=file.name, sha256=file.digest)]
        + ([] if earlier is None else [FileInput(file=earlier.name, sha256=earlier.digest)]),
        settings=printed.BatchSettings(
            batch_kg=request.batch_kg, idle_kw=request.idle_kw, dump_s=request.dump_s,
            heat_capacity_kj_kg_k=request.heat_capacity_kj_kg_k, power_u95_percent=request.power_u95_percent,
            temperature_u95_k=request.temperature_u95_k, baseline=request.baseline,
        ),
        version=runtrue.__version__,
    )  # fmt: skip
    result = _with_words(result)
    why = {f"measured.{row.quantity}": row.reason for row in rows if row.value is None}
    reasons = {
        "verdict": "no limits and no family were given",
        "measured.value": "; ".join(dict.fromkeys(f"{QUANTITIES[k[9:]].words}: {v}" for k, v in why.items())),
        "measured.u95": "; ".join(dict.fromkeys(f"{QUANTITIES[k[9:]].words}: {v}" for k, v in why.items())),
        "peaks.energy_kwh_per_kg": "the mass of the batch is not stated",
        "family": "no family was given",
        **_family_reasons(part),
    }
    result.not_judged.extend(not_judged(result, reasons))
    result.not_judged.extend(
        NotJudged(key=f"findings.{quantity(f.limit.quantity).key}", reason=f.measurement.reason)
        for f in findings
        if f.measurement.value is None
    )
    return result


def judge_family(request: CompoundFamilyRequest, ports: Ports, progress: Progress) -> printed.FamilyResult:
    """Judge the batches after the baseline. Raises ``InputError`` for what is not usable."""
    check_request(request)
    if request.chart is not None:
        check_new(request.chart, "chart", ".pdf")
    file = load_family(request.family)
    base = _baseline(request.baseline, len(file.batches), spare=1)
    part = _family_part(_Table.of(file, Mixer()), base)
    result = printed.FamilyResult(
        verdict=part.verdict,
        said=part.said,
        family=part,
        chart=None if request.chart is None else str(request.chart),
        not_judged=[],
        cautions=[],
        safety=safety(()),
        input=FileInput(file=file.name, sha256=file.digest),
        settings=printed.FamilySettings(baseline=request.baseline),
        version=runtrue.__version__,
    )
    reasons = {"chart": "no chart was asked for", **_family_reasons(part)}
    result.not_judged.extend(not_judged(result, reasons))
    if request.chart is not None:
        write_chart(result, request.chart, ports.clock()[:10])
    return result


def write_chart(result: printed.FamilyResult, path: Path, day: str) -> None:
    """Write the family's charts as a sheet."""
    from runtrue.paper.family_chart import family_pages
    from runtrue.paper.pdf import write_pages

    write_pages(path, family_pages(result, day=day), title="Family of batches", author="runtrue")


def _mixer(request: CompoundBatchRequest, mass: float | None, dump: float | None) -> Mixer:
    capacity = request.heat_capacity_kj_kg_k
    return Mixer(
        mass=mass,
        heat_capacity=None if capacity is None else capacity * KJ,
        idle=None if request.idle_kw is None else request.idle_kw * KW,
        dump=dump,
        power_u95=request.power_u95_percent * PERCENT,
        temperature_u95=request.temperature_u95_k,
    )


def _worst(words: Sequence[Verdict]) -> Verdict:
    return next(word for word in (Verdict.FAIL, Verdict.CANNOT_JUDGE, Verdict.PASS) if word in words)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """Batches with the numbers that are compared, in SI; ``curves`` (batches, points) [W/kg or W] where logged."""

    batches: tuple[str, ...]
    quantities: tuple[Quantity, ...]
    numbers: _Array
    curves: _Array | None
    dumps: _Array | None

    @classmethod
    def of(cls, file: FamilyFile, mixer: Mixer) -> "_Table":
        """Numbers of the table, and those that the logs give where the table has none of them."""
        if file.logs is None:
            return cls(batches=file.batches, quantities=file.quantities, numbers=file.numbers, curves=None, dumps=None)
        from dataclasses import replace

        made = [
            mixed(one.log, replace(mixer, mass=mass, dump=None))
            for one, mass in zip(file.logs, file.masses, strict=True)
        ]
        told = [{row.quantity: row.value for row in measurements(one)} for one in made]
        stated = {q.id for q in file.quantities}
        more = [
            QUANTITIES[name]
            for name in FROM_LOG
            if name not in stated and all(isinstance(one[name], float) for one in told)
        ]
        columns = np.array([[one[q.id] for q in more] for one in told], dtype=np.float64).reshape(len(told), len(more))
        return cls(
            batches=file.batches,
            quantities=(*file.quantities, *more),
            numbers=np.hstack([file.numbers, columns]),
            curves=np.array([one.curve for one in made]),
            dumps=np.array([one.dump for one in made]),
        )


def _beside(
    request: CompoundBatchRequest, file: FamilyFile, found: Mixed, rows: Sequence[Measurement], name: str
) -> printed.FamilyPart:
    """The batch as the newest of its family, by the numbers that both have."""
    table = _Table.of(file, _mixer(request, None, None))
    mine = {row.quantity: row.value for row in rows}
    both = [k for k, q in enumerate(table.quantities) if isinstance(mine.get(q.id), float)]
    if not both:
        raise InputError(
            f"family {file.name}: none of its numbers can be told from this log; give the batch's mass, or add logs"
        )
    batch = name.removesuffix(".csv")
    here = np.array([[mine[table.quantities[k].id] for k in both]], dtype=np.float64)
    whole = _Table(
        batches=(*table.batches, f"{batch} (this one)" if batch in table.batches else batch),
        quantities=tuple(table.quantities[k] for k in both),
        numbers=np.vstack([table.numbers[:, both], here]),
        curves=None if table.curves is None else np.vstack([table.curves, found.curve]),
        dumps=None if table.dumps is None else np.append(table.dumps, found.dump),
    )
    return _family_part(whole, _baseline(request.baseline, len(file.batches), spare=0))


def _baseline(asked: int | None, batches: int, *, spare: int) -> int:
    """How many of the first batches are the family."""
    if asked is not None:
        if asked > batches:
            raise InputError(f"baseline: the table holds {batches} batches, {asked} were asked for; give fewer")
        return asked
    return min(USUAL_BASELINE, max(batches - spare, 0))


def _family_part(table: _Table, baseline: int) -> printed.FamilyPart:
    quantities, numbers = list(table.quantities), table.numbers
    curve = None
    if table.curves is not None and table.dumps is not None and baseline >= FEWEST_POINTS:
        distances, z = curve_distances(table.curves, baseline)
        quantities.append(QUANTITIES[CURVE])
        numbers = np.column_stack([numbers, np.log(distances)])
        curve = _curve_part(float(distances[-1]), z[-1], float(table.dumps[-1]))
    checked = check_family(numbers, tuple(q.id for q in quantities), baseline)
    judged = sum(number.verdict is Verdict.PASS for number in checked.numbers)
    rows = [_number(number, q, table.batches, judged) for number, q in zip(checked.numbers, quantities, strict=True)]
    out = [_out(one, checked, table.batches, baseline) for one in checked.out]
    return printed.FamilyPart(
        verdict=checked.verdict.value,
        said=_family_said(checked, out, table.batches, baseline),
        baseline=baseline,
        batches=list(table.batches),
        numbers=rows,
        out=out,
        t2=None if checked.t2 is None else [round(float(v), 4) for v in checked.t2],
        t2_limit=None if checked.t2_limit is None else round(checked.t2_limit, 4),
        curve=curve,
    )


def _curve_part(distance: float, z: _Array, dump: float) -> printed.CurvePart | None:
    """The stretch about the furthest point over which the curve stays parted."""
    worst = int(np.argmax(np.abs(z)))
    apart = np.abs(z) > min(PARTED, 0.999 * float(np.abs(z[worst])))
    low = high = worst
    while low > 0 and apart[low - 1]:
        low -= 1
    while high < z.size - 1 and apart[high + 1]:
        high += 1
    step = dump / (z.size - 1)
    return printed.CurvePart(
        distance_sd=round(distance, 4), from_s=round(low * step, 2), to_s=round(high * step, 2),
        furthest_sd=round(float(z[worst]), 3),
    )  # fmt: skip


def _shown(value: float, q: Quantity) -> float:
    """In the shown unit; the curve's distance was compared by its logarithm."""
    return float(np.exp(value)) if q.id == CURVE else q.to_shown(value)


def _number(number: Number, q: Quantity, batches: tuple[str, ...], judged: int) -> printed.FamilyNumber:
    steady = number.verdict is Verdict.PASS
    lower, upper, low, high = limits(number, max(judged, 1)) if steady else (np.array([]),) * 4
    sigma = None
    if steady:
        sigma = number.sigma if q.id == CURVE else q.span_to_shown(number.sigma)
    return printed.FamilyNumber(
        quantity=q.key,
        words=q.words,
        unit=q.shown_unit,
        judged=steady,
        reason=number.reason,
        baseline=number.baseline,
        batches=list(batches),
        values=[round(_shown(v, q), 6) if np.isfinite(v) else None for v in number.values],
        centre=round(_shown(number.centre, q), 6) if steady else None,
        sigma=None if sigma is None else round(sigma, 6),
        left_out=[batches[k] for k in number.left_out],
        lower=round(_shown(float(lower[0]), q), 6) if lower.size else None,
        upper=round(_shown(float(upper[0]), q), 6) if upper.size else None,
        ewma=[round(_shown(v, q), 6) for v in number.ewma] if steady else [],
        ewma_lower=[round(_shown(v, q), 6) for v in low],
        ewma_upper=[round(_shown(v, q), 6) for v in high],
    )


def _out(one: Out, checked: Checked, batches: tuple[str, ...], baseline: int) -> printed.FamilyOut:
    batch = batches[baseline + one.place]
    chart = cast(Any, one.chart)
    if one.number is None:
        said = f"{batch}: its numbers do not go together as in the family, though each alone does"
        return printed.FamilyOut(
            batch=batch, quantity=None, words="all numbers together", chart=chart, value=None, expected=None, unit="",
            sigmas=round(one.sigmas, 3), chance=one.chance, since=None, said=said,
        )  # fmt: skip
    q = QUANTITIES[one.number]
    number = next(n for n in checked.numbers if n.name == one.number)
    value = number.values[baseline + one.place] if one.chart == "single value" else number.ewma[one.place]
    since = None if one.since is None else [batches[one.since[0]], batches[one.since[1]]]
    where = "" if since is None or since[0] == batch else f", since {since[0]}" if since[0] == since[1] else (
        f", since between {since[0]} and {since[1]}"
    )  # fmt: skip
    side = "above" if one.sigmas > 0.0 else "below"
    what = "" if one.chart == "single value" else " in the mean of the last batches"
    shown, centre = _shown(float(value), q), _shown(number.centre, q)
    unit = f" {q.shown_unit}" if q.shown_unit else ""
    said = (
        f"{batch}: {q.words}{what} {fixed(shown, q.decimals)}{unit}, {side} the family's {fixed(centre, q.decimals)}"
        f"{unit}{where}"
    )
    return printed.FamilyOut(
        batch=batch,
        quantity=q.key,
        words=q.words,
        chart=chart,
        value=round(shown, 6),
        expected=round(centre, 6),
        unit=q.shown_unit,
        sigmas=round(one.sigmas, 3),
        chance=float(f"{one.chance:.3g}"),
        since=since,
        said=said,
    )


def _family_said(checked: Checked, out: list[printed.FamilyOut], batches: tuple[str, ...], baseline: int) -> str:
    after = len(batches) - baseline
    if checked.verdict is Verdict.CANNOT_JUDGE:
        return f"The family cannot judge: {checked.reason}."
    if not out:
        who = f"Batch {batches[-1]} is" if after == 1 else f"The {after} batches after the baseline are"
        return f"{who} like the {baseline} of the family."
    last = [one for one in out if one.batch == out[-1].batch]
    bad = list(dict.fromkeys(one.batch for one in out))
    if len(bad) == 1:
        return f"{listed([one.said for one in last[:3]])}. Hold it, and find what changed."
    first = next((one for one in out if one.quantity is not None), out[0])
    return f"{len(bad)} of {after} batches are unlike the family, first {first.said}. Hold them, and find what changed."


def _family_reasons(part: printed.FamilyPart | None) -> dict[str, str]:
    if part is None:
        return {}
    told = list(dict.fromkeys(f"{n.words}: {n.reason}" for n in part.numbers if n.reason))
    unsteady = "; ".join(told) or "it is not stated for this batch"
    return {
        "family.numbers.values": "the table is empty there",
        **{f"family.numbers.{key}": unsteady for key in ("centre", "sigma", "lower", "upper")},
        "family.out.quantity": "it is all numbers together",
        "family.out.value": "it is all numbers together",
        "family.out.expected": "it is all numbers together",
        "family.out.since": "all numbers together do not tell",
        "family.t2": "too few whole batches for so many numbers, or one number alone",
        "family.t2_limit": "too few whole batches for so many numbers, or one number alone",
        "family.curve": f"no logs, or fewer than {FEWEST_POINTS} batches of the family",
    }


def _measured(row: Measurement) -> printed.MeasuredRow:
    q = quantity(row.quantity)
    value = row.value
    assert value is None or isinstance(value, float)
    return printed.MeasuredRow(
        quantity=q.key,
        words=q.words,
        unit=q.shown_unit,
        value=None if value is None else round(q.to_shown(value), 6),
        u95=None if value is None or row.u95 is None else round(q.span_to_shown(row.u95), 6),
    )


def _peak(found: Mixed, place: int) -> printed.PeakRow:
    peak, mass = found.peaks[place], found.mixer.mass
    return printed.PeakRow(
        time_s=round(peak.time, 2),
        power_kw=round(peak.power / KW, 3),
        energy_kwh_per_kg=None if mass is None else round(peak.energy / mass / KWH, 6),
    )


def _cautions(request: CompoundBatchRequest, found: Mixed) -> list[str]:
    said = []
    if request.idle_kw is None:
        said.append("The idle power of the mixer is not stated: the energy is gross, not net.")
    if found.dump_known == "end of the log":
        said.append("The dump is taken at the end of the log; state it with --dump-s, or the idle power.")
    if request.heat_capacity_kj_kg_k is not None:
        said.append("The heat capacity is taken as known to 10 %: it is the weakest part of the heat balance.")
    return said


def _with_words(result: printed.BatchResult) -> printed.BatchResult:
    """The sentence over a batch."""
    from dataclasses import replace

    from runtrue.paper.words import found as told

    bad = [row for row in result.findings if row.verdict == "fail"]
    open_rows = [row for row in result.findings if row.verdict == "cannot_judge"]
    if bad:
        said = f"The batch is outside its dump rule: {'; '.join(told(row) for row in bad)}."
    elif open_rows:
        said = f"The batch cannot be judged by its dump rule: {'; '.join(told(row) for row in open_rows)}."
    elif result.findings:
        said = "The batch keeps its dump rule."
    else:
        shown = [row for row in result.measured if row.value is not None][:3]
        said = f"The batch is measured: {listed([_row_words(row) for row in shown])}."
    return replace(result, said=said if result.family is None else f"{said} {result.family.said}")


def _row_words(row: printed.MeasuredRow) -> str:
    from runtrue.paper.words import number

    decimals = next(q.decimals for q in QUANTITIES.values() if q.key == row.quantity)
    return f"{row.words} {number(row.value or 0.0, row.u95, row.unit, decimals=decimals)}"
