"""What to do: the judged recordings of one run, laid side by side, say which station has to act.

On every copy of a stamper: that stamper. On every copy of every stamper of the side: the mother or before. From a
closure on: something that came to the stamper then. On one copy: that copy. Nothing is said that the copies played do
not bear out; where they leave a gap, the gap is told ("begins between closures 187 and 312").
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from runtrue.contract.listening import Centre
from runtrue.paper.words import NO_BREAK, clock, count, listed, number, sentence_case
from runtrue.workflow.alone import alone, limit_of, names, out_of
from runtrue.workflow.recurrence import Judged, Recurrence, recurrences

MOST_CLAUSES = 3
"""Findings that the opening sentence tells; the others follow below it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The closures over which a stamper pressed a side, both included."""

    stamper: str
    side: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One finding and what to do about it. ``clause`` tells it within the opening sentence, ``act`` what to do there.

    ``side`` is empty for what both sides have. ``hold`` are closures to keep back until it is settled. ``failing``:
    whether it puts a record out of limit.
    """

    station: str
    found: str
    act: str
    copies: tuple[str, ...]
    clause: str = ""
    short_act: str = ""
    side: str = ""
    hold: tuple[int, int] | None = None
    failing: bool = True
    recurrence: Recurrence | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The sentence that comes first, and what to do."""

    said: str
    act: str


def advise(judged: Sequence[Judged], spans: Sequence[Span] = ()) -> list[Advice]:
    """Every finding over the copies, what concerns most records first."""
    rows = sorted(judged, key=lambda one: (one.side, one.closure is None, one.closure or 0))
    shared = recurrences(rows)
    found = [*_wrong_programme(rows, spans), *_centres(rows, spans), *_recurring(shared, rows, spans)]
    told = {time for one in shared for time in (tick.programme_s for tick in one.ticks)}
    found += [
        Advice(station=each.station, found=each.found, act=each.act, copies=(each.copy,), side=each.side)
        for each in alone(rows, told=told)
    ]
    return found


def opening(judged: Sequence[Judged], advice: Sequence[Advice]) -> Opening:
    """The first sentence: how many copies fail, what lies behind the most of them, and what to do."""
    copies = list(dict.fromkeys(one.copy for one in judged))
    failing = [c for c in copies if any(one.copy == c and one.listening.verdict == "fail" for one in judged)]
    doubtful = [
        c for c in copies
        if c not in failing and any(one.copy == c and one.listening.verdict == "cannot_judge" for one in judged)
    ]  # fmt: skip
    if not copies:
        return Opening(said="No copy was played.", act="")
    parts = [f"{len(failing)} of {count(len(copies), 'copy', 'copies')} {'fails' if len(failing) == 1 else 'fail'}"]
    if not failing:
        parts = [f"all {len(copies)} copies pass" if not doubtful else f"no copy of {len(copies)} fails"]
    parts += [f"{len(doubtful)} cannot be judged"] if doubtful else []
    clauses = [one.clause for one in advice if one.failing and one.clause][:MOST_CLAUSES]
    said = sentence_case(", ".join(parts))
    said = f"{said}: {listed(clauses)}." if clauses else f"{said}."
    acts = list(dict.fromkeys(one.short_act for one in advice if one.short_act))
    holds = _merged([one.hold for one in advice if one.hold is not None])
    if holds:
        acts.append(f"hold closures {listed([f'{a} to {b}' for a, b in holds])}")
    return Opening(said=said, act=sentence_case("; ".join(acts)) + "." if acts else "")


def _merged(spans: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Spans of closures that touch become one."""
    merged: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if merged and first <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], last))
        else:
            merged.append((first, last))
    return merged


def since(shown: Sequence[Judged], without: Sequence[Judged]) -> tuple[str, int | None]:
    """When something begins that ``shown`` have and ``without`` have not, in words, and the first closure in doubt.

    Empty words where not all copies without it lie before those with it: then it did not begin, it comes and goes.
    """
    with_it = [one.closure for one in shown if one.closure is not None]
    clean = [one.closure for one in without if one.closure is not None]
    if not with_it or (clean and max(clean) > min(with_it)):
        return "", None
    if clean:
        return f"begins between closures {max(clean)} and {min(with_it)}", max(clean) + 1
    return f"is there from closure {min(with_it)} on or from before", None


def _held(hold: tuple[int, int] | None) -> str:
    return f" Hold closures {hold[0]} to {hold[1]}." if hold else ""


def _span_of(spans: Sequence[Span], stamper: str) -> Span | None:
    return next((span for span in spans if span.stamper == stamper), None)


def _wrong_programme(rows: Sequence[Judged], spans: Sequence[Span]) -> list[Advice]:
    wrong = [one for one in rows if one.listening.programme.identity == "other"]
    found = []
    for side in dict.fromkeys(one.side for one in wrong):
        shown = [one for one in wrong if one.side == side]
        right = [one for one in rows if one.side == side and one.listening.programme.identity == "same"]
        words, first = since(shown, right)
        copies = tuple(dict.fromkeys(one.copy for one in shown))
        verb = _verb(copies, "holds", "hold")
        span = _span_of(spans, shown[-1].stamper)
        hold = (first, span.last) if first is not None and span is not None else None
        found.append(
            Advice(
                station="labels",
                found=f"{sentence_case(names(copies))} {verb} another programme under label {side}"
                + (f"; it {words}." if words else "."),
                act="Stop the press; check stampers and labels." + _held(hold),
                copies=copies,
                side=side,
                clause=f"{names(copies)} {verb} another programme under label {side}",
                short_act="stop the press and check stampers and labels",
                hold=hold,
            )
        )
    return found


def _centres(rows: Sequence[Judged], spans: Sequence[Span]) -> list[Advice]:
    """Stampers whose copies are off centre beyond the limit."""
    found = []
    for stamper in dict.fromkeys(one.stamper for one in rows if out_of(one, "off_centre_offset", "off_centre_swing")):
        played = [one for one in rows if one.stamper == stamper and one.listening.off_centre.disc is not None]
        failing = [one for one in played if out_of(one, "off_centre_offset", "off_centre_swing")]
        copies = tuple(dict.fromkeys(one.copy for one in failing))
        side = failing[0].side
        figure = _offset_words(failing)
        other = _other_side(rows, copies, side)
        span = _span_of(spans, stamper)
        if not stamper or len(failing) < len(played) or not _agreeing(failing):
            found.append(
                Advice(
                    station="press",
                    found=f"{sentence_case(names(copies))} {_verb(copies, 'is', 'are')} {figure} off centre on "
                    f"side {side}; other copies of the stamper are not, or lie otherwise.",
                    act="Place it again; if it stays, look at the hole of that copy and at the centre pin.",
                    copies=copies, side=side,
                    clause=f"{names(copies)} {_verb(copies, 'runs', 'run')} off centre",
                )
            )  # fmt: skip
            continue
        both = any(out_of(one, "off_centre_offset", "off_centre_swing") for one in other)
        proof = ""
        if other:
            whose = names(one.copy for one in other)
            proof = (
                f" The other side of {whose} does too: both share the hole, so look at hole and centre pin first."
                if both
                else f" The other side of {whose} shares the hole and is inside the limit: it is this stamper."
            )
        hold = None if span is None else (span.first, span.last)
        found.append(
            Advice(
                station="press" if both else "metal",
                found=f"Stamper {stamper} runs {figure} off centre, limit {_limit(failing[0])}, on {_every(failing)}."
                f"{proof}",
                act=("Check centre pin and hole." if both else f"Change {stamper} and punch it anew.") + _held(hold),
                copies=copies, side=side,
                clause=f"stamper {stamper} is {'' if both else 'punched '}{figure} off centre",
                short_act="check centre pin and hole" if both else f"change {stamper}",
                hold=hold,
            )
        )  # fmt: skip
    return found


def _limit(one: Judged) -> str:
    row = limit_of(one, "off_centre_offset", "off_centre_swing")
    return "" if row is None or row.upper is None else f"{row.upper:g}{NO_BREAK}{row.unit}"


def _other_side(rows: Sequence[Judged], copies: Sequence[str], side: str) -> list[Judged]:
    return [
        one for one in rows
        if one.copy in copies and one.side != side and one.listening.off_centre.disc is not None
        and limit_of(one, "off_centre_offset", "off_centre_swing") is not None
    ]  # fmt: skip


def _verb(copies: Sequence[str], one: str, many: str) -> str:
    return one if len(copies) == 1 else many


def _every(found: Sequence[Judged]) -> str:
    """ "every copy played (copies 3, 5 and 7)", or the one copy with the number of its placings."""
    copies = list(dict.fromkeys(one.copy for one in found))
    if len(copies) > 1:
        return f"every copy played ({names(copies)})"
    return f"{copies[0]}, the one copy played" + (f", in {len(found)} placings" if len(found) > 1 else "")


def _plane(centre: Centre) -> tuple[float, float]:
    angle = radians(centre.direction_deg)
    return centre.offset_um * cos(angle), centre.offset_um * sin(angle)


def _agreeing(found: Sequence[Judged]) -> bool:
    """Whether the offsets are one vector, as far as their U95 tell; opposite pushes use up both slacks, so they add."""
    centres = [one.listening.off_centre.disc for one in found]
    known = [centre for centre in centres if centre is not None]
    return all(
        hypot(_plane(a)[0] - _plane(b)[0], _plane(a)[1] - _plane(b)[1]) <= a.u95_um + b.u95_um
        for a in known
        for b in known
    )


def _offset_words(found: Sequence[Judged]) -> str:
    """The offset of the surest copy; two opposite pushes of one copy give their mean, which is free of the slack."""
    pushed = two_pushes(found)
    if pushed is not None:
        return str(number(pushed[0], pushed[1], "μm", decimals=0))
    centres = [one.listening.off_centre.disc for one in found]
    best = min((c for c in centres if c is not None), key=lambda c: c.offset_u95_um)
    return str(number(best.offset_um, best.offset_u95_um, "μm", decimals=0))


def two_pushes(found: Sequence[Judged]) -> tuple[float, float] | None:
    """Length and U95 [um] of the disc's offset from two opposite pushes of one copy at one place of the platter.

    The mean of what the two placings did: the slack falls out, a run-out of the spindle stays in. Both lie at one
    place of the platter, so the player's own swing and the arm err alike in both and the mean is no surer than they.
    """
    by_note = {one.note: one.listening.off_centre.played for one in found if len({each.copy for each in found}) == 1}
    away, toward = by_note.get("pushed away"), by_note.get("pushed toward")
    if away is None or toward is None:
        return None
    x, y = (0.5 * (a + b) for a, b in zip(_plane(away), _plane(toward), strict=True))
    return hypot(x, y), max(away.offset_u95_um, toward.offset_u95_um)


def _recurring(shared: Sequence[Recurrence], rows: Sequence[Judged], spans: Sequence[Span]) -> list[Advice]:
    sides = {
        one.side: {r.stamper for r in rows if r.side == one.side and r.listening.ticks is not None} for one in rows
    }
    made: list[Advice] = []
    for one in shared:
        made.append(_of_stamper(one, spans) if len(one.stampers) == 1 else _of_metal(one, sides[one.side]))
    return sorted(made, key=lambda each: not each.failing)


def _place(one: Recurrence) -> str:
    doubt = max(tick.u95_s for tick in one.ticks)
    return f"{clock(one.programme_s)} of side {one.side} (± {max(1, round(1000.0 * doubt))}{NO_BREAK}ms)"


def _fails(one: Recurrence) -> bool:
    """Whether a copy that shows it is out of a limit on ticks because of it: those without it are not."""
    on_ticks = ("tick_prominence", "loud_ticks_per_side", "ticks_per_side", "audible_ticks_per_side")
    return all(out_of(each, *on_ticks) for each in one.shown)


def _untold(one: Recurrence) -> str:
    """Which copies cannot say whether they have it, and why."""
    heard = {each.copy for each in one.untold if _reaches(each, one.programme_s)}
    noisy = list(dict.fromkeys(each.copy for each in one.untold if each.copy in heard))
    unheard = list(dict.fromkeys(each.copy for each in one.untold if each.copy not in heard))
    told = f" {sentence_case(names(noisy))} {_verb(noisy, 'is', 'are')} too noisy there to tell." if noisy else ""
    if unheard:
        told += f" {sentence_case(names(unheard))} {_verb(unheard, 'was', 'were')} not heard there."
    return told


def _reaches(one: Judged, time: float) -> bool:
    reach = one.listening.programme.reach_s
    return reach is not None and reach[0] <= time <= reach[1]


def _of_stamper(one: Recurrence, spans: Sequence[Span]) -> Advice:
    """A fault on copies of one stamper only."""
    stamper = one.stampers[0]
    same = [each for each in one.without if each.stamper == stamper]
    words, first = since(one.shown, same)
    span = _span_of(spans, stamper)
    failing = _fails(one)
    copies = names(one.copies)
    if not words:
        return Advice(
            station="metal",
            found=f"A tick at {_place(one)} is on {copies}, of {stamper}, but not on all between.{_untold(one)}",
            act="Play more copies of that stamper there.",
            copies=one.copies,
            side=one.side,
            failing=failing,
            recurrence=one,
        )
    begun = first if first is not None else (span.first if span is not None else None)
    hold = (begun, span.last) if failing and begun is not None and span is not None else None
    clean = any(each.stamper != stamper for each in one.without)
    others = " Copies of other stampers run clean there." if clean else ""
    many = f"every copy of {stamper} played ({copies})" if not same else f"{copies}, of {stamper}"
    return Advice(
        station="press",
        found=f"A tick at {_place(one)} is on {many}; it {words}.{others}{_untold(one)}",
        act=f"Clean {stamper} at that place or change it." + _held(hold),
        copies=one.copies, side=one.side,
        clause=f"stamper {stamper} leaves a tick at {clock(one.programme_s)}, which {words}",
        short_act=f"clean or change {stamper}" if failing else "",
        hold=hold,
        failing=failing,
        recurrence=one,
    )  # fmt: skip


def _of_metal(one: Recurrence, stampers: set[str]) -> Advice:
    """A fault on copies of several stampers."""
    copies = names(one.copies)
    failing = _fails(one)
    if one.without or set(one.stampers) != stampers:
        missing = names(each.copy for each in one.without) or "the others"
        return Advice(
            station="metal",
            found=f"A tick at {_place(one)} is on {copies}, of {listed(list(one.stampers))}, but not on {missing}."
            f"{_untold(one)}",
            act="Play more copies there: no one station explains this.",
            copies=one.copies,
            side=one.side,
            failing=failing,
            recurrence=one,
        )
    return Advice(
        station="metal",
        found=f"A tick at {_place(one)} is on every copy of {'both' if len(stampers) == 2 else f'all {len(stampers)}'} "
        f"stampers that could show it ({copies}): it is in the mother, or older.{_untold(one)}",
        act="Look at the mother there before another stamper is grown."
        + ("" if failing else " Inside the limit: no record is held for it."),
        copies=one.copies,
        side=one.side,
        clause=f"the mother leaves a tick at {clock(one.programme_s)}",
        short_act="look at the mother" if failing else "",
        failing=failing,
        recurrence=one,
    )
