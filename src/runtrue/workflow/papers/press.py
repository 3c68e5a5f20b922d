"""The papers at the press: set-up, changes, counter, blanks, warm-up, stops, rejects, first-off, samples."""

from uuid import UUID

from runtrue.contract.listening import VerdictWord
from runtrue.errors import InputError
from runtrue.paper.words import clock
from runtrue.records import tables
from runtrue.records.counts import At
from runtrue.records.pen import Pen, RunState, clean_name
from runtrue.records.ranges import stretch
from runtrue.workflow.papers import ask_press as ask
from runtrue.workflow.papers.job import is_stamper, matrix_of
from runtrue.workflow.papers.paper import Told, values_of


def worst(words: list[str]) -> VerdictWord:
    """One verdict for several checks: any fail, else any that was not checked, else pass."""
    if "fail" in words:
        return "fail"
    return "pass" if words and set(words) == {"pass"} else "cannot_judge"


def set_up(asked: ask.SetUpRequest, pen: Pen, entry: UUID) -> Told:
    """Begin a run: what is on the press, cleared and identified."""
    name = pen.free(tables.Run, asked.run, "run")
    job = pen.need(tables.Ticket, asked.job, "job")
    cautions: list[str] = []
    stampers = [("stamper_a", asked.side_a, asked.stamper_a, asked.scribing_a)]
    if asked.stamper_b is not None:
        stampers.append(("stamper_b", asked.side_b, asked.stamper_b, asked.scribing_b))
    state = pen.begin_run(
        entry=entry, run=name, job=job, press=clean_name("press", asked.press),
        cavity=clean_name("cavity", asked.cavity), counter=asked.counter,
    )  # fmt: skip
    checks = []
    for kind, side, stamper, scribing in stampers:
        piece = is_stamper(pen, stamper, kind)
        checks.append(_identity(pen, job=job, side=side.strip(), piece=piece, scribing=scribing, cautions=cautions))
        pen.span(entry, state, kind, piece, first=1)
    for kind, ref in _also(asked, pen):
        pen.span(entry, state, kind, ref, first=1)
    identity = worst(checks)
    values = values_of(asked, "clearance", "cleared_by", "scribing_a", "scribing_b", "mould", "note")
    pen.add(tables.SetUp, entry, run=name, closure=1, identity=identity, **values)
    for _, _, stamper, _ in stampers:
        elsewhere = [run for run in pen.runs_with(stamper.strip()) if run != name]
        cautions += [f"{stamper.strip()} is on the press in run {run} too: end that run, or take another."
                     for run in elsewhere]  # fmt: skip
    if asked.clearance != "pass":
        cautions.append("The line was not cleared: labels, discs or colour of the former job may be left.")
    return Told(
        said=f"Run {name} of job {job} on press {state.press}, cavity {state.cavity}: "
        f"{' and '.join(piece for _, _, piece, _ in stampers)}.",
        verdict=worst([identity.replace("cannot_judge", "not_checked"), asked.clearance]), cautions=tuple(cautions),
    )  # fmt: skip


def _identity(pen: Pen, *, job: str, side: str, piece: str, scribing: str | None, cautions: list[str]) -> str:
    """Whether ticket, register and scribing agree on the matrix of a side."""
    matrix = matrix_of(pen, job, side)
    if matrix is None:
        raise InputError(f"job {job} has no side '{side}'; correct the side, or add it to the ticket")
    registered = pen.row(tables.MetalPiece, piece).matrix
    if registered != matrix:
        cautions.append(f"Side {side} of job {job} is matrix {matrix}, but {piece} is of {registered} in the register.")
        return "fail"
    if scribing is None:
        cautions.append(f"The scribing of {piece} was not read: its identity is not checked.")
        return "not_checked"
    if scribing.strip() != matrix:
        cautions.append(f"Side {side} of job {job} is matrix {matrix}, but {scribing.strip()} is scribed on {piece}.")
        return "fail"
    return "pass"


def _also(asked: ask.SetUpRequest, pen: Pen) -> list[tuple[str, str]]:
    """What else is on the press; names are held to the book."""
    named = [("batch", asked.batch), ("label_a", asked.label_a), ("label_b", asked.label_b),
             ("operator", asked.operator), ("settings", asked.settings)]  # fmt: skip
    return [(kind, _ref(pen, kind, ref)) for kind, ref in named if ref is not None]


def _ref(pen: Pen, kind: str, ref: str) -> str:
    if kind == "batch":
        return pen.need(tables.Batch, ref, "batch")
    if kind.startswith("label_"):
        return pen.need(tables.LabelLot, ref, "label lot")
    return clean_name(kind, ref)


def change(asked: ask.ChangeRequest, pen: Pen, entry: UUID) -> Told:
    """Note what is on the press from a closure on."""
    state = pen.run(asked.run)
    first = state.closures + 1 if asked.closure is None else asked.closure
    if first > state.closures + 1:
        raise InputError(
            f"closure {first} is beyond the counter: run {state.run} has counted {state.closures}; read the counter "
            "first"
        )
    stretch(first, first, asked.slack)
    cautions: list[str] = []
    verdict: VerdictWord | None = None
    if asked.what.startswith("stamper_"):
        ref = is_stamper(pen, asked.to, asked.what)
        verdict = _same_title(pen, state, asked, ref, cautions)
        cautions.append("A new stamper needs a first-off before the run goes on.")
    else:
        ref = _ref(pen, asked.what, asked.to)
    pen.span(entry, state, asked.what, ref, first=first, slack=asked.slack)
    about = f" (±{asked.slack})" if asked.slack else ""
    return Told(
        said=f"Run {state.run}: {asked.what.replace('_', ' ')} is {ref} from closure {first}{about} on.",
        verdict=verdict, cautions=tuple(cautions),
    )  # fmt: skip


def _same_title(pen: Pen, state: RunState, asked: ask.ChangeRequest, piece: str, cautions: list[str]) -> VerdictWord:
    """Identity of a new stamper: the matrix of the one before it, in the register and in its scribing."""
    before = next(iter(pen.standing(state.run, asked.what)), None)
    matrix = pen.row(tables.MetalPiece, piece).matrix
    wanted = matrix if before is None else pen.row(tables.MetalPiece, before.ref).matrix
    if matrix != wanted:
        cautions.append(f"{piece} is of matrix {matrix}, the one before it of {wanted}: another side or title.")
        return "fail"
    if asked.scribing is None:
        cautions.append(f"The scribing of {piece} was not read: its identity is not checked.")
        return "cannot_judge"
    if asked.scribing.strip() != matrix:
        cautions.append(f"{asked.scribing.strip()} is scribed on {piece}, the register says {matrix}.")
        return "fail"
    return "pass"


def read(asked: ask.ReadRequest, pen: Pen, entry: UUID) -> Told:
    """Read the press counter: the closures since the last reading were made."""
    if (asked.run is None) == (asked.press is None):
        raise InputError("run and press: name one of them; a press counts for all its cavities")
    runs = [pen.run(asked.run)] if asked.run is not None else pen.runs_on(clean_name("press", asked.press or ""))
    if not runs:
        raise InputError(f"press '{asked.press}' has no run in the book; begin one with a set-up sheet")
    words = [count(pen, entry, state, asked.counter, asked.set_to) for state in runs]
    return Told(said=" ".join(words))


def end(asked: ask.EndRequest, pen: Pen, entry: UUID) -> Told:
    """Read the counter for the last time; the run counts no further."""
    state = pen.run(asked.run)
    told = count(pen, entry, state, state.counter if asked.counter is None else asked.counter)
    state.ended = True
    return Told(said=f"{told} The run has ended.")


def count(pen: Pen, entry: UUID, state: RunState, counter: int, set_to: int | None = None) -> str:
    """Count a run on to a counter reading; a sentence."""
    if state.ended:
        raise InputError(f"run {state.run} has ended; if it goes on, take its end back with `runtrue book withdraw`")
    more = counter - state.counter
    if more < 0:
        raise InputError(
            f"counter {counter} is below the reading before it, {state.counter}, of run {state.run}; if it was set "
            f"back enter the last reading before that with --set-to {counter}, else read it again"
        )
    pen.count_to(entry, state, state.closures + more, counter, set_to)
    again = "" if set_to is None else f"; the counter was set to {set_to}"
    return f"Run {state.run}: closure {state.closures}, {more} more{again}."


def _counted(state: RunState, last: int, what: str) -> None:
    if last > state.closures:
        raise InputError(
            f"{what} {last} is beyond the counter: run {state.run} has counted {state.closures}; read the counter first"
        )


def blank(asked: ask.BlankRequest, pen: Pen, entry: UUID) -> Told:
    """Note closures that made nothing."""
    state = pen.run(asked.run)
    last = asked.first if asked.last is None else asked.last
    stretch(asked.first, last, asked.slack)
    _counted(state, last, "closure")
    pen.apart(state.run, "blank", first=asked.first, last=last, slack=asked.slack, what="blank closures")
    records = last - asked.first + 1
    pen.span(entry, state, "blank", "blank", first=asked.first, last=last, slack=asked.slack, records=records)
    pen.move(entry, state, At.PRESSED, At.BLANK, records, first=asked.first, last=last)
    return Told(said=f"Run {state.run}: {records} blank, closures {asked.first} to {last}.")


def warm_up(asked: ask.WarmUpRequest, pen: Pen, entry: UUID) -> Told:
    """Discard warm-up records."""
    state = pen.run(asked.run)
    stretch(asked.first, asked.last)
    _counted(state, asked.last, "closure")
    records = asked.last - asked.first + 1
    pen.move(entry, state, At.PRESSED, At.WARM_UP, records, first=asked.first, last=asked.last)
    return Told(said=f"Run {state.run}: {records} warm-up records, closures {asked.first} to {asked.last}.")


def stop(asked: ask.StopRequest, pen: Pen, entry: UUID) -> Told:
    """Note that the press stood."""
    state = pen.run(asked.run)
    closure = state.closures if asked.closure is None else asked.closure
    _counted(state, closure, "closure")
    cause = clean_name("cause", asked.cause)
    pen.add(tables.PressStop, entry, run=state.run, closure=closure, minutes=asked.minutes, cause=cause)
    return Told(said=f"Run {state.run} stood {asked.minutes:g} min after closure {closure}: {cause}.")


def reject(asked: ask.RejectRequest, pen: Pen, entry: UUID) -> Told:
    """Take records out by reason."""
    state = pen.run(asked.run)
    first, last = known_stretch(state, asked.first, asked.last, asked.records)
    cause = clean_name("cause", asked.cause)
    pen.move(entry, state, At(asked.source), At(asked.to), asked.records, cause=cause, first=first, last=last)
    return Told(said=f"Run {state.run}: {asked.records} {asked.to}, {cause}.")


def known_stretch(state: RunState, first: int | None, last: int | None, records: int) -> tuple[int | None, int | None]:
    """Closures that records come from, both or none; raises ``InputError`` where they cannot be."""
    if (first is None) != (last is None):
        raise InputError("first and last: give both closures or neither")
    if first is None or last is None:
        return None, None
    stretch(first, last)
    _counted(state, last, "closure")
    if records > last - first + 1:
        raise InputError(
            f"{records} records are more than closures {first} to {last} can have made; correct the count or the range"
        )
    return first, last


_CHECKS = ("identity", "centre", "fill", "flatness", "edge", "labels", "heard")


def first_off(asked: ask.FirstOffRequest, pen: Pen, entry: UUID) -> Told:
    """Sign the first-off card."""
    state = pen.run(asked.run)
    _counted(state, asked.closure, "closure")
    words = {name: getattr(asked, name) for name in _CHECKS}
    verdict = worst(list(words.values()))
    pen.add(
        tables.FirstOff, entry, run=state.run, closure=asked.closure, verdict=verdict, **words,
        **values_of(asked, "mass_g", "thickness_mm", "note"),
    )  # fmt: skip
    cautions = []
    unchecked = [name for name, word in words.items() if word == "not_checked"]
    if unchecked:
        cautions.append(f"Not checked: {', '.join(unchecked)}.")
    if any(one.ref == pen.who for one in pen.standing(state.run, "operator")):
        cautions.append("Signed by the press operator; the first-off is quality's to sign.")
    if verdict != "pass":
        cautions.append("The press waits until a first-off passes.")
    return Told(said=f"First-off of run {state.run}, closure {asked.closure}.", verdict=verdict,
                cautions=tuple(cautions))  # fmt: skip


def sample(asked: ask.SampleRequest, pen: Pen, entry: UUID) -> Told:
    """Take a copy out and note which closure it is."""
    name = pen.free(tables.Sample, asked.sample, "sample")
    state = pen.run(asked.run)
    closure = state.closures if asked.closure is None else asked.closure
    if closure < 1:
        raise InputError(f"run {state.run} has counted no closure yet; read the counter first")
    _counted(state, closure, "closure")
    for span in pen.standing(state.run, "blank"):
        if asked.slack == 0 and span.first_high <= closure <= (span.last_low or 0):
            raise InputError(f"closure {closure} of run {state.run} was blank; correct the closure")
    pen.add(
        tables.Sample, entry, sample=name, run=state.run, closure=closure, slack=asked.slack,
        **values_of(asked, "purpose", "verdict", "faults", "mass_g", "thickness_mm"),
    )  # fmt: skip
    pen.move(entry, state, At(asked.source), At.SAMPLE, 1, cause=asked.purpose, first=closure, last=closure)
    about = f" (±{asked.slack})" if asked.slack else ""
    return Told(said=f"Sample {name} is closure {closure}{about} of run {state.run}.")


def play(asked: ask.PlayRequest, pen: Pen, entry: UUID) -> Told:
    """Note a placing of a sample."""
    name = pen.need(tables.Sample, asked.sample, "sample")
    values = values_of(asked, "side", "placing", "push", "player", "stylus", "capture", "analysis", "washed")
    pen.add(tables.Play, entry, sample=name, **values)
    return Told(said=f"Sample {name}, placing {asked.placing}.")


def heard(asked: ask.HeardRequest, pen: Pen, entry: UUID) -> Told:
    """Note what a listener says of a place on a recording; a second word stands beside the first."""
    key = pen.need(tables.Analysed, asked.analysis, "analysis", "key")
    pen.add(tables.Heard, entry, analysis=key, programme_s=asked.programme_s, word=asked.word)
    return Told(said=f"{asked.word.replace('_', ' ').capitalize()} at {clock(asked.programme_s)}.")
