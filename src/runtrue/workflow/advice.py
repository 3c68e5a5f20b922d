"""What to do: the judged recordings of one run, laid side by side, say which station has to act.

On every copy of a stamper: that stamper. On every copy of every stamper of the side: the mother or before. From a
closure on: something that came to the stamper then. On one copy: that copy. Nothing is said that the copies played do
not bear out; where they leave a gap, the gap is told ("begins between closures 187 and 312").
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from runtrue.contract.copies import Copies, RecurrenceRow
from runtrue.contract.listening import Centre
from runtrue.paper.words import NO_BREAK, count, listed, number, sentence_case
from runtrue.workflow.alone import alone, limit_of, out_of
from runtrue.workflow.copies_words import SAID, doubt_words, hold_of, shared_words
from runtrue.workflow.faults_words import names
from runtrue.workflow.judged import Judged, sides_of, standing

SAME_S = 0.001
"""A tick so near a recurrence is that one [s]."""
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
    recurrence: RecurrenceRow | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The sentence that comes first, what to do, and how many copies fail where that is told below it."""

    said: str
    act: str
    detail: str = ""


def advise(judged: Sequence[Judged], spans: Sequence[Span] = ()) -> list[Advice]:
    """Every finding over the copies, what concerns most records first."""
    rows = sorted(judged, key=lambda one: (one.side, one.closure is None, one.closure or 0))
    results = sides_of(rows)
    rows = standing(rows)
    found = [*_wrong_programme(rows, spans), *_centres(rows, spans), *_recurring(results, rows, spans)]
    found += _washed(rows, results)
    found += [
        Advice(station=each.station, found=each.found, act=each.act, copies=(each.copy,), side=each.side)
        for each in alone(rows, told=_told(results, rows))
    ]
    # the mark that closures are held for is told first: it opens the dossier
    return sorted(found, key=lambda one: one.recurrence is None or one.hold is None)


def _told(results: Mapping[str, Copies], rows: Sequence[Judged]) -> set[float]:
    """Programme times of ticks that several copies share."""
    shared = {side: [r.programme_s for r in one.recurrences if len(r.copies) > 1] for side, one in results.items()}
    return {
        tick.programme_s
        for one in rows
        for tick in one.listening.ticks or []
        if any(abs(tick.programme_s - time) < SAME_S for time in shared[one.side])
    }


def opening(judged: Sequence[Judged], advice: Sequence[Advice]) -> Opening:
    """The first sentence: the mark that closures are held for, or how many copies fail and why; and what to do."""
    judged = standing(judged)
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
    held = next((one for one in advice if one.recurrence is not None and one.hold is not None), None)
    clauses = [one.clause for one in advice if one.failing and one.clause and one is not held][:MOST_CLAUSES]
    said = sentence_case(", ".join(parts))
    said = f"{said}: {listed(clauses)}." if clauses else f"{said}."
    acts = list(dict.fromkeys(one.short_act for one in advice if one.short_act))
    holds = _merged([one.hold for one in advice if one.hold is not None])
    act = "; ".join([*acts, *([f"hold closures {listed([f'{a} to {b}' for a, b in holds])}"] if holds else [])])
    act = sentence_case(act) + "." if act else ""
    if held is None or held.recurrence is None or held.hold is None:
        return Opening(said=said, act=act)
    shared = shared_words(held.recurrence, [], side=held.side, short=True).rstrip(".")
    hold = f"Hold closures {held.hold[0]} to {held.hold[1]}."
    others = sentence_case("; ".join(acts)) + "." if acts else ""
    return Opening(said=f"{shared}: hold them.", act=hold, detail=f"{said} {others}".rstrip())


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


def _recurring(results: Mapping[str, Copies], rows: Sequence[Judged], spans: Sequence[Span]) -> list[Advice]:
    """Marks that several copies share, those that put records out of limit first."""
    made: list[Advice] = []
    for side, result in results.items():
        stamper = {row.copy: row.stamper for row in result.copies}
        told: set[int] = set()
        for row in result.recurrences:
            if len(row.copies) > 1 and (row.train is None or row.train not in told):
                told |= set() if row.train is None else {row.train}
                made.append(_shared(row, side, [stamper.get(c) for c in row.copies], spans))
    return sorted(made, key=lambda each: not each.failing)


def _shared(row: RecurrenceRow, side: str, stampers: Sequence[str | None], spans: Sequence[Span]) -> Advice:
    """One mark in words: on the press it has closures to hold, in the metal it has a place to look at."""
    first = row.origins[0]
    said = shared_words(row, stampers, side=side)
    station = _STATIONS.get(first.origin, first.origin) if first.probability >= SAID else "metal"
    hold = _hold(row, first.which or "", spans) if first.origin == "press_event" else None
    if first.origin == "stamper" and row.fails and (span := _span_of(spans, first.which or "")) is not None:
        hold = (span.first, span.last)
    return Advice(
        station=station,
        found=f"{said} {doubt_words(row)}{_untold(row)}",
        act=_act(row, hold),
        copies=tuple(row.copies), side=side, clause=said[:1].lower() + said[1:].rstrip("."),
        short_act=_short(row) if row.fails else "", hold=hold if row.fails else None, failing=row.fails,
        recurrence=row,
    )  # fmt: skip


def _act(row: RecurrenceRow, hold: tuple[int, int] | None) -> str:
    """What to do; nothing is held for a mark inside the limit."""
    more = f" Next: {row.next.words}." if row.next is not None and row.origins[0].probability < SAID else ""
    if row.fails:
        return row.advice.partition(" Hold closures")[0] + _held(hold) + more
    old = row.origins[0].origin in ("cut", "father", "mother")
    look = "Look at the mother there before another stamper is grown. " if old else ""
    return f"{look}Inside the limit: no record is held for it.{more}"


_STATIONS = {
    "press_event": "press", "press": "press", "cavity": "press", "stamper": "metal", "mother": "metal",
    "father": "metal", "cut": "metal", "pile": "press", "copy": "copy", "player": "bench", "dirt": "bench",
}  # fmt: skip
"""Which station an origin belongs to."""


def _short(row: RecurrenceRow) -> str:
    """What to do, in the opening."""
    first = row.origins[0]
    if first.origin == "press_event":
        gone = row.to_closure is not None and row.to_closure[1] is not None
        return "" if gone else f"clean or change stamper {first.which or ''}".rstrip()
    return {"stamper": f"change stamper {first.which or ''}".rstrip(), "player": "look at the stylus"}.get(
        first.origin, "look at the mother"
    )


def _hold(row: RecurrenceRow, stamper: str, spans: Sequence[Span]) -> tuple[int, int] | None:
    """Closures to hold; one that is still there is held to the end of its stamper."""
    found = hold_of(row)
    if found is None:
        return None
    span = _span_of(spans, stamper)
    last = found[1] if found[1] is not None else (None if span is None else span.last)
    return None if last is None else (max(found[0], 1 if span is None else span.first), last)


def _untold(row: RecurrenceRow) -> str:
    """Which copies cannot say whether they have it."""
    return "" if not row.untold else f" {sentence_case(names(row.untold))} cannot say: not heard there, or too noisy."


def _washed(rows: Sequence[Judged], results: Mapping[str, Copies]) -> list[Advice]:
    """Copies that were dirty: what a wash took off is no fault of the disc."""
    return [
        Advice(
            station="bench",
            found=f"{sentence_case(row.copy)} was dirty: {count(row.washed_away, 'tick')} of side {side} went when it "
            "was washed and played again.",
            act="Wash before a copy is judged; nothing is held for it.",
            copies=(row.copy,), side=side, failing=False,
        )
        for side, result in results.items()
        for row in result.copies
        if row.washed_away
    ]  # fmt: skip
