"""One judged recording on one page: sentence, disc and limits, the side as a strip, ticks, and what was not judged."""

from dataclasses import fields, is_dataclass
from pathlib import PurePath

from runtrue.contract.listening import Listening, Tick, Traces
from runtrue.disc.formats import disc_format
from runtrue.paper import faults
from runtrue.paper.copies import Entry
from runtrue.paper.disc import disc_picture
from runtrue.paper.drawing import Drawing, Shape, Text
from runtrue.paper.faces import Weight
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
from runtrue.paper.strip import strip_picture
from runtrue.paper.tokens import Role
from runtrue.paper.words import (
    BURST_WORDS,
    CHANNEL_WORDS,
    NO_BREAK,
    clock,
    copy_title,
    count,
    fixed,
    number,
    sentence,
    sentence_case,
)

DISC_WIDE = 72.0
GAP = 8.0
SPEED_NAMES = {"33": "33⅓", "45": "45", "78": "78"}


def format_words(name: str) -> str:
    """ "12 in, 33⅓"."""
    inches, speed = name.split("in-")
    return f"{disc_format(name).inches} in, {SPEED_NAMES.get(speed, speed)}" if inches else name


def _below(entry: Entry, listening: Listening, title: str) -> str:
    parts = [title, f"side {entry.side}" if entry.side else "", format_words(listening.settings.format)]
    parts += [f"stamper {entry.stamper}" if entry.stamper else ""]
    parts += [f"closure {entry.closure}" if entry.closure is not None else ""]
    parts += [entry.note]
    heard = listening.programme.reach_s
    parts += [f"judged from {clock(heard[0], tenths=False)} to {clock(heard[1], tenths=False)}" if heard else ""]
    channels = listening.programme.channels
    parts += [f"channels {channels.replace('_', ' ')}" if channels not in (None, "straight") else ""]
    parts += ["polarity inverted" if listening.programme.polarity == -1 else ""]
    return sentence_case(", ".join(part for part in parts if part)) + "."


def tick_rows(ticks: list[Tick], room: int) -> list[Tick]:
    """Return the loudest ticks that fit, in the order of the side."""
    loudest = sorted(ticks, key=lambda tick: -tick.prominence_db)[:room]
    return sorted(loudest, key=lambda tick: tick.programme_s)


def _tick_cells(tick: Tick) -> tuple[str, ...]:
    angle = number(tick.angle_deg, tick.angle_u95_deg, "", decimals=0)
    radius = number(tick.radius_mm, tick.radius_u95_mm, "", decimals=1)
    train = f", train {tick.train}" if tick.train is not None else ""
    return (
        clock(tick.programme_s), fixed(tick.turn, 0), str(angle), str(radius), fixed(tick.prominence_db, 1),
        f"{CHANNEL_WORDS[tick.channel]}{train}",
    )  # fmt: skip


def _faults(listening: Listening, *, y: float, wide: float, bottom: float) -> list[Shape]:
    """The ticks' addresses, the loudest when not all fit; above them the jumps and zones in words."""
    shapes: list[Shape] = []
    for name, told in (("Jumps", _jumps_words(listening)), ("Noise zones", _zones_words(listening))):
        if told:
            lines, y = paragraph(told, x=MARGIN, y=y, room=wide, bottom=bottom - 22.0, strong=name, role=Role.INK)
            shapes += lines
            y += 0.4 * PRINT.label
    y += 0.6 * PRINT.label if shapes else 0.0
    shapes.append(Text(x=MARGIN, y=y + 0.8 * PRINT.text, text="Ticks", size=PRINT.text, weight=Weight.LABEL))
    found = listening.ticks
    y += 1.6 * PRINT.text
    if not found:
        said = "Not judged." if found is None else f"None found{_reach(listening)}."
        return [*shapes, *paragraph(said, x=MARGIN, y=y, room=wide, bottom=bottom)[0]]
    step = 4.6
    fit = max(1, int((bottom - y - 12.0) // step))
    rows = tick_rows(found, fit)
    columns = (
        Column(heading="Time", x=MARGIN + 12.0, right=True),
        Column(heading="Turn", x=MARGIN + 22.0, right=True),
        Column(heading="Angle, °", x=MARGIN + 44.0, right=True),
        Column(heading="Radius, mm", x=MARGIN + 68.0, right=True),
        Column(heading="dB", x=MARGIN + 79.0, right=True),
        Column(heading="Channel", x=MARGIN + 83.0),
    )
    grid, y = table(columns, [_tick_cells(tick) for tick in rows], y=y, left=MARGIN, end=MARGIN + wide, step=step)
    more = (
        f"The {len(rows)} loudest of {len(found)}; the others stand in the result. " if len(rows) < len(found) else ""
    )
    told = f"{more}dB over the local noise; the result states no ± for it."
    return [*shapes, *grid, *paragraph(told, x=MARGIN, y=y + 1.0, room=wide, bottom=bottom)[0]]


def _jumps_words(listening: Listening) -> str:
    """ "1:01.0 forward one turn; 2:00.4 back one turn."."""
    told = [
        f"{clock(jump.programme_s)} {'forward' if jump.turns > 0 else 'back'} {_turns(abs(jump.turns))}"
        for jump in listening.jumps or []
    ]
    each = [text if told.count(text) == 1 else f"{text}, {told.count(text)} times" for text in dict.fromkeys(told)]
    return "; ".join(each) + "." if each else ""


def _turns(how_many: int) -> str:
    return "one turn" if how_many == 1 else f"{how_many} turns"


def _zones_words(listening: Listening) -> str:
    """ "1:04 to 1:32, 320° to 25°, right, like a non-fill, 9.4 dB over noise."."""
    told = [
        f"{faults.zone_words(zone)}, {fixed(zone.from_deg, 0)}° to {fixed(zone.to_deg, 0)}°, "
        f"{CHANNEL_WORDS[zone.channel]}, {BURST_WORDS[zone.kind]}, "
        f"{fixed(zone.prominence_db, 1)}{NO_BREAK}dB over noise"
        for zone in listening.bursts or []
    ]
    return "; ".join(told) + "." if told else ""


def _reach(listening: Listening) -> str:
    reach = listening.programme.reach_s
    return f" from {clock(reach[0], tenths=False)} to {clock(reach[1], tenths=False)}" if reach else ""


_NAMES = {
    "noise.surface_db_a": "surface noise (A)",
    "noise.surface_db_468": "surface noise (468)",
    "response.third_octaves": "response",
    "ticks.audible_probability": "whether a tick is heard",
    "off_centre": "off-centre",
    "off_centre.player_swing_percent": "the player's own swing",
    "bursts": "noise zones",
}
_VERSION = "this version"
MOST_NAMES = 6
"""More names than these with one reason are told in one breath: the reason took the whole comparison away."""


def not_judged_words(listening: Listening) -> list[tuple[str, str]]:
    """Return (keys, reason), one for each reason, so that one cause is told once.

    Where several keys of one part share a reason, the part's name stands for them, and where most do, one name for
    all. A finding is not named: it stands under "What was judged". What the version cannot do yet comes last.
    """
    reasons: dict[str, list[str]] = {}
    for missing in listening.not_judged:
        if not missing.key.startswith("findings."):
            reasons.setdefault(_VERSION if _VERSION in missing.reason else missing.reason, []).append(missing.key)
    named = {reason: _keys_words(listening, keys) for reason, keys in reasons.items() if reason != _VERSION}
    told = [
        (", ".join(names) if len(names) <= MOST_NAMES else "All that is laid over the reference", reason)
        for reason, names in named.items()
    ]
    if _VERSION in reasons:
        told.append(("This version does not judge", ", ".join(_keys_words(listening, reasons[_VERSION]))))
    return told


def _keys_words(listening: Listening, keys: list[str]) -> list[str]:
    """Keys as words; a part all of whose keys are missing is named once."""
    told: list[str] = []
    for key in keys:
        part = key.split(".")[0]
        whole = getattr(listening, part, None)
        size = len(fields(whole)) if is_dataclass(whole) else 0
        missing = sum(other.split(".")[0] == part for other in keys)
        told.append(_key_words(part if size and missing == size else key))
    return list(dict.fromkeys(told))


def _key_words(key: str) -> str:
    """A dotted key as words: "noise.rumble_db" is "rumble"."""
    if key in _NAMES:
        return _NAMES[key]
    name = key.rsplit(".", 1)[-1]
    for ending in ("_db_a", "_db_468", "_db", "_percent", "_um", "_hz", "_s", "_mm"):
        name = name.removesuffix(ending)
    return name.replace("_", " ")


def _notes(listening: Listening, *, x: float, y: float, room: float, bottom: float) -> list[Shape]:
    """Cautions first, then what was not judged and why."""
    size = PRINT.label
    shapes: list[Shape] = []
    sections: list[tuple[str, list[tuple[str, str]]]] = []
    if listening.cautions:
        sections.append(("Cautions", [("", sentence_case(text)) for text in listening.cautions]))
    if listening.not_judged:
        told = [(sentence_case(keys) + ":", reason) for keys, reason in not_judged_words(listening)]
        sections.append(("Not judged", told))
    for name, lines in sections:
        if y + 3.0 * size > bottom:
            break
        shapes.append(Text(x=x, y=y + 0.8 * PRINT.text, text=name, size=PRINT.text, weight=Weight.LABEL))
        y += 1.45 * PRINT.text
        for place, (strong, text) in enumerate(lines):
            left = len(lines) - place
            if y + 2.4 * size > bottom and left > 1:
                note, y = paragraph(f"and {left} more in the result", x=x, y=y, room=room, bottom=bottom)
                shapes += note
                break
            told_lines, y = paragraph(_stopped(text), x=x, y=y, room=room, bottom=bottom, strong=strong)
            shapes += told_lines
            y += 0.25 * size
        y += 0.6 * size
    return shapes


def _foot(listening: Listening) -> tuple[list[Shape], float]:
    """The settings over the foot of the page, where nothing cuts them, and the height that is left free above."""
    told = _stopped(_settings(listening))

    def placed(y: float) -> tuple[list[Shape], float]:
        return paragraph(told, x=MARGIN, y=y, room=INNER, bottom=BOTTOM, strong="Settings:")

    y = BOTTOM - placed(0.0)[1] + 0.5 * PRINT.label
    return placed(y)[0], y - 0.8 * PRINT.label


def _stopped(text: str) -> str:
    return text if text.endswith((".", "…", "!", "?")) else f"{text}."


def _settings(listening: Listening) -> str:
    set_to = listening.settings
    end = ""
    if set_to.end_radius_mm is not None:
        end = f" to {number(set_to.end_radius_mm, set_to.end_radius_u95_mm, 'mm', decimals=1)}"
    start = number(set_to.start_radius_mm, set_to.start_radius_u95_mm, "mm" if not end else "", decimals=1)
    speed = listening.speed
    told = [
        f"Limits: {set_to.limits}",
        f"radius {start}{end}",
        f"arm {set_to.arm}",
        f"player's own swing within {bound_percent(set_to.player_swing_percent)}",
        f"file {PurePath(listening.input.file).name}, {fixed(listening.input.rate_hz / 1000.0, 1)} kHz",
    ]
    if speed.deviation_percent is not None:
        told.append(f"speed {number(speed.deviation_percent, speed.u95_percent, '%', decimals=3)}")
    return "; ".join(told)


def bound_percent(value: float) -> str:
    """A percentage without needless zeros."""
    return f"{value:g}{NO_BREAK}%"


def recording_page(entry: Entry, sheet: Sheet, *, title: str, number_of: int, pages: int) -> Drawing:
    """Return the page of one recording that was judged."""
    listening = entry.listening
    if listening is None:
        raise ValueError(f"{entry.copy} was not played: it has no page")
    traces: Traces = entry.traces
    name = copy_title(entry.copy)
    said = sentence(f"{name}, side {entry.side}," if entry.side else name, listening, places=True)
    items: list[Shape] = [*frame(sheet, number_of, pages)]
    top, y = head(listening.verdict, said, y=TOP + 1.0, todo=entry.advice, below=_below(entry, listening, title))
    items += [*top, rule(y)]
    y += 2.2
    chosen = faults.chosen_fault(listening, traces)
    disc = disc_picture(listening, traces, pen=PRINT, wide=DISC_WIDE, side=entry.side, chosen=chosen)
    strip = strip_picture(listening, traces, pen=PRINT, wide=INNER, chosen=chosen)
    left = MARGIN + DISC_WIDE + GAP
    room = WIDTH - MARGIN - left
    judged = findings_picture(listening.findings, pen=PRINT, wide=room, high=disc.height - 6.5)
    items += [
        disc.placed(MARGIN, y),
        Text(x=left, y=y + PRINT.text, text="What was judged", size=PRINT.text, weight=Weight.LABEL),
        Text(x=WIDTH - MARGIN, y=y + PRINT.text, text="± is 95 %", size=PRINT.label, role=Role.INK_2, anchor="end"),
        judged.placed(left, y + 6.5),
    ]
    y += max(disc.height, judged.height + 6.5) + 1.5
    items += [rule(y), strip.placed(MARGIN, y + 2.0)]
    y += strip.height + 3.8
    items.append(rule(y))
    y += 2.0
    tick_wide = 102.0
    foot, bottom = _foot(listening)
    items += _faults(listening, y=y, wide=tick_wide, bottom=bottom)
    items += _notes(listening, x=MARGIN + tick_wide + GAP, y=y, room=INNER - tick_wide - GAP, bottom=bottom)
    items += foot
    told = f"{said} {entry.advice} {disc.description} {judged.description}".replace(NO_BREAK, " ")
    return page(f"{name} side {entry.side}", f"{told} {count(len(listening.cautions), 'caution')}.", items)
