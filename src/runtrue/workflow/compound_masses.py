"""Sheet and biscuits, masses in and out, and who came of whom."""

from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any, cast

import numpy as np

import runtrue
from runtrue.compound.balance import Balance, Entry, Post, balance, counted
from runtrue.compound.genealogy import (
    Drawn,
    Hours,
    How,
    Interval,
    Made,
    Pressed,
    batches_of,
    hours_of,
    origins_of,
)
from runtrue.compound.sheeting import Process, process
from runtrue.contract import compound_store as printed
from runtrue.contract.charge import FileInput
from runtrue.errors import InputError
from runtrue.quantities import QUANTITIES, Quantity
from runtrue.stats import conformity
from runtrue.stats.charts import RULES
from runtrue.types import Limit, Progress
from runtrue.units import GRAM, PERCENT
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.compound_requests import CompoundBalanceRequest, CompoundSheetRequest, CompoundTraceRequest
from runtrue.workflow.compound_words import count, fixed, listed, safety
from runtrue.workflow.limits import load_limits
from runtrue.workflow.nulls import not_judged
from runtrue.workflow.printing import _row as finding_row
from runtrue.workflow.table_file import Row, load_table

SHEET = ("sheet_thickness", "biscuit_mass", "biscuit_temperature")
LEAST_READINGS = 5


def judge_sheet(request: CompoundSheetRequest, ports: Ports, progress: Progress) -> printed.SheetResult:
    """Charts and capability of sheet and biscuits. Raises ``InputError`` for what is not usable."""
    check_request(request)
    known = [QUANTITIES[name] for name in SHEET]
    rows = load_table(
        request.readings, "readings", needed=(), known=("time", "batch", *(q.key for q in known)), most=100_000
    )
    found = [q for q in known if q.key in rows[0].values]
    if not found:
        keys = ", ".join(q.key for q in known)
        raise InputError(f"readings {request.readings}: no column holds a reading; known are {keys}")
    limits = {} if request.limits is None else {
        one.limit.quantity: one.limit for one in load_limits(request.limits).limits
    }  # fmt: skip
    made = [_sheet_row(q, rows, limits.get(q.id), request.cpk) for q in found]
    verdict = next(w for w in ("fail", "cannot_judge", "pass") if w in {row.verdict for row in made})
    told = [f"{row.words}: {row.said}" for row in made if row.verdict == verdict]
    result = printed.SheetResult(
        verdict=cast(Any, verdict),
        said=f"{'; '.join(told)}.",
        rows=made,
        not_judged=[],
        cautions=[f"A limit on {QUANTITIES[name].words} is given and not read." for name in limits
                  if name not in {q.id for q in found}],
        safety=safety(()),
        input=_source(request.readings),
        settings=printed.SheetSettings(cpk=request.cpk),
        version=runtrue.__version__,
    )  # fmt: skip
    no_limit = "no limit was given, or only one, or all readings are equal"
    reasons = {f"rows.{key}": no_limit for key in ("lower", "upper", "cp", "cp_interval", "cpk", "cpk_interval")}
    result.not_judged.extend(not_judged(result, {**reasons, "rows.changed": "the mean did not change"}))
    return result


def _sheet_row(q: Quantity, rows: list[Row], limit: Limit | None, asked: float) -> printed.SheetRow:
    shown = [row.number_or_none(q.key, low=None if q.offset else 0.0) for row in rows]
    values = np.array([q.to_si(v) for v in shown if v is not None])
    if values.size < LEAST_READINGS:
        raise InputError(
            f"{rows[0].where}: {q.key} has {count(values.size, 'reading')}; at least {LEAST_READINGS} are needed"
        )
    low, high = (None, None) if limit is None else (limit.lower, limit.upper)
    found = process(values, lower=low, upper=high, asked=asked)
    index = found.capability

    def pair(interval: tuple[float, float] | None) -> list[float] | None:
        return None if interval is None else [round(v, 4) for v in interval]

    return printed.SheetRow(
        quantity=q.key,
        words=q.words,
        unit=q.shown_unit,
        verdict=found.verdict.value,
        said=found.reason,
        readings=int(values.size),
        mean=round(q.to_shown(found.baseline.centre), 6),
        sigma=round(q.span_to_shown(found.baseline.sigma), 6),
        lower=None if low is None else round(q.to_shown(low), 6),
        upper=None if high is None else round(q.to_shown(high), 6),
        wild=[k + 1 for k in found.wild],
        changed=_changed(found),
        rules=[f"{RULES[s.rule].words}, to reading {s.at + 1}" for s in found.signals],
        cp=None if index is None or index.cp is None else round(index.cp, 4),
        cp_interval=None if index is None else pair(index.cp_interval),
        cpk=None if index is None else round(index.cpk, 4),
        cpk_interval=None if index is None else pair(index.cpk_interval),
    )


def _changed(found: Process) -> list[int] | None:
    return None if found.change is None else [k + 1 for k in found.change]


def make_balance(request: CompoundBalanceRequest, ports: Ports, progress: Progress) -> printed.BalanceResult:
    """Add up what went in and came out. Raises ``InputError`` for what is not usable."""
    check_request(request)
    known = ("post", "what", "kg", "u95_kg", "count", "count_u95", "each_g", "each_u95_g")
    rows = load_table(request.masses, "masses", needed=("post",), known=known, most=10_000)
    found = balance([_entry(row) for row in rows])
    limit = _gap_limit(request)
    findings = conformity.judge([found.gap_measurement], [] if limit is None else [limit])
    closes = abs(found.gap) <= found.gap_u95
    gap = f"{fixed(found.gap, 2)} ± {fixed(found.gap_u95, 2)} kg, {fixed(found.gap / found.inside / PERCENT, 2)} %"
    result = printed.BalanceResult(
        verdict=findings[0].verdict.value if findings else None,
        said=_balance_said(found, closes, gap),
        inside_kg=round(found.inside, 6),
        gap_kg=round(found.gap, 6),
        gap_u95_kg=round(found.gap_u95, 6),
        gap_percent=round(found.gap / found.inside / PERCENT, 6),
        closes=closes,
        disc_yield_percent=round(found.disc_yield / PERCENT, 6),
        regrind_share_percent=round(found.regrind_share / PERCENT, 6),
        to_grind_kg=round(found.to_grind, 6),
        posts=[
            printed.PostRow(post=p.value, kg=round(m, 6), percent=round(m / found.inside / PERCENT, 6))
            for p, m in found.posts.items()
        ],
        findings=[finding_row(finding, True) for finding in findings],
        not_judged=[],
        cautions=_balance_cautions(found),
        safety=safety(()),
        input=_source(request.masses),
        settings=printed.BalanceSettings(gap_limit_percent=request.gap_limit_percent),
        version=runtrue.__version__,
    )
    result.not_judged.extend(not_judged(result, {"verdict": "no limit on the gap was given"}))
    return result


def _balance_said(found: Balance, closes: bool, gap: str) -> str:
    if closes:
        return f"The balance closes: the gap is {gap} of what went in, within its doubt."
    word = "lost" if found.gap > 0.0 else "came out that never went in"
    return f"The balance does not close: {gap} of what went in {word}. Look for a batch, a bin or a scale left out."


def _balance_cautions(found: Balance) -> list[str]:
    used, there = found.posts[Post.REGRIND_IN], found.to_grind
    said = []
    if there > 0.0 and used > there:
        said.append(
            f"More regrind went in ({fixed(used, 1)} kg) than flash and rejects give ({fixed(there, 1)} kg): from "
            f"where?"
        )
    if found.gap_u95 == 0.0:
        said.append("No mass has a doubt: state u95_kg, or no gap can lie within it.")
    return said


def _entry(row: Row) -> Entry:
    post = Post(row.word("post", tuple(p.value for p in Post)))
    mass = row.number_or_none("kg", low=0.0, unit="kg")
    pieces = row.number_or_none("count", low=0.0)
    if (mass is None) == (pieces is None):
        raise InputError(f"{row.where}: give kg, or count and each_g, and not both")
    if mass is not None:
        return Entry(post=post, mass=mass, u95=row.number_or_none("u95_kg", low=0.0, unit="kg") or 0.0)
    return counted(
        post,
        row.whole("count", 0, 100_000_000),
        row.number("each_g", low=0.0, unit="g") * GRAM,
        (row.number_or_none("each_u95_g", low=0.0, unit="g") or 0.0) * GRAM,
        row.number_or_none("count_u95", low=0.0) or 0.0,
    )


def _gap_limit(request: CompoundBalanceRequest) -> Limit | None:
    if request.gap_limit_percent is None:
        return None
    share = request.gap_limit_percent * PERCENT
    return Limit(
        quantity="balance_gap", lower=-share, upper=share, owner="the person who asked",
        source="stated with the request", date="",
    )  # fmt: skip


def trace(request: CompoundTraceRequest, ports: Ports, progress: Progress) -> printed.TraceResult:
    """Follow a lot or batch forward, a batch back, or the hours of a press back. Raises ``InputError``."""
    check_request(request)
    asked = [name for name in ("lot", "batch", "press") if getattr(request, name) is not None]
    if len(asked) != 1:
        raise InputError("say what to follow: one of lot, batch and press")
    drawn, made, pressed = _links(request)
    batches = _asked_batches(request, drawn, made, pressed)
    hours = [] if request.press is not None else [h for batch in batches for h in hours_of(batch, made, pressed)]
    result = printed.TraceResult(
        said=_trace_said(request, batches, hours),
        batches=[_batch_link(batch, how, drawn, made) for batch, how in batches.items()],
        hours=[_hours_row(one) for one in hours],
        not_judged=[],
        cautions=_trace_cautions(batches, made, hours, request),
        safety=safety((), machines=False),
        input=_source(request.links),
        settings=printed.TraceSettings(
            lot=request.lot, batch=request.batch, press=request.press, from_time=request.from_time,
            to_time=request.to_time,
        ),
        version=runtrue.__version__,
    )  # fmt: skip
    reasons = {
        **{
            f"batches.{key}": "surely none: the slack takes all, or no biscuits are linked" for key in ("first", "last")
        },
        **{f"batches.{key}": "no biscuits are linked" for key in ("maybe_first", "maybe_last")},
        **{f"hours.{key}": "it may have been none" for key in ("from_time", "to_time")},
    }
    result.not_judged.extend(not_judged(result, reasons))
    return result


def _asked_batches(
    request: CompoundTraceRequest, drawn: list[Drawn], made: list[Made], pressed: list[Pressed]
) -> dict[str, How]:
    """Batches that the question is about, and how sure."""
    if request.lot is not None:
        found = batches_of(request.lot, drawn)
        if not found:
            lots = listed(sorted({link.lot for link in drawn})[:12])
            raise InputError(f"lot '{request.lot}': no batch was weighed from it; the links know {lots}")
        return dict.fromkeys(found, How.SURELY)
    if request.batch is not None:
        known = {link.batch for link in drawn} | {link.batch for link in made}
        if request.batch not in known:
            raise InputError(f"batch '{request.batch}': no link knows it; known are {listed(sorted(known)[:12])}")
        return {request.batch: How.SURELY}
    assert request.press is not None
    runs = [run for run in pressed if run.press == request.press]
    if not runs:
        presses = listed(sorted({run.press for run in pressed})[:12])
        raise InputError(f"press '{request.press}': no link knows it; known are {presses}")
    start = min(run.start for run in runs) if request.from_time is None else _seconds(request.from_time, "from_time")
    end = max(run.end for run in runs) if request.to_time is None else _seconds(request.to_time, "to_time")
    found_origins = origins_of(request.press, start, end, drawn=drawn, made=made, pressed=pressed)
    return {origin.batch: origin.how for origin in found_origins}


def _links(request: CompoundTraceRequest) -> tuple[list[Drawn], list[Made], list[Pressed]]:
    known = ("kind", "lot", "ingredient", "batch", "press", "first", "last", "slack", "from_time", "to_time")
    rows = load_table(request.links, "links", needed=("kind",), known=known, most=200_000)
    drawn: list[Drawn] = []
    made: list[Made] = []
    pressed: list[Pressed] = []

    def read_drawn(row: Row) -> None:
        drawn.append(Drawn(lot=row.needed("lot"), batch=row.needed("batch"), ingredient=row.text("ingredient")))

    def read_made(row: Row) -> None:
        made.append(Made(batch=row.needed("batch"), biscuits=_interval(row)))

    def read_pressed(row: Row) -> None:
        start = _seconds(row.needed("from_time"), f"{row.where}: from_time")
        end = _seconds(row.needed("to_time"), f"{row.where}: to_time")
        pressed.append(Pressed(press=row.needed("press"), biscuits=_interval(row), start=start, end=end))

    read: dict[str, Callable[[Row], None]] = {"drawn": read_drawn, "made": read_made, "pressed": read_pressed}
    for row in rows:
        kind = row.word("kind", tuple(read))
        try:
            read[kind](row)
        except InputError as error:
            told = str(error)
            raise InputError(told if told.startswith(row.where) else f"{row.where}: {told}") from None
    return drawn, made, pressed


def _interval(row: Row) -> Interval:
    return Interval(
        first=row.whole("first", 0, 10**12), last=row.whole("last", 0, 10**12), slack=row.whole("slack", 0, 10**9, 0)
    )


def _seconds(text: str, where: str) -> float:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f"{where} '{text}' is no time; write it as 2026-11-25T06:00:00Z") from None
    return (found if found.tzinfo else found.replace(tzinfo=UTC)).timestamp()


def _time(seconds: float) -> str:
    return datetime.fromtimestamp(round(seconds), UTC).isoformat().replace("+00:00", "Z")


def _batch_link(batch: str, how: How, drawn: list[Drawn], made: list[Made]) -> printed.BatchLink:
    biscuits = [link.biscuits for link in made if link.batch == batch]
    sure = [one.sure for one in biscuits if one.sure is not None]
    return printed.BatchLink(
        batch=batch,
        how=how.value,
        lots=[
            f"{link.lot} ({link.ingredient})" if link.ingredient else link.lot for link in drawn if link.batch == batch
        ],
        first=min((one[0] for one in sure), default=None),
        last=max((one[1] for one in sure), default=None),
        maybe_first=min((one.widest[0] for one in biscuits), default=None),
        maybe_last=max((one.widest[1] for one in biscuits), default=None),
    )


def _hours_row(one: Hours) -> printed.PressHours:
    return printed.PressHours(
        press=one.press,
        batch=one.batch,
        how=one.how.value,
        from_time=None if one.sure is None else _time(one.sure[0]),
        to_time=None if one.sure is None else _time(one.sure[1]),
        maybe_from=_time(one.widest[0]),
        maybe_to=_time(one.widest[1]),
    )


def _trace_said(request: CompoundTraceRequest, batches: dict[str, How], hours: list[Hours]) -> str:
    names = listed(list(batches)[:6]) + (f" and {len(batches) - 6} more" if len(batches) > 6 else "")
    if request.press is not None:
        if not batches:
            return f"No batch is linked to these hours of press {request.press}."
        sure = [batch for batch, how in batches.items() if how is How.SURELY]
        maybe = [batch for batch, how in batches.items() if how is How.MAYBE]
        parts = [f"surely {listed(sure)}"] if sure else []
        parts += [f"maybe {listed(maybe)}"] if maybe else []
        return f"These hours of press {request.press} took {', '.join(parts)}."
    what = f"Lot {request.lot} went into {names}" if request.lot is not None else f"Batch {names}"
    if not hours:
        return f"{what}; no press hours are linked."
    presses = listed(list(dict.fromkeys(one.press for one in hours)))
    first, last = min(one.widest[0] for one in hours), max(one.widest[1] for one in hours)
    return f"{what}, pressed on {presses}, at most from {_time(first)} to {_time(last)}."


def _trace_cautions(
    batches: dict[str, How], made: list[Made], hours: list[Hours], request: CompoundTraceRequest
) -> list[str]:
    without = [batch for batch in batches if not any(link.batch == batch for link in made)]
    said = [f"No biscuits are linked to {listed(without[:6])}: what came of it is not known."] if without else []
    pressed = {one.batch for one in hours}
    lost = [batch for batch in batches if batch not in without and batch not in pressed]
    if lost and request.press is None:
        said.append(f"No press hours are linked to {listed(lost[:6])}: it may still lie in the bins.")
    return said


def _source(path: Any) -> FileInput:
    return FileInput(file=path.name, sha256=sha256(path.read_bytes()).hexdigest())
