"""Judged recordings as the book knows them: which copy, which closure, which metal; and copies compared, looked up."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import PurePath
from typing import Any

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection

import runtrue
from runtrue.contract.copies import Copies
from runtrue.errors import UnknownNameError
from runtrue.records import Book, asking, tables
from runtrue.records.results import Results
from runtrue.workflow.advice import Span, advise
from runtrue.workflow.analyses import revived
from runtrue.workflow.judged import Judged, sides_of
from runtrue.workflow.listening import Checked

ACTION = "listen check"
"""Action whose analyses are recordings."""
_COPIES, _ADVICE = "copies.json", "advice.json"
_SIDES = {"stamper_a": "A", "stamper_b": "B"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """A recording of the book: its analysis, and the play it belongs to where one was entered.

    ``capture`` and ``reference`` are digests; ``at`` is when it was judged, ISO 8601.
    """

    key: str
    name: str
    capture: str
    reference: str | None
    verdict: str | None
    at: str
    sample: str | None = None
    side: str = ""
    placing: int = 1
    push: str = ""
    washed: bool | None = None
    run: str | None = None
    job: str | None = None
    closure: int | None = None


def result_of(book: Book, key: str) -> Checked:
    """The judgement of a key; raises ``UnknownNameError`` where there is none."""
    found = Results(book.place.store).get(key) if _is_key(key) else None
    if found is None or "report.json" not in found:
        raise UnknownNameError(f"recording {key[:12]} is not in the store; `/recordings` lists those that are")
    checked = _revived(found)
    if checked is None:
        raise UnknownNameError(
            f"recording {key[:12]} was judged by another version of the program, whose result this one cannot read: "
            "judge the recording again"
        )
    return checked


def _revived(files: dict[str, bytes]) -> Checked | None:
    """A judgement out of its files; None where another version wrote them in another form."""
    try:
        return revived(files)
    except (ValidationError, KeyError, TypeError, ValueError):
        return None


def _is_key(text: str) -> bool:
    return len(text) == 64 and set(text) <= set("0123456789abcdef")


def recordings(connection: Connection, *, job: str | None = None, last: int = 200) -> list[Played]:
    """Recordings of a job, or the newest of all, in the order they were judged."""
    if job is None:
        rows = asking.last_rows(connection, tables.Analysed, last=last, action=ACTION)
        plays = asking.rows_where(connection, tables.Play, analysis=[row.key for row in rows])
        samples = asking.rows_where(connection, tables.Sample, sample=sorted({play.sample for play in plays}))
    else:
        runs = [one.run for one in asking.run_rows(connection, job=job)]
        samples = asking.rows_where(connection, tables.Sample, run=runs)
        plays = asking.rows_where(connection, tables.Play, sample=sorted({sample.sample for sample in samples}))
        rows = asking.rows_where(connection, tables.Analysed, key=sorted({p.analysis for p in plays if p.analysis}))
    inputs: dict[Any, dict[str, Any]] = {}
    for one in asking.rows_of(connection, tables.AnalysedInput, [row.entry for row in rows]):
        inputs.setdefault(one.entry, {})[one.role] = one
    entries = {one.id: one.at for one in asking.entry_rows(connection, [row.entry for row in rows])}
    of_sample = {sample.sample: sample for sample in samples}
    jobs = {one.run: one.job for one in asking.run_rows(connection, run=sorted({s.run for s in samples}))}
    by_key = {play.analysis: play for play in plays}
    played = [
        _played(
            row, inputs.get(row.entry, {}), by_key.get(row.key), samples=of_sample, jobs=jobs, at=entries[row.entry]
        )
        for row in rows
        if "capture" in inputs.get(row.entry, {})
    ]
    return _named(connection, played)


def _named(connection: Connection, played: list[Played]) -> list[Played]:
    """With the name that a recording came with, where its file is called by its digest in the store."""
    bare = sorted({one.capture for one in played if one.name == one.capture})
    names = {row.digest: row.name for row in asking.rows_where(connection, tables.Capture, digest=bare)} if bare else {}
    return [replace(one, name=names.get(one.capture, one.name)) for one in played]


def _played(
    row: Any, inputs: dict[str, Any], play: Any, *, samples: dict[str, Any], jobs: dict[str, str], at: Any
) -> Played:
    reference = inputs.get("reference")
    found = {
        "key": row.key, "name": PurePath(inputs["capture"].name).name, "capture": inputs["capture"].digest,
        "reference": None if reference is None else reference.digest, "verdict": row.verdict,
        "at": at.isoformat(timespec="seconds"),
    }  # fmt: skip
    if play is None or play.sample not in samples:
        return Played(**found)
    sample = samples[play.sample]
    return Played(
        **found, sample=play.sample, side=play.side or "", placing=play.placing, push=play.push or "",
        washed=None if play.washed is None else play.washed == "yes", run=sample.run, job=jobs.get(sample.run),
        closure=sample.closure,
    )  # fmt: skip


def recording(connection: Connection, key: str) -> Played:
    """The recording of a key; raises ``UnknownNameError``."""
    row = asking.newest(connection, tables.Analysed, key=key) if _is_key(key) else None
    if row is None:
        raise UnknownNameError(f"recording {key[:12]} is not in the book; `/recordings` lists those that are")
    play = asking.newest(connection, tables.Play, analysis=key)
    sample = None if play is None else asking.newest(connection, tables.Sample, sample=play.sample)
    inputs = {one.role: one for one in asking.rows_of(connection, tables.AnalysedInput, [row.entry])}
    if "capture" not in inputs:
        raise UnknownNameError(f"analysis {key[:12]} is of no recording; `/recordings` lists those that are")
    jobs = {} if sample is None else {sample.run: asking.run_row(connection, sample.run).job}
    at = asking.entry_rows(connection, [row.entry])[0].at
    one = _played(row, inputs, play, samples={} if sample is None else {sample.sample: sample}, jobs=jobs, at=at)
    return _named(connection, [one])[0]


def plays_of_sample(connection: Connection, sample: str | None) -> list[Any]:
    """Every play of a copy that was judged."""
    rows = [] if sample is None else asking.rows_where(connection, tables.Play, sample=sample)
    return [row for row in rows if row.analysis]


def stampers_of(connection: Connection, runs: Sequence[str]) -> list[tuple[str, str, Span]]:
    """Which stamper pressed which closures: run, kind of span, span."""
    return [
        (run, row.kind, Span(
            stamper=row.ref, side=_SIDES[row.kind], first=row.first_low,
            last=asking.run_row(connection, run).closures if row.last_high is None else row.last_high,
        ))
        for run in runs
        for row in asking.spans_over(connection, run, tuple(_SIDES))
    ]  # fmt: skip


def judged_of(book: Book, connection: Connection, plays: Sequence[Played]) -> list[Judged]:
    """The judgements of plays whose results are there, with what the book knows of their copies."""
    runs = sorted({one.run for one in plays if one.run is not None})
    stampers = stampers_of(connection, runs)
    of_run = {one.run: one for one in asking.run_rows(connection, run=runs)}
    store = Results(book.place.store)
    found = []
    for one in plays:
        files = store.get(one.key)
        checked = None if files is None else _revived(files)
        if checked is None:
            continue
        metal = _metal(connection, stampers, one)
        found.append(
            Judged(
                copy=f"copy {one.sample}" if one.sample else one.name, side=one.side, closure=one.closure,
                press=of_run[one.run].press if one.run else "", note=_note(one), washed=one.washed,
                pile=_ref(connection, one, "pile"), batch=_ref(connection, one, "batch"),
                listening=checked.listening, traces=checked.traces, waveforms=checked.waveforms, **metal,
            )
        )  # fmt: skip
    return found


def _note(one: Played) -> str:
    if one.push:
        return f"pushed {one.push}"
    return {True: "washed", False: "dirty", None: ""}[one.washed]


def _metal(connection: Connection, stampers: Sequence[tuple[str, str, Span]], one: Played) -> dict[str, str]:
    """Stamper, mother and father of a copy's side."""
    stamper = next(
        (
            span.stamper
            for run, _, span in stampers
            if run == one.run and span.side == one.side and one.closure and span.first <= one.closure <= span.last
        ),
        "",
    )
    line = {row.generation: row.metal for row in asking.lineage(connection, stamper)} if stamper else {}
    return {"stamper": stamper, "mother": line.get("mother", ""), "father": line.get("father", "")}


def _ref(connection: Connection, one: Played, kind: str) -> str:
    """What held at a copy's closure."""
    if one.run is None or one.closure is None:
        return ""
    rows = asking.spans_over(connection, one.run, (kind,), one.closure, one.closure)
    return str(rows[-1].ref) if rows else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the copies of a job say together: which station, what was found, what to do, which closures to hold."""

    station: str
    found: str
    act: str
    side: str
    hold: tuple[int, int] | None
    failing: bool


def advised(book: Book, judged: Sequence[Judged], keys: Sequence[str], spans: Sequence[Span]) -> list[Told]:
    """The findings over a job's copies, what concerns most first; looked up where they were drawn before."""
    key = _key("advised", judged, [*keys, *map(repr, spans)])
    store = Results(book.place.store)
    found = store.get(key)
    if found is not None:
        return TypeAdapter(list[Told]).validate_json(found[_ADVICE])
    made = [
        Told(station=a.station, found=a.found, act=a.act, side=a.side, hold=a.hold, failing=a.failing)
        for a in advise(judged, spans)
    ]
    store.put(key, {_ADVICE: json.dumps([asdict(one) for one in made], ensure_ascii=False).encode()})
    return made


def _key(what: str, judged: Sequence[Judged], keys: Sequence[str]) -> str:
    """Digest of what a comparison depends on: the recordings, what the book knows of their copies, the version."""
    told = [
        [one.copy, one.side, one.closure, one.stamper, one.mother, one.father, one.press, one.pile, one.batch, one.note]
        for one in judged
    ]
    return sha256(json.dumps([what, runtrue.__version__, sorted(keys), told]).encode()).hexdigest()


def compared_side(book: Book, judged: Sequence[Judged], keys: Sequence[str]) -> Copies:
    """The copies of one side laid over one another: looked up where these recordings were compared before."""
    key = _key("compared", judged, keys)
    store = Results(book.place.store)
    found = store.get(key)
    if found is not None:
        return TypeAdapter(Copies).validate_json(found[_COPIES])
    made = sides_of(judged)[judged[0].side]
    store.put(key, {_COPIES: json.dumps(asdict(made), ensure_ascii=False, allow_nan=False).encode()})
    return made
