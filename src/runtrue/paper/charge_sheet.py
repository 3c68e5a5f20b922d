"""The charge sheet: what to weigh in which order, boxes to write and sign in, a bar code for each line."""

from runtrue.contract.charge import ChargeLine, ChargeSheet
from runtrue.paper.barcode import code128
from runtrue.paper.drawing import Drawing, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened, wrapped
from runtrue.paper.layout import PRINT
from runtrue.paper.page import BOTTOM, INNER, MARGIN, TOP, WIDTH, Sheet, frame, head, page, paragraph, rule
from runtrue.paper.tokens import Role
from runtrue.paper.words import count, fixed

ROW = 13.2
"""Height of a line [mm]: a code of 7 mm with its text, a box for a hand."""
_RIGHT = WIDTH - MARGIN
_NAME, _MASS, _BOX, _BY, _CHECK, _CODE = 22.0, 96.0, 99.0, 124.0, 138.0, 152.0
_LOT = 3.9
"""Height of each further lot [mm]."""
_SIGN = 22.0
"""Room for the lines to sign [mm]."""


def decimals(division: float | None) -> int:
    """Places that a scale of this division [kg] shows; three where none is known.

    Examples
    --------
    >>> decimals(0.0005), decimals(0.02), decimals(None)
    (4, 2, 3)
    """
    if division is None:
        return 3
    places = 0
    while places < 6 and abs(round(division * 10**places) - division * 10**places) > 1e-9:
        places += 1
    return places


def charge_pages(result: ChargeSheet, *, day: str) -> tuple[Drawing, ...]:
    """Every page of the sheet."""
    sheet = Sheet(
        plant=result.formula.owner, name=f"Charge {result.code}", key=result.input.sha256, version=result.version,
        date=day,
    )  # fmt: skip
    opening, y = _opening(result)
    safe = _safety_height(result)
    pages: list[list[Shape]] = [opening]
    last_step: int | None = None
    y = _columns(pages[-1], y)
    for line in result.lines:
        new_step = line.order != last_step
        need = _height(line) + (6.0 if new_step else 0.0)
        if y + need > BOTTOM:
            pages.append([])
            y = _columns(pages[-1], TOP)
        if new_step:
            y = _step(pages[-1], line, y)
            last_step = line.order
        y = _line(pages[-1], line, y)
    if y + safe + _SIGN > BOTTOM:
        pages.append([])
        y = TOP
    y = _safety(pages[-1], result, y + 4.0)
    if len(pages) > 1:
        told = f"Read the cautions on page {len(pages)} first."
        pages[0].append(Text(x=_RIGHT, y=TOP + 4.0, text=told, size=PRINT.text, weight=Weight.VALUE, anchor="end"))
    _sign(pages[-1])
    said = f"{result.formula.name}, {result.batch_kg:g} kg, {count(len(result.lines), 'line')}"
    return tuple(
        page(f"Charge {result.code}", said, [*frame(sheet, number, len(pages)), *items])
        for number, items in enumerate(pages, 1)
    )


def _opening(result: ChargeSheet) -> tuple[list[Shape], float]:
    basis = {"dry": "dry", "as_charged": "as charged", "solids": "of solids"}[result.formula.basis]
    said = f"Weigh {fixed(result.mass_kg, 2)} kg of {result.formula.name}"
    todo = "in this order." if result.ready else "The lots do not reach: do not start."
    facts = [f"{fixed(result.batch_kg, 2)} kg {basis}", f"water carried in {fixed(result.water_kg, 2)} kg"]
    if result.mixer is not None:
        facts.append(f"fills {fixed(result.mixer.fill_percent, 0)} % of {result.mixer.volume_l:g} l")
    if result.biscuits is not None:
        facts.append(f"{result.biscuits.count} biscuits of {fixed(result.biscuits.biscuit_g, 0)} g")
    below = " ".join(c for c in result.cautions if "not taken from one lot" in c or "lots lack" in c)
    return head(None, said, todo=todo, detail=", ".join(facts) + ".", below=below, y=TOP)


def _columns(items: list[Shape], y: float) -> float:
    base = y + 0.8 * PRINT.label
    for x, text, anchor in (
        (_NAME, "Ingredient, lot", "start"), (_MASS, "Set, kg", "end"), (_BOX, "Weighed, kg", "start"),
        (_BY, "By", "start"), (_CHECK, "Checked", "start"), (_CODE + 2.0, "Scan", "start"),
    ):  # fmt: skip
        items.append(Text(x=x, y=base, text=text, size=PRINT.label, role=Role.INK_2, anchor=anchor))  # type: ignore[arg-type]
    items.append(rule(base + 1.2))
    return base + 1.6


def _step(items: list[Shape], line: ChargeLine, y: float) -> float:
    text = f"Step {line.order}" if line.order else "In any order"
    if line.add_at_degc is not None:
        text += f", when the mix has reached {line.add_at_degc:g} °C by the formula"
    items.append(Text(x=MARGIN, y=y + 4.2, text=text, size=PRINT.label, weight=Weight.LABEL))
    return y + 6.0


def _height(line: ChargeLine) -> float:
    return ROW + _LOT * max(len(line.draws) - 1, 0)


def _line(items: list[Shape], line: ChargeLine, y: float) -> float:
    size, middle, high = PRINT.text, y + 5.4, _height(line)
    places = decimals(line.division_kg)
    lots = [
        f"{fixed(d.mass_kg, places)} kg of lot {d.lot}" if len(line.draws) > 1 else f"lot {d.lot}" for d in line.draws
    ] or ["lot: write it in"]
    doubt = ""
    if line.tolerance_kg is not None and line.division_kg is not None:
        doubt = f"± {fixed(line.tolerance_kg, places)}, step {line.division_kg:g}"
    room = _MASS - 19.0 - _NAME
    items += [
        Text(x=MARGIN, y=middle, text=str(line.line), size=size, weight=Weight.VALUE),
        Text(x=_NAME, y=middle, size=size, weight=Weight.LABEL,
             text=shortened(line.ingredient, size=size, weight=Weight.LABEL, room=room)),
        *(
            Text(x=_NAME, y=middle + 4.3 + _LOT * place, size=PRINT.label, role=Role.INK_2,
                 text=shortened(lot, size=PRINT.label, room=room))
            for place, lot in enumerate(lots)
        ),
        Text(x=_MASS, y=middle, text=fixed(line.mass_kg, places), size=1.25 * size, weight=Weight.VALUE, anchor="end"),
        Text(x=_MASS, y=middle + 4.3, text=doubt, size=PRINT.label, role=Role.INK_2, anchor="end"),
        *(
            Rect(x=x, y=y + 1.6, width=wide, height=high - 3.4, stroke=PRINT.line())
            for x, wide in ((_BOX, 22.0), (_BY, 11.0), (_CHECK, 11.0))
        ),
        *code128(line.code, x=_CODE, y=y + 1.4, wide=_RIGHT - _CODE, high=7.0, size=0.86 * PRINT.label),
        Path(points=((MARGIN, y + high), (_RIGHT, y + high)), stroke=PRINT.line(Role.HAIR, width=0.25)),
    ]  # fmt: skip
    return y + high


def _safety_height(result: ChargeSheet) -> float:
    lead = 1.35 * PRINT.label
    lines = sum(len(wrapped(text, size=PRINT.label, room=INNER - 4.0)) for text in result.safety)
    return 10.0 + lead * lines + 0.8 * len(result.safety)


def _safety(items: list[Shape], result: ChargeSheet, y: float) -> float:
    items.append(Text(x=MARGIN, y=y + 3.4, text="Safety", size=PRINT.finding, weight=Weight.LABEL))
    y += 6.0
    for text in result.safety:
        first, _, rest = text.partition(": ")
        made, y = paragraph(
            rest, strong=f"{first}:" if rest else "", x=MARGIN, y=y, room=INNER, bottom=BOTTOM - _SIGN + 6.0
        ) if rest else paragraph(first, x=MARGIN, y=y, room=INNER, bottom=BOTTOM - _SIGN + 6.0)  # fmt: skip
        items += made
        y += 0.8
    return y


def _sign(items: list[Shape]) -> None:
    y, wide = BOTTOM - 6.0, (INNER - 12.0) / 4.0
    for place, text in enumerate(("Weighed by", "Date, time", "Checked by", "Charged into mixer, time")):
        x = MARGIN + place * (wide + 4.0)
        items += [
            Path(points=((x, y), (x + wide, y)), stroke=PRINT.line(width=0.4)),
            Text(x=x, y=y + 4.0, text=text, size=PRINT.label, role=Role.INK_2),
        ]
