"""Copies of a side laid over one another: what they share, whose it is, which boxes hold it, what to play next."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from math import cos, radians, sin
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from runtrue.contract.book import HeldBox, Recall
from runtrue.contract.copies import Copies, CopyRow, RecurrenceRow
from runtrue.errors import UnknownNameError
from runtrue.paper import faults
from runtrue.paper.compared import compared_picture, flagged
from runtrue.paper.disc import disc_picture
from runtrue.paper.faults import Fault
from runtrue.paper.layout import SCREEN
from runtrue.paper.run_picture import Box, Stretch, run_picture
from runtrue.paper.words import VERDICT_WORDS, clock, count, number, odds, sentence_case
from runtrue.records import Book, asking, tables
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.book_requests import RecallRequest
from runtrue.workflow.copies_request import ListenRingRequest
from runtrue.workflow.copies_words import copy_words, hold_of, origin_words, shared_words, since_words
from runtrue.workflow.judged import Judged
from runtrue.workflow.pages.library import Played, Told, advised, compared_side, judged_of, recordings, stampers_of
from runtrue.workflow.pages.page import Head, Picture, Tag, degrees_words, head, mark, picture
from runtrue.workflow.recall import recall
from runtrue.workflow.ring import ring

_SIZES = (("copies", (900.0, 560.0)), ("copies-small", (620.0, 520.0)))
"""Sizes of the picture of copies [px], for a desktop and for a tablet, so that no text shrinks below 14 px."""
MOST_BOXES = 120
_UNREAD = "The results of these recordings are not in the store, or of another version: judge them again."
DISCS = (("disc", 390.0), ("disc-small", 290.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLink:
    """A side of a job whose copies were played."""

    job: str
    side: str
    title: str
    recordings: int
    href: str
    here: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OddsRow:
    """An origin with its odds; ``share`` is of 100, for the bar. ``tied``: not told from its neighbours."""

    words: str
    odds: str
    share: float
    tied: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A mark that several copies share, to be chosen."""

    time: str
    words: str
    href: str
    chosen: bool
    fails: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRow:
    """A box that holds, or may hold, records with the mark."""

    box: str
    answer: str
    records: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyLine:
    """A copy of the picture as a row of a table."""

    copy: str
    closure: str
    stamper: str
    verdict: str
    verdict_words: str
    mark: str
    has: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ActRow:
    """What a station has to look at."""

    station: str
    found: str
    act: str
    failing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HearRow:
    """A copy whose sound at the mark can be heard."""

    copy: str
    words: str
    capture: str
    reference: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiesPage:
    """The copies of one side; everything below ``columns`` is about the chosen mark and empty without one."""

    head: Head
    sides: list[SideLink]
    job: str = ""
    side: str = ""
    copies: Picture | None = None
    copies_small: Picture | None = None
    columns: list[Column]
    lines: list[CopyLine]
    disc: Picture | None = None
    disc_small: Picture | None = None
    tag: Tag | None = None
    place: str = ""
    origins: list[OddsRow]
    origins_said: str = ""
    ties: list[str]
    ends: str = ""
    next: str = ""
    boxes: list[BoxRow]
    boxes_said: str = ""
    hear: list[HearRow]
    ring: str = ""
    acts: list[ActRow] = field(default_factory=list)
    cautions: list[str]


def start_page(ports: Ports) -> CopiesPage:
    """The first screen: the side whose copies need a decision first."""
    book = ports.open_book(None)
    with book.read() as connection:
        sides = _sides(recordings(connection))
    if not sides:
        return _nothing(sides)
    return max((copies_page(ports, one.job, one.side) for one in sides[-4:]), key=_urgency)


def _urgency(page: CopiesPage) -> tuple[bool, bool, int]:
    return bool(page.boxes), page.head.verdict == "fail", len(page.columns)


def sides_page(ports: Ports) -> CopiesPage:
    """Every side whose copies were played."""
    book = ports.open_book(None)
    with book.read() as connection:
        sides = _sides(recordings(connection, last=2000))
    return _nothing(sides)


def _nothing(sides: list[SideLink]) -> CopiesPage:
    said = (
        f"{count(len(sides), 'side')} of which copies were played." if sides
        else "No copy of a run was played yet. Enter a sample, record it and judge it; it will stand here."
    )  # fmt: skip
    return CopiesPage(
        head=head("Copies", said),
        sides=sides,
        columns=[],
        lines=[],
        origins=[],
        ties=[],
        boxes=[],
        hear=[],
        cautions=[],
    )


def _sides(played: Sequence[Played]) -> list[SideLink]:
    """The sides of jobs in the order of their newest recording."""
    groups: dict[tuple[str, str], int] = {}
    for one in played:
        if one.job is not None:
            many = groups.pop((one.job, one.side), 0)
            groups[(one.job, one.side)] = many + 1
    return [
        SideLink(
            job=job, side=side, title=f"Job {job}, side {side or 'not named'}", recordings=many,
            href=f"/copies/{job}/{side or '-'}",
        )
        for (job, side), many in groups.items()
    ]  # fmt: skip


def copies_page(ports: Ports, job: str, side: str, at: float | None = None) -> CopiesPage:
    """Compare the copies of a job's side; ``at`` chooses the mark nearest to a programme time."""
    book = ports.open_book(None)
    wanted = "" if side == "-" else side
    with book.read() as connection:
        all_of_job = recordings(connection, job=job)
        plays = [one for one in all_of_job if one.side == wanted]
        if not plays:
            raise UnknownNameError(
                f"job '{job[:40]}', side '{side[:10]}' has no recording; `/copies` lists those that do"
            )
        everyone = judged_of(book, connection, all_of_job)
        judged = [one for one in everyone if one.side == wanted]
        runs = sorted({one.run for one in all_of_job if one.run is not None})
        spans = [span for _, _, span in stampers_of(connection, runs)]
        ticket = asking.newest(connection, tables.Ticket, job=job)
    links = [
        SideLink(
            job=one.job, side=one.side, title=one.title, recordings=one.recordings, href=one.href,
            here=one.side == wanted,
        )
        for one in _sides(all_of_job)
    ]  # fmt: skip
    title = job if ticket is None else f"{ticket.catalogue or job}, “{ticket.title}”"
    if not judged:
        return CopiesPage(
            head=head(title, _UNREAD), sides=links, job=job,
            side=wanted, columns=[], lines=[], origins=[], ties=[], boxes=[], hear=[], cautions=[],
        )  # fmt: skip
    result = compared_side(book, judged, [one.key for one in plays])
    shown = flagged(result)
    chosen = min(shown, key=lambda row: abs(row.programme_s - at)) if at is not None and shown else None
    chosen = chosen or (shown[0] if shown else None)
    told = [one for one in advised(book, everyone, [one.key for one in all_of_job], spans) if one.side in ("", wanted)]
    return _page(
        book, ports, told=told, result=result, judged=judged, plays=plays, chosen=chosen, links=links, title=title
    )


def _page(
    book: Book, ports: Ports, *, result: Copies, judged: Sequence[Judged], plays: Sequence[Played],
    chosen: RecurrenceRow | None, links: list[SideLink], title: str, told: list[Told],
) -> CopiesPage:  # fmt: skip
    job, side = plays[0].job or "", plays[0].side
    detail = f"{title}, side {side}. {count(len(result.copies), 'copy', 'copies')} played."
    base = f"/copies/{job}/{side or '-'}"
    held = None if chosen is None else _boxes(ports, plays, chosen)
    drawn, small = (
        _picture(book, result, plays, held=held, chosen=chosen, name=name, size=size) for name, size in _SIZES
    )
    acts = [ActRow(station=sentence_case(a.station), found=a.found, act=a.act, failing=a.failing) for a in told]
    lines = [_line(row, plays, chosen) for row in result.copies]
    if chosen is None:
        return CopiesPage(
            head=head(
                "Copies", told[0].found if told else result.headline, act=told[0].act if told else result.act,
                detail=detail, verdict=result.verdict,
            ),
            sides=links, acts=acts,
            job=job, side=side, copies=drawn, copies_small=small, columns=[], lines=lines, origins=[], ties=[],
            boxes=[], hear=[],
            cautions=result.cautions,
        )  # fmt: skip
    stampers = {row.copy: row.stamper for row in result.copies}
    said = shared_words(chosen, [stampers.get(c) for c in chosen.copies], short=True)
    disc, small_disc, tag = _disc(judged, chosen, side)
    return CopiesPage(
        head=head(
            "Copies", said, act=chosen.advice if held is None else held.act, detail=detail,
            verdict="fail" if chosen.fails else result.verdict,
        ),
        sides=links, job=job, side=side, copies=drawn, copies_small=small, lines=lines, disc=disc,
        disc_small=small_disc, tag=tag,
        columns=[_column(row, base, row is chosen) for row in sorted(flagged(result), key=lambda r: r.programme_s)],
        place=_place(chosen),
        origins=_origins(chosen), origins_said=_said(chosen), ties=[tie.because for tie in chosen.cannot_tell_apart],
        ends=_ends(chosen), next="" if chosen.next is None else sentence_case(chosen.next.words) + ".",
        boxes=[] if held is None else _rows(held), boxes_said="" if held is None else held.said,
        hear=_hear(plays, chosen),
        ring=f"{base}/ring.pdf", acts=acts, cautions=result.cautions,
    )  # fmt: skip


def _picture(
    book: Book, result: Copies, plays: Sequence[Played], *, held: Recall | None, chosen: RecurrenceRow | None,
    name: str, size: tuple[float, float],
) -> Picture:  # fmt: skip
    """The run with its copies where their closures are known, else the copies alone."""
    runs = {one.run for one in plays if one.run is not None}
    if len(runs) != 1 or not any(row.closure is not None for row in result.copies):
        return picture(compared_picture(result, pen=SCREEN, wide=size[0]), name)
    run = runs.pop()
    side = plays[0].side
    with book.read() as connection:
        state = asking.run_row(connection, run)
        boxes = [] if held is None else _ladder(asking.spans_over(connection, run, ("box",)), state.job, held)
        stampers = [span for _, _, span in stampers_of(connection, [run]) if span.side == side]
    return picture(
        run_picture(
            result, pen=SCREEN, wide=size[0], high=size[1], closures=state.closures, boxes=boxes, chosen=chosen,
            stampers=[Stretch(stamper=one.stamper, first=one.first, last=one.last) for one in stampers],
        ),
        name,
    )  # fmt: skip


def _ladder(rows: Sequence[Any], job: str, held: Recall) -> list[Box]:
    """The boxes of a run by their closures; too many for the picture come as those to hold alone."""
    names = {box.box for box in held.boxes if box.answer == "surely"}
    boxes = [
        Box(name=row.ref.removeprefix(f"{job}/"), first=row.first_low, last=row.last_high or row.first_high, held=False)
        for row in rows
    ]
    boxes = [replace(box, held=box.name in names) for box in boxes]
    return sorted(boxes if len(boxes) <= MOST_BOXES else [b for b in boxes if b.held], key=lambda box: box.first)


def _place(row: RecurrenceRow) -> str:
    return f"Radius {number(row.radius_mm, row.radius_u95_mm, 'mm', decimals=1)}. 0° where the programme starts."


def _href(row: CopyRow, plays: Sequence[Played]) -> str:
    return next((f"/recordings/{one.key}" for one in reversed(plays) if f"copy {one.sample}" == row.copy), "")


def _line(row: CopyRow, plays: Sequence[Played], chosen: RecurrenceRow | None) -> CopyLine:
    has = ""
    if chosen is not None:
        has = "yes" if row.copy in chosen.copies else "no" if row.copy in chosen.without else "not heard"
    return CopyLine(
        copy=sentence_case(row.copy), closure="" if row.closure is None else str(row.closure),
        stamper=row.stamper or "", verdict=row.verdict, verdict_words=VERDICT_WORDS[row.verdict],
        mark=mark(row.verdict, 24.0), has=has, href=_href(row, plays),
    )  # fmt: skip


def _column(row: RecurrenceRow, base: str, chosen: bool) -> Column:
    return Column(
        time=clock(row.programme_s), words=f"on {copy_words(row.copies)}", chosen=chosen, fails=row.fails,
        href=f"{base}?at={row.programme_s:.3f}",
    )  # fmt: skip


def _disc(judged: Sequence[Judged], chosen: RecurrenceRow, side: str) -> tuple[Picture | None, Picture | None, Tag]:
    """The mark on the disc of the copy that shows it, and its address."""
    fault = Fault(
        kind="tick", programme_s=chosen.programme_s, angle_deg=chosen.angle_deg, angle_u95_deg=chosen.angle_u95_deg,
        radius_mm=chosen.radius_mm, weight=chosen.prominence_db, failing=chosen.fails,
    )  # fmt: skip
    one = next((j for j in judged if j.copy in chosen.copies and j.listening.ticks), None)
    drawn: list[Picture | None] = [None, None]
    rim = 150.0
    if one is not None:
        rim = faults.outline_of(one.listening.settings.format).rim
        drawn = [
            picture(disc_picture(one.listening, one.traces, pen=SCREEN, wide=wide, side=side, chosen=fault), name)
            for name, wide in DISCS
        ]
    angle = radians(chosen.angle_deg)
    share = min(chosen.radius_mm / rim, 1.0)
    tag = Tag(
        where=f"{side} {clock(chosen.programme_s)}".strip(),
        detail=f"turn {chosen.turn}, {degrees_words(chosen.angle_deg, chosen.angle_u95_deg)}",
        programme_s=chosen.programme_s, cx=round(-share * sin(angle), 4), cy=round(-share * cos(angle), 4),
        failing=chosen.fails,
    )  # fmt: skip
    return drawn[0], drawn[1], tag


def _origins(row: RecurrenceRow) -> list[OddsRow]:
    tied = {(o.origin, o.which) for tie in row.cannot_tell_apart for o in tie.origins}
    shown = [one for one in row.origins if one.probability >= 0.01][:5]
    return [
        OddsRow(
            words=sentence_case(origin_words(one.origin, one.which)), odds=odds(one.probability),
            share=round(100.0 * one.probability, 1), tied=(one.origin, one.which) in tied,
        )
        for one in shown
    ]  # fmt: skip


def _said(row: RecurrenceRow) -> str:
    rest = row.chance_probability + row.none_of_these
    return f"By chance, or none of these: {odds(rest)}." if rest >= 0.005 else ""


def _ends(row: RecurrenceRow) -> str:
    return sentence_case(since_words(row)) + "." if row.from_closure is not None else ""


def _boxes(ports: Ports, plays: Sequence[Played], row: RecurrenceRow) -> Recall | None:
    """The boxes with the closures to hold, for a mark that came on the press and fails."""
    hold = hold_of(row)
    run = next((one.run for one in plays if one.run is not None), None)
    if hold is None or run is None or not row.fails or row.origins[0].origin != "press_event":
        return None
    with ports.open_book(None).read() as connection:
        last = asking.run_row(connection, run).closures
    asked = RecallRequest(run=run, first=hold[0], last=min(hold[1] or last, last))
    found = recall(asked, ports, silent)
    return found if found.boxes or found.piles else None


def _where(box: HeldBox) -> str:
    if box.consignment:
        return f"sent, {box.consignment}"
    return f"pallet {box.pallet}" if box.pallet else "in the house"


def _records(box: HeldBox) -> str:
    share = f"{box.most}" if box.least == box.most else f"{box.least} to {box.most}"
    return f"{share} of {box.records}"


def _rows(held: Recall) -> list[BoxRow]:
    return [
        BoxRow(
            box=box.box, answer={"surely": "holds some", "maybe": "may hold some"}.get(box.answer, box.answer),
            records=_records(box),
            where=_where(box),
        )
        for box in held.boxes
    ]  # fmt: skip


def _hear(plays: Sequence[Played], row: RecurrenceRow) -> list[HearRow]:
    """Each copy once, those that have the mark first."""
    found: dict[str, HearRow] = {}
    for one in sorted(plays, key=lambda p: (f"copy {p.sample}" not in row.copies, p.closure or 0)):
        copy = f"copy {one.sample}" if one.sample else one.name
        if copy in row.untold:
            continue
        base = f"/recordings/{one.key}/sound"
        query = f"at={row.programme_s:.3f}"
        found[copy] = HearRow(
            copy=copy, words="has it" if copy in row.copies else "has it not",
            capture=f"{base}/capture.wav?{query}", reference=f"{base}/reference.wav?{query}",
        )  # fmt: skip
    return list(found.values())


def ring_of(ports: Ports, job: str, side: str, out: Path) -> None:
    """Print the finder ring of the marks that the copies of a side share; ``out`` is a new PDF."""
    book = ports.open_book(None)
    wanted = "" if side == "-" else side
    with book.read() as connection:
        plays = [one for one in recordings(connection, job=job) if one.side == wanted]
        judged = judged_of(book, connection, plays)
    if not judged:
        raise UnknownNameError(f"job '{job[:40]}', side '{side[:10]}' has no recording; `/copies` lists those that do")
    result = compared_side(book, judged, [one.key for one in plays])
    with TemporaryDirectory(prefix="runtrue-") as folder:
        found = Path(folder) / "copies.json"
        found.write_text(json.dumps(asdict(result), ensure_ascii=False), encoding="utf-8")
        ring(ListenRingRequest(result=found, out=out, side=wanted or None), ports, silent)
