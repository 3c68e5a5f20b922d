"""The moment of comparing: copies of one side become what they share, who could have made it, and what is next."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

import runtrue
from runtrue.contract.copies import (
    Base,
    Copies,
    CopyRow,
    DatedRow,
    OriginName,
    OriginRow,
    RecurrenceRow,
    Tie,
    WearRow,
)
from runtrue.contract.listening import NotJudged
from runtrue.listen.copies.compare import Recurrence, recurrences
from runtrue.listen.copies.dating import Dated, dated
from runtrue.listen.copies.further import next_play
from runtrue.listen.copies.origins import Suspect
from runtrue.listen.copies.sample import Play, Sample
from runtrue.listen.copies.screen import LOUD
from runtrue.listen.copies.trends import Wear, wear
from runtrue.paper.compared import compared_picture
from runtrue.paper.compared_sheet import write_compared
from runtrue.paper.layout import SCREEN
from runtrue.paper.svg import to_svg
from runtrue.paper.words import clock, fixed, worst
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.copies_centre import load_other, offset_rows, pushed, vectors_of, with_other
from runtrue.workflow.copies_common import COMMON, SHARE, common_of
from runtrue.workflow.copies_file import Listed, load_copies, readable
from runtrue.workflow.copies_judged import Heard, Job, judge_all, play_of
from runtrue.workflow.copies_request import ListenCompareRequest
from runtrue.workflow.copies_words import (
    SAID,
    advice_of,
    because,
    copy_words,
    held,
    hold_words,
    next_row,
    shared_words,
)
from runtrue.workflow.house import load_house
from runtrue.workflow.new_file import check_new
from runtrue.workflow.nulls import not_judged
from runtrue.workflow.requests import OF_ONE, ListenCheckRequest

_SAME_S = 0.001
"""Ticks of two plays of one copy this near are one [s]."""
_LEAST_SHOWN = 0.001
"""Origins less likely than this are left out of the list."""


def compare(request: ListenCompareRequest, ports: Ports, progress: Progress) -> Copies:
    """Judge every recording of the list and compare them. Raises ``InputError`` where nothing could be judged."""
    check_request(request)
    if request.picture is not None:
        check_new(request.picture, "picture", ".svg" if request.picture.suffix.lower() == ".svg" else ".pdf")
    listed = load_copies(request.copies)
    readable(listed.rows)
    other = load_other(request.other_side)
    house = load_house(limits=request.limits, standard=request.standard, rig=request.rig)
    for said in listed.cautions:
        ports.tell(said)
    with TemporaryDirectory(prefix="runtrue-") as folder:
        workspace = Path(folder)
        common = (
            None if request.reference is not None else common_of(request, listed.rows, house.rig, workspace, progress)
        )
        reference = request.reference or (workspace / COMMON)
        jobs = [
            Job(request=_checked(request, row, reference), common=None if common is None else common.reach)
            for row in listed.rows
        ]
        begun = 0.0 if common is None else SHARE
        heard = judge_all(
            jobs, workspace, lambda what, share: progress(what, begun + (1.0 - begun) * share),
            lambda k, one: _tell(ports, listed.rows[k], one),
        )  # fmt: skip
    progress("comparing", 0.98)
    limit = next((one.limit.upper for one in house.limits.limits if one.limit.quantity == "surface"), None)
    result = compared(
        listed.rows,
        heard,
        format=request.format,
        reference=Base(
            file=None if request.reference is None else request.reference.name,
            sha256=next((h.reference for h in heard if h.reference), None),
            copies=[] if common is None else common.copies,
        ),
        cautions=[*listed.cautions, *(() if common is None else common.cautions)],
        surface_limit=limit,
    )
    if other is not None:
        result = with_other(result, other)
    if request.picture is not None:
        draw(result, request.picture, day=ports.clock()[:10])
    return result


def draw(result: Copies, path: Path, *, day: str = "") -> None:
    """Draw compared copies: the picture alone as .svg, the whole sheet as .pdf."""
    if path.suffix.lower() == ".svg":
        path.write_text(to_svg(compared_picture(result, pen=SCREEN, wide=1100.0)), encoding="utf-8")
    else:
        write_compared(path, result, date=day)


def _checked(request: ListenCompareRequest, row: Listed, reference: Path) -> ListenCheckRequest:
    """What is asked of one recording of the list; its own rig goes before the common one."""
    shared = {name: getattr(request, name) for name in ListenCheckRequest.__dataclass_fields__ if name not in OF_ONE}
    return ListenCheckRequest(capture=row.file, reference=reference, rig=row.rig or request.rig, **shared)


def _tell(ports: Ports, row: Listed, heard: Heard) -> None:
    if heard.reason:
        ports.tell(f"{row.where}: {row.file.name} takes no part: {heard.reason}.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """A recording that takes part."""

    row: Listed
    heard: Heard


def compared(
    rows: Sequence[Listed],
    heard: Sequence[Heard],
    *,
    format: str,
    reference: Base,
    cautions: Sequence[str] = (),
    surface_limit: float | None = None,
) -> Copies:
    """Compare judged recordings, ``rows`` and ``heard`` in the same order."""
    reasons = _reasons(rows, heard)
    parts = [_Part(row=r, heard=h) for r, h, why in zip(rows, heard, reasons, strict=True) if not why]
    told = list(cautions)
    duration = max((p.heard.duration or (p.heard.reach or (0.0, 0.0))[1] for p in parts), default=0.0)
    turn = float(np.median([p.heard.turn for p in parts])) if parts else 0.0
    sample = Sample([_play(p) for p in parts], length=max(duration, 1.0))
    if len(sample.copies) < 2:
        told.append(
            "Fewer than two copies could be compared: nothing can be said about what they share. Give more copies."
        )
    found = recurrences(sample, turn=turn) if len(parts) > 1 else []
    if reference.file is None and reference.copies:
        # on every copy that could show it: left over from the mean, which holds what they share
        found = [one for one in found if one.without]
    told += _design_cautions(sample)
    lines = [_line(one, sample, parts) for one in found]
    copies = _copy_rows(rows, heard, reasons)
    verdict = worst([one.verdict for one in copies])
    if verdict == "pass" and any(held(one) is not None for one in lines):
        verdict = "cannot_judge"
    headline, act = _opening(lines, copies)
    bare = Copies(
        verdict=verdict,
        headline=headline,
        act=act,
        copies=copies,
        recurrences=lines,
        dated=[_dated(one, sample) for one in dated(sample, found)],
        offsets=offset_rows(vectors_of([p.row for p in parts], [p.heard for p in parts], sample), sample),
        together=None,
        trends=_trends(parts, sample, surface_limit),
        reference=reference,
        duration_s=round(duration, 3),
        turn_s=round(turn, 6),
        format=format,
        not_judged=[],
        cautions=list(dict.fromkeys(told)),
        version=runtrue.__version__,
    )
    return replace(bare, not_judged=_nulls(bare))


def _play(part: _Part) -> Play:
    row = part.row
    return play_of(
        part.heard, copy=row.copy, closure=row.closure,
        factors={**row.factors, **({"rig": row.rig.name} if row.rig is not None else {})}, order=row.order,
        washed=row.washed,
    )  # fmt: skip


def _reasons(rows: Sequence[Listed], heard: Sequence[Heard]) -> list[str]:
    """Why each recording takes no part; empty where it does. A recording that stands there twice counts once."""
    seen: dict[str, Listed] = {}
    out = []
    for row, one in zip(rows, heard, strict=True):
        why = one.reason
        if not why and one.sha256 in seen:
            why = f"it is the same recording as {seen[one.sha256].file.name}"
        elif one.sha256 and not why:
            seen[one.sha256] = row
        out.append(why)
    return out


def _design_cautions(sample: Sample) -> list[str]:
    """What the sample cannot say by its design, whatever is on the discs."""
    told = []
    players = [n for name in ("player", "stylus", "rig") for n in sample.values[name][0]]
    if len(sample.copies) > 1 and len(set(players)) <= 1:
        told.append(
            "All copies were played on one rig: what is on every copy may be the player's. Play one on another rig."
        )
    return told


def _copy_rows(rows: Sequence[Listed], heard: Sequence[Heard], reasons: Sequence[str]) -> list[CopyRow]:
    """One row for each copy, in the order of the list."""
    by_copy: dict[str, list[int]] = {}
    for k, row in enumerate(rows):
        by_copy.setdefault(row.copy, []).append(k)
    return [
        _copy_row(copy, [rows[k] for k in mine], [heard[k] for k in mine], [reasons[k] for k in mine])
        for copy, mine in by_copy.items()
    ]


def _copy_row(copy: str, rows: Sequence[Listed], heard: Sequence[Heard], reasons: Sequence[str]) -> CopyRow:
    taking = [h for h, why in zip(heard, reasons, strict=True) if not why]
    out = [why for why in reasons if why]
    best = max(taking, key=lambda h: (h.reach or (0.0, 0.0))[1] - (h.reach or (0.0, 0.0))[0], default=None)
    surest = min((h.centre for h in taking if h.centre is not None), key=lambda c: c.u95_um, default=None)
    noise = [h.surface for h in taking if h.surface is not None]
    return CopyRow(
        copy=copy,
        closure=rows[0].closure,
        stamper=next((r.factors["stamper"] for r in rows if "stamper" in r.factors), None),
        files=[r.file.name for r in rows],
        plays=len(taking),
        verdict=worst([h.verdict for r, h in zip(rows, heard, strict=True) if r.washed] or [h.verdict for h in heard]),
        reason="; ".join(dict.fromkeys(out)) or None,
        off_centre=pushed(rows, heard) or surest,
        surface_db_a=None if not noise else round(float(np.median(noise)), 3),
        washed_away=_washed_away(rows, heard, reasons),
        reach_s=None if best is None or best.reach is None else best.reach,
        ticks_s=None if best is None else [round(float(t), 5) for t in best.time],
        ticks_db=None if best is None else [round(float(t), 2) for t in best.prominence],
    )


def _washed_away(rows: Sequence[Listed], heard: Sequence[Heard], reasons: Sequence[str]) -> int | None:
    """Ticks of the plays before a wash that no play after it lists, though it would: loud enough and within reach."""
    taking = [(r, h) for r, h, why in zip(rows, heard, reasons, strict=True) if not why]
    before, after = [h for r, h in taking if not r.washed], [h for r, h in taking if r.washed]
    if not before or not after:
        return None
    later = np.concatenate([h.time for h in after])
    low = max(h.reach[0] for h in after if h.reach is not None)
    high = min(h.reach[1] for h in after if h.reach is not None)
    gone = [
        time
        for h in before
        for time, over in zip(h.time, h.prominence, strict=True)
        if over >= LOUD and low <= time <= high and not (len(later) and np.abs(later - time).min() < _SAME_S)
    ]
    return len(gone)


def _line(one: Recurrence, sample: Sample, parts: Sequence[_Part]) -> RecurrenceRow:
    """One recurrence as printed."""
    shown = [s for s in one.suspects if s.probability >= _LEAST_SHOWN] or list(one.suspects[:1])
    origins = [_origin(s) for s in shown]
    turn, angle, angle_u95, radius, radius_u95 = _place(one, parts)
    hits = [(parts[j].heard, int(np.abs(parts[j].heard.time - one.time).argmin())) for j in one.plays]
    row = RecurrenceRow(
        programme_s=round(one.time, 6),
        u95_s=round(1.96 * one.time_sd, 6),
        turn=turn,
        angle_deg=angle,
        angle_u95_deg=angle_u95,
        radius_mm=radius,
        radius_u95_mm=radius_u95,
        prominence_db=round(float(np.median([h.prominence[k] for h, k in hits])), 2),
        copies=[sample.copies[i] for i in one.copies],
        without=[sample.copies[i] for i in one.without],
        untold=[sample.copies[i] for i in one.untold],
        likeness=None if one.likeness is None else round(one.likeness, 3),
        chance_probability=round(one.odds.chance, 6),
        none_of_these=round(one.odds.other, 6),
        origins=origins,
        cannot_tell_apart=_ties(one, sample),
        from_closure=one.first,
        to_closure=one.last,
        rises_db_per_1000=None if one.rise is None else round(1000.0 * one.rise.slope, 3),
        train=one.train,
        fails=bool(hits) and all(h.fails for h, _ in hits),
        advice="",
        next=next_row(next_play(one, sample)),
    )
    at = f"at {clock(one.time)} (turn {turn}, {fixed(angle, 0)}°, radius {fixed(radius, 1)} mm)"
    growing = " It grows with the count: a crack, which spreads." if one.rise is not None and one.rise.slope > 0 else ""
    return replace(row, advice=advice_of(origins, row, at) + growing)


def _origin(s: Suspect) -> OriginRow:
    return OriginRow(origin=s.origin.value, which=s.which, probability=round(s.probability, 4))


def _place(one: Recurrence, parts: Sequence[_Part]) -> tuple[int, float, float, float, float]:
    """Turn, angle and radius by the play that knows the angle best."""
    rows = [parts[j].heard.at[int(np.abs(parts[j].heard.time - one.time).argmin())] for j in one.plays]
    turn, angle, angle_u95, radius, radius_u95 = min(rows, key=lambda row: float(row[2]))
    return int(turn), float(angle), float(angle_u95), float(radius), float(radius_u95)


def _ties(one: Recurrence, sample: Sample) -> list[Tie]:
    """Groups that cannot be told apart and hold something likely."""
    out = []
    for group in one.tied:
        if sum(one.suspects[k].probability for k in group) < 0.02:
            continue
        names = [OriginName(origin=one.suspects[k].origin.value, which=one.suspects[k].which) for k in group]
        out.append(Tie(origins=names, because=because(names, sample)))
    return out


def _dated(one: Dated, sample: Sample) -> DatedRow:
    return DatedRow(
        copy=sample.copies[one.copy], closure=(one.low, one.high), stretches=list(one.stretches), stamper=one.stamper,
        stamper_probability=round(one.stamper_probability, 4), marks=one.marks,
    )  # fmt: skip


def _trends(parts: Sequence[_Part], sample: Sample, surface_limit: float | None) -> list[WearRow]:
    values = {
        "surface_db_a": ([p.heard.surface for p in parts], surface_limit),
        "treble_db": ([p.heard.treble for p in parts], None),
    }
    return [
        _wear(name, one)
        for name, (each, limit) in values.items()
        for one in wear(np.array([np.nan if v is None else v for v in each]), sample, limit=limit)
    ]


def _wear(quantity: str, one: Wear) -> WearRow:
    what = "noise" if quantity == "surface_db_a" else "treble"
    worse = one.slope > 0 if quantity == "surface_db_a" else one.slope < 0
    if not one.parted:
        advice = (
            "The playing order is not known, or went with the count: stylus wear cannot be told from stamper wear. "
            "Play one copy again between the others."
        )
    elif not one.rises:
        advice = f"No change of the {what} with the count beyond its ±."
    elif worse:
        advice = f"The {what} gets worse with the count: the stamper wears."
    else:
        advice = f"The {what} gets better with the count: that is no wear."
    return WearRow(
        quantity=quantity,
        stamper=one.stamper,
        plays=one.plays,
        per_1000_closures=round(1000.0 * one.slope, 3),
        u95=round(1000.0 * one.slope_u95, 3),
        per_play=None if one.by_play is None else round(one.by_play, 4),
        parted=one.parted,
        crossing_closure=None if one.crossing is None else round(one.crossing, 0),
        crossing_interval=None if one.interval is None else (round(one.interval[0], 0), round(one.interval[1], 0)),
        advice=advice,
    )


def _opening(lines: Sequence[RecurrenceRow], copies: Sequence[CopyRow]) -> tuple[str, str]:
    """The first sentence and what to do: the mark that concerns most records goes first."""
    several = [row for row in lines if len(row.copies) > 1]
    stamper = {row.copy: row.stamper for row in copies}
    if several:
        first = max(
            several, key=lambda row: (row.fails, row.from_closure is not None, row.prominence_db, len(row.copies))
        )
        said = shared_words(first, [stamper.get(c) for c in first.copies])
        hold = held(first)
        act = first.advice
        if first.next is not None and first.origins and first.origins[0].probability < SAID:
            act = f"Next: {first.next.words}."
        if hold is not None:
            act = f"Hold closures {hold_words(hold)}."
        return said, act
    bad = [row.copy for row in copies if row.verdict == "fail"]
    compared_ = [row for row in copies if row.plays]
    if not compared_:
        return "No copy could be compared.", ""
    none = f"The {len(compared_)} copies share no tick" if len(compared_) > 1 else "One copy alone shares nothing"
    alone = f"; {copy_words(bad)} {'fails' if len(bad) == 1 else 'fail, each'} on its own account" if bad else ""
    return f"{none}{alone}.", ""


def _nulls(result: Copies) -> list[NotJudged]:
    reasons: Mapping[str, str] = {
        "copies.closure": "the list states no count for it",
        "copies.stamper": "the list states no stamper for it",
        "copies.off_centre": "it was not judged, or the copies served each other",
        "copies.surface_db_a": "it was not judged",
        "copies.washed_away": "it was not played before and after a wash",
        "copies.reach_s": "it takes no part",
        "copies.ticks_s": "it takes no part",
        "copies.ticks_db": "it takes no part",
        "recurrences.likeness": "fewer than two of its events have a waveform",
        "recurrences.from_closure": "it is no event on the press, by the odds, or no closures are stated",
        "recurrences.to_closure": "it is no event on the press, by the odds, or was there to the last copy",
        "recurrences.rises_db_per_1000": "no growth beyond its ± on four counted copies or more",
        "dated.stamper": "the list states no stamper",
        "offsets.agrees": "one copy alone",
        "together": "no result of the other side was given",
        "trends.per_play": "playing order and count went together, or the order is not stated",
        "trends.crossing_closure": "no limit, or no change with the count beyond its ±",
        "trends.crossing_interval": "no limit, or no change with the count beyond its ±",
        "reference.file": "the copies served each other",
        "reference.sha256": "nothing could be judged",
    }
    return [one for one in not_judged(result, reasons) if one.key not in _STRUCTURAL]


_STRUCTURAL = frozenset(
    {
        "copies.reason", "recurrences.next", "recurrences.train", "recurrences.origins.which", "offsets.stamper",
        "trends.stamper", "recurrences.cannot_tell_apart.origins.which", "recurrences.next.which",
        "recurrences.next.closure", "together.stamper", "together.other_stamper", "offsets.placing",
    }
)  # fmt: skip
"""Where null means that there is none."""
