"""Reports on paper: the dossier over several judged copies, and the report of one recording."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from runtrue.contract.listening import Listening, Traces
from runtrue.paper import faults
from runtrue.paper.copies import Entry, Shared, copies_picture, name_of, ordered
from runtrue.paper.drawing import Drawing, Shape, Text
from runtrue.paper.faces import Weight, shortened
from runtrue.paper.layout import PRINT
from runtrue.paper.marks import verdict_mark
from runtrue.paper.page import (
    BOTTOM,
    INNER,
    MARGIN,
    TOP,
    WIDTH,
    Column,
    Sheet,
    frame,
    head,
    page,
    paragraph,
    rule,
    table,
)
from runtrue.paper.pdf import write_pages
from runtrue.paper.recording import recording_page
from runtrue.paper.tokens import Role, Theme
from runtrue.paper.words import NO_BREAK, VERDICT_WORDS, details, fixed, headline, number, sentence_case, why, worst

ROW = 4.9
"""Height of a row in the table of copies [mm]."""
VERDICT_X, VERDICT_ROOM = 76.5, 44.0
"""Where the verdict stands in the table, and the room it has [mm]."""
MOST_ROWS = 18
"""A longer table leaves the first page to the picture and follows on pages of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One finding over the copies: which station, what was found, what to do; in the workflow's words."""

    station: str
    found: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DossierInput:
    """Everything the dossier prints. ``headline``, ``advice`` and ``reasons`` come from the workflow; without them the
    first page says only what was found."""

    plant: str
    title: str
    sheet_name: str
    date: str
    version: str
    entries: tuple[Entry, ...]
    headline: str = ""
    advice: str = ""
    detail: str = ""
    shared: tuple[Shared, ...] = ()
    reasons: tuple[Reason, ...] = ()


def _played(entries: tuple[Entry, ...]) -> list[tuple[Entry, Listening]]:
    return [(entry, entry.listening) for entry in ordered(entries) if entry.listening is not None]


def _key(entries: tuple[Entry, ...]) -> str:
    """One key over the results that the dossier prints, in the order it prints them."""
    told = "\n".join(f"{one.input.sha256} {one.settings.digest}" for _, one in _played(entries))
    return hashlib.sha256(told.encode()).hexdigest()


def _by_copy(dossier: DossierInput) -> dict[str, list[Listening]]:
    copies: dict[str, list[Listening]] = {}
    for entry in dossier.entries:
        copies.setdefault(entry.copy, [])
        if entry.listening is not None:
            copies[entry.copy].append(entry.listening)
    return copies


def _headline(dossier: DossierInput) -> str:
    return dossier.headline or headline(_by_copy(dossier))


def _cells(entry: Entry, page_number: int) -> tuple[str, ...]:
    listening = entry.listening
    name = shortened(name_of(entry), size=PRINT.label, room=34.0)
    closure = "" if entry.closure is None else fixed(entry.closure, 0)
    if listening is None:
        return (name, closure, entry.stamper, entry.side, "", "not played", "", "", "", "")
    main, _ = faults.centres(listening)
    offset = "not judged" if main is None else str(number(main.offset_um, main.offset_u95_um, "", decimals=0))
    noise_row = faults.finding(listening, "surface")
    noise = "not judged"
    if noise_row is not None and noise_row.value is not None:
        noise = str(number(noise_row.value, noise_row.u95, "", decimals=1))
    elif listening.noise.surface_db_a is not None:
        noise = fixed(listening.noise.surface_db_a, 1)
    ticks = "" if listening.ticks is None else fixed(len(listening.ticks), 0)
    verdict = shortened(f"{VERDICT_WORDS[listening.verdict]}{_why(listening)}", size=PRINT.label, room=VERDICT_ROOM)
    return (
        name, closure, entry.stamper, entry.side, "", verdict, offset, ticks, noise,
        fixed(page_number, 0),
    )  # fmt: skip


def _why(listening: Listening) -> str:
    reason = why(listening)
    return f": {reason}" if reason else ""


def _table(rows: list[Entry], numbers: list[int], *, y: float) -> tuple[list[Shape], float]:
    """The table of copies with a mark before each verdict's word."""
    right = WIDTH - MARGIN
    columns = (
        Column(heading="Copy", x=MARGIN),
        Column(heading="Closure", x=MARGIN + 46.0, right=True),
        Column(heading="Stamper", x=MARGIN + 49.0),
        Column(heading="Side", x=MARGIN + 65.0),
        Column(heading="", x=MARGIN + 73.0),
        Column(heading="Verdict", x=MARGIN + VERDICT_X),
        Column(heading="Off-centre, μm", x=MARGIN + 137.0, right=True),
        Column(heading="Ticks", x=MARGIN + 147.0, right=True),
        Column(heading="Noise (A), dB", x=MARGIN + 171.5, right=True),
        Column(heading="Page", x=right, right=True),
    )
    cells = [_cells(entry, page_number) for entry, page_number in zip(rows, numbers, strict=True)]
    shapes, end = table(columns, cells, y=y, left=MARGIN, end=right, step=ROW)
    first = end - ROW * len(rows)
    size = 3.3
    for place, entry in enumerate(rows):
        if entry.listening is not None:
            shapes += verdict_mark(
                entry.listening.verdict, x=MARGIN + 72.3, y=first + (place + 0.5) * ROW - size / 2, size=size, pen=PRINT
            )
    return shapes, end


def _summary(dossier: DossierInput) -> str:
    played = _played(dossier.entries)
    copies = len({entry.copy for entry, _ in played})
    sides = len({entry.side for entry, _ in played})
    limits = list(dict.fromkeys(one.settings.limits for _, one in played))
    parts = [dossier.title, f"{copies} copies, {len(played)} recordings, {sides} {'side' if sides == 1 else 'sides'}"]
    parts += [f"limits: {', '.join(limits)}"] if limits else []
    return ". ".join(part[:1].upper() + part[1:] for part in parts if part) + "."


def _opening(dossier: DossierInput) -> tuple[list[Shape], float]:
    """The sentence with its mark, and the next free height. Which copies fail and on what is told once."""
    verdicts = [one.verdict for _, one in _played(dossier.entries)]
    return head(
        worst(verdicts) if verdicts else None,
        _headline(dossier),
        y=TOP + 1.0,
        todo=dossier.advice,
        detail=dossier.detail or ("" if dossier.reasons else details(_by_copy(dossier))),
        below=_summary(dossier),
    )


def _table_height(how_many: int) -> float:
    return 8.5 + ROW * how_many if how_many else 0.0


def _fits(dossier: DossierInput, rows: list[Entry]) -> int:
    """How many rows of the table the first page takes: all, or none where the picture would have to leave copies out
    or crowd them."""
    if len(rows) > MOST_ROWS:
        return 0
    _, y = _opening(dossier)
    picture = copies_picture(dossier.entries, pen=PRINT, wide=INNER, shared=dossier.shared)
    least = picture.height - 0.6 * PRINT.label * len(rows)
    beside = _reasons(dossier, y=0.0)[1] + _table_height(len(rows)) + 18.2
    return len(rows) if y + least + beside <= BOTTOM else 0


def _front(dossier: DossierInput, sheet: Sheet, numbers: list[int], pages: int, fits: int) -> Drawing:
    rows = ordered(dossier.entries)
    items: list[Shape] = [*frame(sheet, 1, pages)]
    top, y = _opening(dossier)
    items += [*top, rule(y)]
    shown = rows[:fits]
    below = _table_height(len(shown)) + _reasons(dossier, y=0.0)[1]
    y += 2.2
    picture = copies_picture(
        dossier.entries, pen=PRINT, wide=INNER, high=max(BOTTOM - y - below - 16.0, 40.0), shared=dossier.shared
    )
    items += [
        Text(x=MARGIN, y=y + PRINT.text, text="Copies in closure order", size=PRINT.text, weight=Weight.LABEL),
        picture.placed(MARGIN, y + 6.0),
    ]
    y += picture.height + 7.0
    note, y = paragraph(_legend(dossier), x=MARGIN, y=y, room=INNER, bottom=BOTTOM)
    items += [*note]
    reasons, end = _reasons(dossier, y=y + 1.5)
    if reasons:
        items += [rule(y + 1.5), *reasons]
        y = end
    if shown:
        items.append(rule(y + 1.5))
        items += _table(shown, numbers[:fits], y=y + 3.5)[0]
    told = f"{_headline(dossier)} {dossier.advice} {picture.description}".replace(NO_BREAK, " ")
    return page(dossier.sheet_name, told, items)


def _reasons(dossier: DossierInput, *, y: float) -> tuple[list[Shape], float]:
    """What was found and what to do, one paragraph for each finding, and the next free height."""
    if not dossier.reasons:
        return [], y
    items: list[Shape] = []
    y += 1.8
    for one in dossier.reasons:
        lines, y = paragraph(
            f"{one.found} {one.act}", x=MARGIN, y=y, room=INNER, bottom=BOTTOM, strong=f"{sentence_case(one.station)}:",
            role=Role.INK,
        )  # fmt: skip
        items += lines
        y += 0.2 * PRINT.label
    return items, y


def _legend(dossier: DossierInput) -> str:
    parts = ["Uprights: ticks, height by how far they stand over the noise, thick when out of limit."]
    played = [one for _, one in _played(dossier.entries)]
    if any(one.jumps for one in played):
        parts.append("Arrows: jumps.")
    if any(one.bursts for one in played):
        parts.append("Hatched boxes: noise zones.")
    if dossier.shared:
        parts.append("Flag and rings: one fault on several copies.")
    references = {one.level_reference for one in played if one.level_reference is not None}
    if len(references) == 1:
        parts.append(f"Noise: dB re {references.pop()}.")
    parts.append(
        "Bars at the right: off-centre with ± (95\u00a0%), hatched beyond the limit. Dotted row: nothing to show."
    )
    return " ".join(parts)


def _rest(rows: list[Entry], numbers: list[int], sheet: Sheet, number_of: int, pages: int) -> Drawing:
    items: list[Shape] = [*frame(sheet, number_of, pages)]
    items.append(Text(x=MARGIN, y=TOP + 4.0, text="Copies", size=PRINT.finding, weight=Weight.LABEL))
    shapes, _ = _table(rows, numbers, y=TOP + 8.0)
    return page("Copies", f"{len(rows)} recordings.", [*items, *shapes])


def dossier_pages(dossier: DossierInput) -> tuple[Drawing, ...]:
    """Return the pages: the first with sentence, picture and table, then the rest of a long table, then recordings."""
    rows = ordered(dossier.entries)
    fits = _fits(dossier, rows)
    room = int((BOTTOM - TOP - 16.0) // ROW)
    left = len(rows) - fits
    extra = -(-left // room) if left else 0
    numbers: list[int] = []
    following = 2 + extra
    for entry in rows:
        numbers.append(following)
        following += entry.listening is not None
    pages = 1 + extra + sum(entry.listening is not None for entry in rows)
    sheet = Sheet(
        plant=dossier.plant, name=dossier.sheet_name, key=_key(dossier.entries), version=dossier.version,
        date=dossier.date,
    )  # fmt: skip
    made = [_front(dossier, sheet, numbers, pages, fits)]
    for part in range(extra):
        cut = slice(fits + part * room, fits + (part + 1) * room)
        made.append(_rest(rows[cut], numbers[cut], sheet, 2 + part, pages))
    for entry, _ in _played(dossier.entries):
        made.append(recording_page(entry, sheet, title=dossier.title, number_of=len(made) + 1, pages=pages))
    return tuple(made)


def write_dossier(path: Path, dossier: DossierInput) -> None:
    """Write the dossier as PDF. The same input gives the same bytes."""
    write_pages(
        path, dossier_pages(dossier), title=f"{dossier.sheet_name}: {_headline(dossier)}", author=dossier.plant,
        theme=Theme.PRINT,
    )  # fmt: skip


def write_report(
    path: Path,
    listening: Listening,
    traces: Traces,
    *,
    copy: str = "",
    side: str = "",
    advice: str = "",
    plant: str = "",
    title: str = "",
    date: str = "",
    closure: int | None = None,
    stamper: str = "",
) -> None:
    """Write the one-page report of one recording as PDF.

    ``copy`` is its name in the sentence ("copy 5"); without one the file's name stands there.
    """  # fmt: skip
    entry = Entry(
        copy=copy or Path(listening.input.file).name, side=side, closure=closure, stamper=stamper, listening=listening,
        traces=traces, advice=advice,
    )  # fmt: skip
    sheet = Sheet(plant=plant, name="Listening test", key=_key((entry,)), version=listening.version, date=date)
    only = recording_page(entry, sheet, title=title, number_of=1, pages=1)
    write_pages(path, (only,), title=only.title, author=plant)
