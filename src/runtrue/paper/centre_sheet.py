"""The station's sheet: what was read, where the centre is, which way to move, the decision, and lines to sign."""

from dataclasses import dataclass

from runtrue.contract.centre import Consequence, Point, StamperCentre
from runtrue.paper.drawing import Drawing, Path, Shape, Text
from runtrue.paper.faces import Weight, wrapped
from runtrue.paper.layout import PRINT
from runtrue.paper.limit_bar import findings_picture
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
from runtrue.paper.runout import move_field, runout_plot
from runtrue.paper.tokens import Role
from runtrue.paper.words import fixed, number

_RIGHT = WIDTH - MARGIN
_PLOT, _FIELD, _HIGH = 116.0, 60.0, 68.0
"""Width of the plot and of the field, and their height [mm]."""
_STEP = 4.1
"""Height of a line of readings [mm]."""
_BLOCKS = 3
_SIGN = 15.0
"""Room for the lines to sign [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreWords:
    """What the workflow says of the result: what was found, what to do, and which thresholds each end reaches."""

    found: str
    todo: str
    heard: tuple[str, ...] = ()


def centre_pages(result: StamperCentre, words: CentreWords, *, day: str) -> tuple[Drawing, ...]:
    """Every page of the sheet: readings that do not fit the first follow on pages of their own."""
    name = f"Centre of {'the stamper' if result.settings.face == 'stamper' else 'the record'}, {result.input.file}"
    sheet = Sheet(
        plant=result.settings.punch or "", name=name, key=result.input.sha256, version=result.version, date=day
    )
    first, y = _front(result, words)
    bottom = BOTTOM - _SIGN - _notes_height(result)
    room = max(int((bottom - y - 9.0) // _STEP), 0) * _BLOCKS
    shown, rest = result.points[:room], result.points[room:]
    if shown:
        first += _readings(shown, y)
    first += _notes(result, bottom)
    first += _sign()
    pages = [first]
    each = int((BOTTOM - TOP - 10.0) // _STEP) * _BLOCKS
    for start in range(0, len(rest), each):
        pages.append(_readings(rest[start : start + each], TOP))
    told = f"{words.found} {words.todo}".strip()
    return tuple(page(name, told, [*frame(sheet, place, len(pages)), *items]) for place, items in enumerate(pages, 1))


def _front(result: StamperCentre, words: CentreWords) -> tuple[list[Shape], float]:
    items, y = head(
        result.verdict, words.found, y=TOP + 1.0, todo=words.todo, detail=_screws(result), below=_facts(result),
    )  # fmt: skip
    items.append(rule(y))
    y += 3.0
    plot = runout_plot(result, pen=PRINT, wide=_PLOT, high=_HIGH)
    field = move_field(result, pen=PRINT, wide=_FIELD, high=_HIGH)
    faced = "stamper" if result.settings.face == "stamper" else "playing"
    items += [
        Text(x=MARGIN, y=y + PRINT.text, text="Run-out", size=PRINT.text, weight=Weight.LABEL),
        Text(x=_RIGHT - _FIELD, y=y + PRINT.text, text=f"The {faced} face as you see it", size=PRINT.text,
             weight=Weight.LABEL),
        plot.placed(MARGIN, y + 5.0),
        field.placed(_RIGHT - _FIELD, y + 5.0),
    ]  # fmt: skip
    y += _HIGH + 7.0
    if result.findings:
        bars = findings_picture(result.findings, pen=PRINT, wide=INNER)
        items += [rule(y), bars.placed(MARGIN, y + 2.5)]
        y += bars.height + 5.0
    if result.consequence:
        made, y = _consequence(result.consequence, words.heard, y)
        items += made
    return items, y


def _screws(result: StamperCentre) -> str:
    move = result.move
    if move is None or result.settings.face != "stamper" or result.settings.held != "placed":
        return ""
    aim = f" The punch: {result.axis.aim} ({result.axis.source})." if result.axis.aim else ""
    return f"{move.screws[:1].upper()}{move.screws[1:]}.{aim}"


def _facts(result: StamperCentre) -> str:
    """Everything in one line of the second voice; each with its doubt."""
    parts = [f"{result.input.readings} readings"]
    if result.scatter_um is not None:
        parts.append(f"one scatters by {fixed(result.scatter_um, 1)} μm")
    if result.settings.groove == "spiral" and result.pitch_um is not None:
        parts.append(f"pitch {number(result.pitch_um, result.pitch_u95_um, 'μm', decimals=0)}")
    for part in result.harmonics or ():
        name = {2: "oval", 3: "three-cornered"}[part.order]
        parts.append(f"{name} {number(part.amplitude_um, part.u95_um, 'μm', decimals=0)}")
    crossed = ", × left out" if result.outliers else ""
    return f"{', '.join(parts)}{crossed}. ± is 95\u00a0%."


def _consequence(ends: list[Consequence], heard: tuple[str, ...], y: float) -> tuple[list[Shape], float]:
    columns = (
        Column(heading="Pitch at", x=MARGIN),
        Column(heading="radius", x=MARGIN + 34.0, right=True),
        Column(heading="peak", x=MARGIN + 66.0, right=True),
        Column(heading="peak to peak", x=MARGIN + 90.0, right=True),
        Column(heading="by published thresholds", x=MARGIN + 96.0),
    )
    rows: list[tuple[str, ...]] = [
        (
            f"the {end.end} end",
            f"{end.radius_mm:.1f} mm",
            str(number(end.swing_peak_percent, end.swing_u95_percent, "%", decimals=3)),
            f"{fixed(end.swing_cents, 1)} cents",
            said,
        )
        for end, said in zip(ends, heard, strict=True)
    ]
    shapes, end = table(columns, rows, y=y, left=MARGIN, end=_RIGHT, step=_STEP)
    return shapes, end + 3.0


def _readings(points: list[Point], y: float) -> list[Shape]:
    """Readings in blocks side by side, in their order down each block."""
    wide = (INNER - 8.0 * (_BLOCKS - 1)) / _BLOCKS
    each = -(-len(points) // _BLOCKS)
    shapes: list[Shape] = []
    for block in range(_BLOCKS):
        rows = points[block * each : (block + 1) * each]
        if not rows:
            continue
        left = MARGIN + block * (wide + 8.0)
        columns = (
            Column(heading="No.", x=left + 6.0, right=True),
            Column(heading="angle", x=left + 19.0, right=True),
            Column(heading="turn", x=left + 28.0, right=True),
            Column(heading="read, μm", x=left + 43.0, right=True),
            Column(heading="off", x=left + wide, right=True),
        )
        cells: list[tuple[str, ...]] = [
            (
                str(point.row), f"{point.angle_deg:g}°", str(point.turn), fixed(point.reading_um, 1),
                f"{'× ' if point.left_out else ''}{fixed(point.off_um, 1)}",
            )
            for point in rows
        ]  # fmt: skip
        made, _ = table(columns, cells, y=y, left=left, end=left + wide, step=_STEP)
        shapes += made
    return shapes


def _told(result: StamperCentre) -> list[tuple[str, str]]:
    """Cautions and safety, each with its bold first words."""
    found = [("Caution:", text) for text in result.cautions]
    for text in result.safety:
        first, _, rest = text.partition(": ")
        found.append((f"{first}:", rest) if rest else ("", first))
    return found


def _notes_height(result: StamperCentre) -> float:
    lead = 1.35 * PRINT.label
    lines = sum(len(wrapped(f"{bold} {text}", size=1.02 * PRINT.label, room=INNER)) for bold, text in _told(result))
    return 4.0 + lead * lines + 0.4 * len(_told(result))


def _notes(result: StamperCentre, y: float) -> list[Shape]:
    shapes: list[Shape] = [rule(y + 1.0)]
    y += 3.0
    for bold, text in _told(result):
        made, y = paragraph(text, strong=bold, x=MARGIN, y=y, room=INNER, bottom=BOTTOM - _SIGN + 4.0)
        shapes += made
        y += 0.4
    return shapes


def _sign() -> list[Shape]:
    y, wide = BOTTOM - 4.5, (INNER - 12.0) / 4.0
    shapes: list[Shape] = []
    for place, text in enumerate(("Stamper", "Read by, date, time", "Moved and read again by", "Punched by")):
        x = MARGIN + place * (wide + 4.0)
        shapes += [
            Path(points=((x, y), (x + wide, y)), stroke=PRINT.line(width=0.4)),
            Text(x=x, y=y + 3.8, text=text, size=PRINT.label, role=Role.INK_2),
        ]
    return shapes
