"""The office's, the metal room's and the compound room's papers."""

from uuid import UUID

from runtrue.errors import InputError
from runtrue.records import tables
from runtrue.records.pen import Pen, clean_name
from runtrue.stamper.metal import PARENT, Generation
from runtrue.workflow.papers import ask_job as ask
from runtrue.workflow.papers.paper import Told, day, values_of


def ticket(asked: ask.TicketRequest, pen: Pen, entry: UUID) -> Told:
    """Open a job."""
    job = pen.free(tables.Ticket, asked.job, "job")
    values = values_of(
        asked, "title", "artist", "customer", "catalogue", "format", "ordered", "overs_percent", "mass_g", "colour",
        "regrind", "note",
    )  # fmt: skip
    values["title"] = clean_name("title", asked.title)
    pen.add(tables.Ticket, entry, job=job, due=day("due", asked.due), **values)
    sides = [("A", asked.matrix_a), ("B", asked.matrix_b)]
    for side, matrix in sides:
        if matrix is not None:
            pen.add(tables.Side, entry, job=job, side=side, matrix=clean_name(f"matrix of side {side}", matrix))
    return Told(said=f"Job {job}, “{values['title']}”: {asked.ordered} ordered.")


def side(asked: ask.SideRequest, pen: Pen, entry: UUID) -> Told:
    """Add a side to a job."""
    job = pen.need(tables.Ticket, asked.job, "job")
    label = clean_name("side", asked.side)
    if matrix_of(pen, job, label) is not None:
        raise InputError(f"side {label} of job {job} is in the book already; correct that entry with --replaces")
    matrix = clean_name("matrix", asked.matrix)
    pen.add(tables.Side, entry, job=job, side=label, matrix=matrix)
    return Told(said=f"Job {job}, side {label}: matrix {matrix}.")


def matrix_of(pen: Pen, job: str, label: str) -> str | None:
    """Matrix number of a side of a job; None where the ticket has no such side."""
    found = pen.where(tables.Side, job=job, side=label)
    return str(found.matrix) if found is not None else None


def metal(asked: ask.MetalRequest, pen: Pen, entry: UUID) -> Told:
    """Enter a piece of metal with what it was grown from."""
    piece = pen.free(tables.MetalPiece, asked.metal, "metal")
    matrix = clean_name("matrix", asked.matrix)
    parent = None if asked.parent is None else pen.need(tables.MetalPiece, asked.parent, "parent")
    if parent is not None:
        _check_parent(pen, asked.generation, matrix, parent)
    elif asked.generation == "mother":
        raise InputError(f"metal {piece}: a mother is grown from a father; name it with --parent")
    values = values_of(
        asked, "generation", "bath", "thickness_um", "impressions", "owner", "kept", "inspector", "note"
    )  # fmt: skip
    pen.add(
        tables.MetalPiece, entry, metal=piece, matrix=matrix, parent=parent, grown=day("grown", asked.grown), **values
    )  # fmt: skip
    grown = f", grown from {parent}" if parent else ""
    return Told(said=f"{asked.generation.capitalize()} {piece}, matrix {matrix}{grown}.")


_GROWN_FROM = {
    "father": ("cut",),
    **{child.value: (parent.value,) for child, parent in PARENT.items()},
    "stamper": ("mother", "father", "cut"),
}
"""Father and cut stand there for short runs, where the first metal itself goes to the press."""


def _check_parent(pen: Pen, generation: str, matrix: str, parent: str) -> None:
    row = pen.row(tables.MetalPiece, parent)
    if row.matrix != matrix:
        raise InputError(f"parent {parent} is of matrix {row.matrix}, not {matrix}; correct one of them")
    allowed = _GROWN_FROM.get(generation, ())
    if row.generation not in allowed:
        raise InputError(
            f"a {generation} is not grown from a {row.generation}; allowed is {' or '.join(allowed) or 'no parent'}: "
            "correct the parent"
        )


def card(asked: ask.CardRequest, pen: Pen, entry: UUID) -> Told:
    """Write a line on a piece's card."""
    piece = pen.need(tables.MetalPiece, asked.metal, "metal")
    values = values_of(asked, "state", "kept", "inspector", "programme_s", "angle_deg", "note")
    pen.add(tables.MetalCard, entry, metal=piece, **values)
    cautions: tuple[str, ...] = ()
    if asked.state == "repaired" and asked.programme_s is None:
        cautions = ("The repair's place is not stated: nobody can listen to it on the copies.",)
    return Told(said=f"{piece}: {asked.state.replace('_', ' ')}.", cautions=cautions)


def is_stamper(pen: Pen, name: str, what: str) -> str:
    """Name of a stamper of the register that may go to the press."""
    piece = pen.need(tables.MetalPiece, name, what)
    row = pen.row(tables.MetalPiece, piece)
    if row.generation not in (Generation.STAMPER.value, Generation.FATHER.value):
        raise InputError(f"{what} {piece} is a {row.generation}; a stamper goes on the press: name it")
    state = pen.row(tables.MetalCard, piece, "metal")
    if state is not None and state.state in ("retired", "scrapped"):
        raise InputError(f"{what} {piece} is {state.state}; take another, or write on its card why it comes back")
    return piece


def batch(asked: ask.BatchRequest, pen: Pen, entry: UUID) -> Told:
    """Enter the head of a batch sheet."""
    name = pen.free(tables.Batch, asked.batch, "batch")
    pen.add(
        tables.Batch, entry, batch=name, formula=clean_name("formula", asked.formula),
        **values_of(asked, "mass_kg", "regrind_percent", "mixed_by", "note"),
    )  # fmt: skip
    return Told(said=f"Batch {name}: {asked.mass_kg:g} kg by {asked.formula}.")


def weighing(asked: ask.WeighingRequest, pen: Pen, entry: UUID) -> Told:
    """Enter an ingredient of a batch."""
    name = pen.need(tables.Batch, asked.batch, "batch")
    values = values_of(asked, "ingredient", "lot", "mass_kg", "target_kg", "scale", "operator", "checked_by")
    values["ingredient"] = clean_name("ingredient", asked.ingredient)
    values["lot"] = clean_name("lot", asked.lot)
    pen.add(tables.Weighing, entry, batch=name, **values)
    same = asked.operator is not None and asked.operator == asked.checked_by
    return Told(
        said=f"Batch {name}: {asked.mass_kg:g} kg {values['ingredient']}, lot {values['lot']}.",
        cautions=("Weighed and checked by one person: a second person should check.",) if same else (),
    )


def issue(asked: ask.IssueRequest, pen: Pen, entry: UUID) -> Told:
    """Take compound to a press."""
    name = pen.need(tables.Batch, asked.batch, "batch")
    run = pen.run(asked.run).run
    pen.add(tables.Issue, entry, batch=name, run=run, mass_kg=asked.mass_kg)
    return Told(said=f"{asked.mass_kg:g} kg of batch {name} to run {run}.")
