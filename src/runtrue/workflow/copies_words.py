"""What comparing copies says in the trade's words: who could have made it, what to do, what to play next."""

from collections.abc import Sequence

from runtrue.contract.copies import NextPlay, OriginName, OriginRow, RecurrenceRow
from runtrue.listen.copies.further import Next, Trial
from runtrue.listen.copies.origins import Origin
from runtrue.listen.copies.sample import Sample
from runtrue.paper.words import clock, odds, sentence_case
from runtrue.workflow.faults_words import names

SAID = 0.8
"""An origin this likely is said; below it the doubt is."""


def copy_words(copies: Sequence[str]) -> str:
    """Copies in running text: "copies 3, 5 and 7", long lists shortened.

    Examples
    --------
    >>> copy_words(["c1", "c2"]), copy_words(["203"]), copy_words([str(k) for k in range(1, 40)])
    ('c1 and c2', 'copy 203', '39 copies (1, 2, 3 ... 39)')
    """
    told = list(dict.fromkeys(copies))
    if len(told) > 8:
        return f"{len(told)} copies ({', '.join(told[:3])} ... {told[-1]})"
    plain = [f"copy {one}" if one.isdigit() else one for one in told]
    return names(plain)


_ORIGINS = {
    "press_event": ("something on the press", "something on the press, on stamper {}"),
    "compound": ("the compound", "compound {}"),
    "player": ("the player", "the player ({})"),
    "copy": ("that copy itself", "{} itself"),
    "dirt": ("dirt", "dirt on {}"),
    "cut": ("the cut", "the cut"),
}
"""Origins in words, without and with the name of the one."""


def origin_words(origin: str, which: str | None) -> str:
    """An origin in words.

    Examples
    --------
    >>> origin_words("press_event", "A-S3"), origin_words("mother", None), origin_words("copy", "203")
    ('something on the press, on stamper A-S3', 'the mother', 'copy 203 itself')
    """
    bare, named = _ORIGINS.get(origin, (f"the {origin}", f"{origin} {{}}"))
    if which is None:
        return bare
    return named.format(copy_words([which]) if origin in ("copy", "dirt") else which)


def interval_words(first: tuple[int, int | None]) -> str:
    """An interval of closures: "between 141 and 260"; "from 400 on or later" without an end."""
    low, high = first
    if high is None:
        return f"at {low} or later"
    return f"at {low}" if low == high else f"between {low} and {high}"


def dated_words(stretches: Sequence[tuple[int, int]]) -> str:
    """Stretches of the count in words.

    Examples
    --------
    >>> dated_words([(1, 140), (861, 1200)]), dated_words([(7, 7)])
    ('1 to 140 or 861 to 1200', '7')
    """
    return " or ".join(f"{low}" if low == high else f"{low} to {high}" for low, high in stretches)


_FAMILY = (("cut", "father"), ("cut", "mother"), ("father", "mother"), ("mother", "stamper"), ("cut", "stamper"))


def because(tied: Sequence[OriginName], sample: Sample) -> str:
    """Why origins cannot be told apart with these copies."""
    by = {one.origin: one for one in tied}
    told: list[str] = []
    for older, younger in _FAMILY:
        if older in by and younger in by and not any(f"one {younger}" in said for said in told):
            whose = "" if older == "cut" else f" of {_name(by[older])}"
            told.append(f"only one {younger}{whose} was played")
    metal = next((by[name] for name in ("stamper", "mother", "press_event") if name in by), None)
    for one in tied:
        if one.origin in ("press", "cavity", "compound", "pile"):
            shared = "" if metal is None else f"the copies of {_name(metal)} are those of {_name(one)} too"
            told.append(f"no {one.origin} is stated" if one.which is None else shared)
    if "player" in by and len(by) > 1:
        told.append("what shows it was all played on one player")
    if "copy" in by and "press_event" in by:
        told.append("it may have lain on the stamper for this copy alone")
    if "stamper" in by and "press_event" in by:
        told.append("it may have come before the first copy that was played")
    return "; ".join(said for said in dict.fromkeys(told) if said) or "all of them show the same on these copies"


def _name(one: OriginName) -> str:
    if one.origin == "press_event":
        return f"stamper {one.which}" if one.which else "the stamper"
    return origin_words(one.origin, one.which)


_NEXT = {
    Trial.CLOSURE: "play closure {closure}{of} {span}",
    Trial.UNTOLD: "play {copy} again {span}: it was not heard or too noisy there",
    Trial.WASH: "wash {copy} and play it again {span}",
    Trial.SECOND_RIG: "play {copy} on a second rig {span}",
    Trial.OTHER_STAMPER: "play a copy of another stamper of the same mother {span}",
    Trial.OTHER_MOTHER: "play a copy from another mother {span}",
    Trial.OTHER_PRESS: "play a copy{of} from another press {span}",
    Trial.OTHER_BATCH: "play a copy{of} from another batch and pile {span}",
    Trial.MOTHER: "play {mother} {span}",
}


def next_words(one: Next) -> str:
    """What to play next, as it is said to the person."""
    return _NEXT[one.trial].format(
        closure=one.closure,
        of=f" of stamper {one.which}" if one.which else "",
        copy=copy_words([one.which or ""]),
        mother=origin_words("mother", one.which),
        span=f"from {clock(one.start, tenths=False)} to {clock(one.end, tenths=False)}",
    )


def next_row(one: Next | None) -> NextPlay | None:
    """What to play next, as printed."""
    if one is None:
        return None
    return NextPlay(
        words=next_words(one), kind=one.trial.value, which=one.which, closure=one.closure, from_s=round(one.start, 1),
        to_s=round(one.end, 1), tells=round(one.bits, 3),
    )  # fmt: skip


def hold_of(row: RecurrenceRow) -> tuple[int, int | None] | None:
    """Closures to hold for an event on the press: from the first that may have it to the last."""
    if row.from_closure is None:
        return None
    return row.from_closure[0], None if row.to_closure is None else row.to_closure[1]


def held(row: RecurrenceRow) -> tuple[int, int | None] | None:
    """Closures that are held: something on the press is the likeliest. None where nothing is."""
    return hold_of(row) if row.origins and row.origins[0].origin == "press_event" else None


_ACTS = {
    "cut": "It is in the cut, or came by the time of the cut: listen to the cut {at} before metal is remade.",
    "father": "Look at {origin} {at}; a mother repaired there cures it.",
    "mother": "Repair {origin} {at} and grow a new stamper.",
    "stamper": "Change {origin}; look at it {at}.",
    "press": "Look at the mould of {origin} {at}, behind the stamper.",
    "cavity": "Look at the mould of {origin} {at}, behind the stamper.",
    "compound": "Hold {origin} and look at it.",
    "pile": "Hold {origin}; look at its plates.",
    "copy": "It is in this copy alone: scrap it, or let it pass by its limit.",
    "player": "Look at stylus and tracking before the discs are blamed; play one on a second rig.",
    "dirt": "Wash it and play it again.",
}


def advice_of(best: Sequence[OriginRow], row: RecurrenceRow, at: str) -> str:
    """What to do about a mark whose likeliest origin is ``best[0]``; ``at`` says where on the disc."""
    first = best[0]
    if first.probability < SAID and not _act_alike(row):
        return "Play what comes next before anything is changed."
    if first.origin != "press_event":
        return _ACTS[first.origin].format(origin=origin_words(first.origin, first.which), at=at)
    hold = hold_of(row)
    span = "" if hold is None else f" Hold closures {hold_words(hold)}."
    name = _name(OriginName(origin=first.origin, which=first.which))
    if row.to_closure is not None and row.to_closure[1] is not None:
        return f"It was gone again: ask what was wiped off {name} {at}.{span}"
    return f"Clean {name} {at}; change it if the mark stays.{span}"


def hold_words(hold: tuple[int, int | None]) -> str:
    """Closures to hold: "141 to 358", "141 to the end"."""
    return f"{hold[0]} to {'the end' if hold[1] is None else hold[1]}"


def _act_alike(row: RecurrenceRow) -> bool:
    """Whether what is likely comes to one act: everything older than the stamper is cured at the mother."""
    old = {Origin.CUT.value, Origin.FATHER.value, Origin.MOTHER.value, Origin.PLAYER.value}
    return sum(one.probability for one in row.origins if one.origin in old) >= SAID


def shared_words(row: RecurrenceRow, stampers: Sequence[str | None], *, side: str = "", short: bool = False) -> str:
    """The mark in a sentence: which copies share what, where, and since when (left out where ``short``).

    ``stampers`` are those of the copies that show it.
    """
    tick = "one tick" if row.train is None else "a tick once a turn"
    where = f"at {clock(row.programme_s)}" + (f" of side {side}" if side else "")
    best = row.origins[0]
    if len(row.copies) == 1:
        return f"{sentence_case(copy_words(row.copies))} has {tick} {where} each time it is played."
    if best.origin == "press_event" and row.from_closure is not None:
        of = f" of stamper {best.which}" if best.which else ""
        since = "" if short else f"; {since_words(row)}"
        first, last = row.from_closure[1], row.to_closure[0] if row.to_closure is not None else row.from_closure[1]
        return f"Copies {first} to {last}{of} share {tick} {where}{since}."
    if not row.without:
        return f"Every copy that could show it has {tick} {where}."
    whose = {s for s in stampers if s}
    of = f" of stamper {next(iter(whose))}" if len(whose) == 1 else f" of {len(whose)} stampers" if whose else ""
    return f"{sentence_case(copy_words(row.copies))}{of} share {tick} {where}."


def since_words(row: RecurrenceRow) -> str:
    """Since when and until when a mark is on the copies: "it begins between 141 and 260 and was there to the last"."""
    assert row.from_closure is not None
    begins = f"it begins {interval_words(row.from_closure)}"
    if row.to_closure is None:
        return begins
    if row.to_closure[1] is None:
        return f"{begins} and is still on the last copy played"
    return f"{begins} and ends {interval_words(row.to_closure)}"


def _bare(one: OriginRow) -> OriginName:
    return OriginName(origin=one.origin, which=one.which)


def doubt_words(row: RecurrenceRow) -> str:
    """Who could have made it, with odds; what cannot be told apart stands together."""
    told: list[str] = []
    done: set[tuple[str, str | None]] = set()
    likely = [one for one in row.origins if one.probability >= 0.05][:3] or row.origins[:1]
    for one in likely:
        if (one.origin, one.which) in done:
            continue
        tied = next(
            (t.origins for t in row.cannot_tell_apart if OriginName(origin=one.origin, which=one.which) in t.origins),
            [],
        )
        group = [
            o for o in row.origins if OriginName(origin=o.origin, which=o.which) in tied and o.probability >= 0.05
        ] or [one]
        done |= {(o.origin, o.which) for o in group}
        whole = sum(o.probability for o in group)
        told.append(f"{' or '.join(origin_words(o.origin, o.which) for o in group)}, {odds(whole)}")
    return f"{sentence_case('; '.join(told))}."
