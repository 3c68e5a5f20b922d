"""Labels: lots, drying with the weight-loss check, reconciliation."""

from math import hypot
from uuid import UUID

from runtrue.contract.listening import VerdictWord
from runtrue.errors import InputError
from runtrue.quantities import quantity
from runtrue.records import tables
from runtrue.records.pen import Pen
from runtrue.stats import conformity
from runtrue.types import Finding, Limit, Measurement
from runtrue.units import PERCENT
from runtrue.workflow.papers import ask_job as ask
from runtrue.workflow.papers.job import matrix_of
from runtrue.workflow.papers.paper import Told, values_of


def labels(asked: ask.LabelsRequest, pen: Pen, entry: UUID) -> Told:
    """Enter a lot of labels."""
    lot = pen.free(tables.LabelLot, asked.lot, "lot")
    job = pen.need(tables.Ticket, asked.job, "job")
    side = asked.side.strip()
    if matrix_of(pen, job, side) is None:
        raise InputError(f"job {job} has no side '{side}'; correct the side, or add it to the ticket")
    pen.add(tables.LabelLot, entry, lot=lot, job=job, side=side, **values_of(asked, "received", "printer", "note"))
    return Told(said=f"Label lot {lot}: {asked.received} for side {side} of job {job}.")


def drying(asked: ask.DryingRequest, pen: Pen, entry: UUID) -> Told:
    """Enter a drying with its weight-loss check."""
    lot = pen.need(tables.LabelLot, asked.lot, "lot")
    if asked.after_g > asked.before_g + (asked.scale_u95_g or 0.0) * 2**0.5:
        raise InputError(
            f"labels do not gain mass in the oven: {asked.before_g:g} g before, {asked.after_g:g} g after; exchange or "
            "weigh again"
        )
    loss, finding = judge_loss(asked, pen.at.date().isoformat(), pen.who)
    verdict: VerdictWord | None = None if finding is None else finding.verdict.value
    pen.add(
        tables.Drying, entry, lot=lot, loss_percent=loss, verdict=verdict,
        conformance_probability=None if finding is None else finding.conformance_probability,
        **values_of(asked, "oven", "oven_degc", "hours", "before_g", "after_g", "limit_percent"),
    )  # fmt: skip
    cautions = [] if finding is None or not finding.measurement.reason else [finding.measurement.reason + "."]
    if finding is None:
        cautions.append("No limit was given: whether the labels are dry enough is not judged.")
    return Told(said=f"Label lot {lot} lost {loss:.2f} % in the check.", verdict=verdict, cautions=tuple(cautions))


def judge_loss(asked: ask.DryingRequest, date: str, who: str) -> tuple[float, Finding | None]:
    r"""Loss of the check [%] and its finding; None without a limit.

    The loss :math:`L = (b - a) / b` of two weighings with one U95 u each has
    :math:`u_L = u \sqrt{1 + (a / b)^2} / b` (linear propagation, JCGM 100:2008, 5.1.2). That a stack which still loses
    mass is still damp is common practice, no source; the limit is the house's.
    """
    before, after = asked.before_g, asked.after_g
    loss = (before - after) / before
    if asked.limit_percent is None:
        return loss / PERCENT, None
    name = quantity("label_weight_loss").id
    limit = Limit(
        quantity=name, upper=asked.limit_percent * PERCENT, owner=asked.limit_owner or who, source="drying log",
        date=date,
    )  # fmt: skip
    if asked.scale_u95_g is None:
        measured = Measurement(quantity=name, value=None, reason="The U95 of a weighing was not given (--scale-u95-g)")
    else:
        u95 = asked.scale_u95_g * hypot(1.0, after / before) / before
        measured = Measurement(quantity=name, value=loss, u95=u95)
    return loss / PERCENT, conformity.judge([measured], [limit])[0]


def reconcile(asked: ask.ReconcileRequest, pen: Pen, entry: UUID) -> Told:
    """Reconcile the labels of a lot at a run."""
    lot = pen.need(tables.LabelLot, asked.lot, "lot")
    state = pen.run(asked.run)
    values = values_of(asked, "issued", "used", "spoiled", "returned")
    pen.add(tables.LabelCount, entry, lot=lot, run=state.run, **values)
    gap = asked.issued - asked.used - asked.spoiled - asked.returned
    cautions = []
    if gap:
        word = "are missing" if gap > 0 else "are too many"
        cautions.append(
            f"{abs(gap)} labels {word}: look on the warming plate, under the press, and among the other title's labels."
        )
    return Told(said=f"Label lot {lot} at run {state.run}: {asked.used} used.", cautions=tuple(cautions))
