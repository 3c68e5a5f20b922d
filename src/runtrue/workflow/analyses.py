"""Judgements in the book: the same question again is a look-up, and what was found stands with its limits."""

import io
import json
from dataclasses import asdict, fields, replace
from hashlib import sha256
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter

import runtrue
from runtrue.capture import Sound, open_sound
from runtrue.contract.listening import Listening, Traces
from runtrue.errors import InputError, RuntrueError
from runtrue.records import Book, asking, tables
from runtrue.records.pen import Pen
from runtrue.records.results import Results
from runtrue.types import Analysis, Progress
from runtrue.workflow import listening
from runtrue.workflow.actions import Ports, asks, check_request
from runtrue.workflow.house import House, load_house
from runtrue.workflow.keeping import Read
from runtrue.workflow.listening import METHOD, Checked
from runtrue.workflow.papers.paper import moment
from runtrue.workflow.printing import settings_digest
from runtrue.workflow.requests import ListenCheckRequest
from runtrue.workflow.setting import setting_of

_REPORT, _TRACES, _ANALYSIS = "report.json", "traces.npz", "analysis.json"
_NO_QUESTION = frozenset({"capture", "reference", "rig", "limits", "book", "sample"})
"""Fields of a request that say where something lies, and not what is asked."""


def check(request: ListenCheckRequest, ports: Ports, progress: Progress, *, named: bool) -> Checked:
    """Judge one recording, or look the judgement up; keep it in the book.

    Trouble with a book that the person ``named`` is theirs to know before anything long begins; trouble with the
    default one becomes a caution.
    """
    check_request(request)
    try:
        book = ports.open_book(request.book)
    except RuntrueError as trouble:
        if named:
            raise
        return _not_kept(listening.check(request, ports, progress), trouble)
    if request.sample is not None:
        _known_sample(book, request.sample)
    checked, key = judged(request, Results(book.place.store), ports, progress)
    try:
        with book.write(who=ports.who, at=moment("clock", ports.clock())) as pen:
            enter(pen, checked, key, request)
    except RuntrueError as trouble:
        if named:
            raise
        return _not_kept(checked, trouble)
    return checked


def _known_sample(book: Book, name: str) -> None:
    with book.read() as connection:
        if asking.newest(connection, tables.Sample, sample=name.strip()) is None:
            raise InputError(f"sample '{name.strip()}' is not in the book; enter it first with `runtrue book sample`")


def _not_kept(checked: Checked, trouble: RuntrueError) -> Checked:
    said = f"The result was not entered in the book: {trouble}."
    return replace(checked, listening=replace(checked.listening, cautions=[*checked.listening.cautions, said]))


def judged(request: ListenCheckRequest, results: Results, ports: Ports, progress: Progress) -> tuple[Checked, str]:
    """The judgement and its key, from the store where the same question was answered before."""
    house = load_house(limits=request.limits, standard=request.standard, rig=request.rig)
    capture = open_sound(request.capture)
    reference = None if request.reference is None else open_sound(request.reference, what="reference")
    key = key_of(request, house, capture, reference)
    found = results.get(key)
    if found is not None:
        return _as_asked(revived(found), capture, reference), key
    fresh = listening.check(request, ports, progress)
    checked = replace(fresh, analysis=replace(fresh.analysis, id=key))
    results.put(key, kept(checked))
    return checked, key


def key_of(request: ListenCheckRequest, house: House, capture: Sound, reference: Sound | None) -> str:
    """Digest of all that a judgement depends on: contents, question, house, method, version."""
    asked = {item.name: getattr(request, item.name) for item in fields(request) if item.name not in _NO_QUESTION}
    parts = [
        METHOD,
        runtrue.__version__,
        capture.digest,
        "" if reference is None else reference.digest,
        settings_digest(setting_of(request, house.rig)),
        repr(house),
        json.dumps(asked, sort_keys=True),
    ]
    return sha256("\n".join(parts).encode()).hexdigest()


def kept(checked: Checked) -> dict[str, bytes]:
    """Files of a judgement. Missing points of the curves are NaN in the arrays."""
    curves: dict[str, NDArray[Any]] = {
        name: np.array(values, dtype=np.float64) for name, values in asdict(checked.traces).items()
    }
    if checked.waveforms is not None:
        curves["waveforms"] = checked.waveforms
    packed = io.BytesIO()
    np.savez_compressed(packed, **curves)  # type: ignore[arg-type]
    return {
        _REPORT: json.dumps(asdict(checked.listening), ensure_ascii=False, allow_nan=False, indent=1).encode(),
        _TRACES: packed.getvalue(),
        _ANALYSIS: json.dumps(asdict(checked.analysis), indent=1).encode(),
    }


def revived(files: dict[str, bytes]) -> Checked:
    """A judgement out of its files."""
    with np.load(io.BytesIO(files[_TRACES])) as packed:
        curves = {item.name: _listed(packed[item.name]) for item in fields(Traces)}
        waveforms = packed.get("waveforms")
    analysis: dict[str, Any] = json.loads(files[_ANALYSIS])
    return Checked(
        listening=TypeAdapter(Listening).validate_json(files[_REPORT]),
        traces=Traces(**curves),
        analysis=Analysis(**{**analysis, "input_digests": tuple(analysis["input_digests"])}),
        waveforms=waveforms,
    )


def _listed(values: NDArray[Any]) -> list[Any]:
    return [None if np.isnan(value) else float(value) for value in values]


def _as_asked(checked: Checked, capture: Sound, reference: Sound | None) -> Checked:
    """With the names that the files have now; their contents are the same."""
    report = checked.listening
    named = replace(report, input=replace(report.input, file=capture.name))
    if reference is not None and report.reference is not None:
        named = replace(named, reference=replace(report.reference, file=reference.name))
    return replace(checked, listening=named)


def enter(pen: Pen, checked: Checked, key: str, request: ListenCheckRequest | None = None) -> None:
    """Enter a judgement once; and the placing, where the sample is named."""
    report = checked.listening
    inputs = [("capture", report.input), *([("reference", report.reference)] if report.reference is not None else [])]
    enter_analysis(
        pen, key=key, action=checked.analysis.action, method=checked.analysis.method,
        settings_digest=checked.analysis.settings_digest, result=report, inputs=inputs,
    )  # fmt: skip
    sample = None if request is None or request.sample is None else request.sample.strip()
    if sample is not None:
        plays = pen.all_where(tables.Play, sample=sample)
        if not any(play.analysis == key for play in plays):
            pen.add(
                tables.Play, pen.enter("play"), sample=sample, placing=len(plays) + 1, capture=report.input.sha256,
                analysis=key,
            )  # fmt: skip


def enter_analysis(
    pen: Pen, *, key: str, action: str, method: str, settings_digest: str, result: Any, inputs: list[tuple[str, Any]]
) -> None:
    """Enter an analysis with its inputs and findings; one of the same key is there already and stays."""
    if pen.has(tables.Analysed, key, "key"):
        return
    entry = pen.enter("analysis")
    findings = getattr(result, "findings", ())
    limits = [(row.quantity, row.lower, row.upper, row.owner, row.source, row.date, row.rule) for row in findings]
    pen.add(
        tables.Analysed, entry, key=key, action=action, method=method, version=result.version,
        verdict=getattr(result, "verdict", None),
        settings_digest=settings_digest, house_digest=_digest(limits),
    )  # fmt: skip
    for role, found in inputs:
        pen.add(tables.AnalysedInput, entry, role=role, digest=found.sha256, name=found.file)
    reasons = {one.key: one.reason for one in getattr(result, "not_judged", ())}
    for row in findings:
        pen.add(
            tables.Found, entry, quantity=row.quantity, value=row.value, u95=row.u95, about=row.about,
            reason=reasons.get(f"findings.{row.quantity}.value"), lower=row.lower, upper=row.upper,
            limit_owner=row.owner, limit_source=row.source, conformance_probability=row.conformance_probability,
            verdict=row.verdict,
        )  # fmt: skip


def remember(action: str, request: Any, outcome: Any, ports: Ports, read: list[Read]) -> None:
    """Enter the analysis of a station's result and keep the result; its method is the name of its schema."""
    known = {one.role for one in read}
    kind: type = type(request)
    asked = {
        item.name: str(getattr(request, item.name))
        for item, how in asks(kind)
        if item.name not in known and not how.written and item.name not in _NO_QUESTION
    }
    report = json.dumps(asdict(outcome), ensure_ascii=False, allow_nan=False, indent=1).encode()
    settings = _digest(asked)
    key = _digest([action, outcome.schema, outcome.version, settings, [(one.role, one.sha256) for one in read], report])
    book = ports.open_book(None)
    Results(book.place.store).put(key, {_REPORT: report})
    with book.write(who=ports.who, at=moment("clock", ports.clock())) as pen:
        enter_analysis(
            pen, key=key, action=action, method=outcome.schema, settings_digest=settings, result=outcome,
            inputs=[(one.role, one) for one in read],
        )  # fmt: skip


def _digest(value: Any) -> str:
    return sha256(repr(value).encode()).hexdigest()


def keep_judged(book: str, checked: Checked, ports: Ports) -> None:
    """Keep and enter a judgement that was made elsewhere, under its analysis's own key."""
    opened = ports.open_book(book)
    Results(opened.place.store).put(checked.analysis.id, kept(checked))
    with opened.write(who=ports.who, at=moment("clock", ports.clock())) as pen:
        enter(pen, checked, checked.analysis.id)
