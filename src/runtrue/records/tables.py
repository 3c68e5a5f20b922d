"""The tables of the book. Entries and the papers they carry only grow; triggers see to it (``guards``).

Every typed row belongs to an entry, which says who wrote it, when and why, and which entry it replaces. What stands is
what no later entry replaces. Projections (holdings, standing spans, counts) are worked out from the entries and may be
made anew at any time; work that waits lies in a table of its own that may change.
"""

from datetime import UTC, datetime
from typing import Any, ClassVar
from uuid import UUID

from sqlalchemy import JSON, BigInteger, DateTime, Float, ForeignKey, Index, String, Table, Text, TypeDecorator, Uuid
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column


class Utc(TypeDecorator[datetime]):
    """A moment in UTC, the same from both databases."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> datetime | None:
        """Keep the moment in UTC; SQLite keeps no zone."""
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Any) -> datetime | None:
        """Give the moment with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """All tables."""

    type_annotation_map = {str: Text, int: BigInteger, float: Float(53), datetime: Utc, UUID: Uuid}  # noqa: RUF012


class Entry(Base):
    """The spine: one row for everything that was ever written."""

    __tablename__ = "entry"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    plant: Mapped[str]
    seq: Mapped[int]
    at: Mapped[datetime]
    who: Mapped[str]
    reason: Mapped[str]
    replaces: Mapped[UUID | None] = mapped_column(ForeignKey("entry.id"), unique=True)
    kind: Mapped[str]
    source: Mapped[str | None] = mapped_column(String(64), unique=True)
    """Digest of the imported row it came from; the same row never comes in twice."""
    __table_args__ = (Index("entry_plant_seq", "plant", "seq", unique=True), Index("entry_kind", "kind", "at"))


class Row(Base):
    """A typed row with one to an entry."""

    __abstract__ = True

    @declared_attr
    @classmethod
    def entry(cls) -> Mapped[UUID]:
        """The entry it belongs to."""
        return mapped_column(ForeignKey("entry.id"), primary_key=True)


class Line(Row):
    """A typed row with several to an entry, counted from 1."""

    __abstract__ = True
    line: Mapped[int] = mapped_column(primary_key=True)


class Opened(Row):
    """The book was begun, or brought to a newer form."""

    __tablename__ = "opened"
    revision: Mapped[str]
    version: Mapped[str]


class Ticket(Row):
    """Job ticket: one title, one format, one order."""

    __tablename__ = "ticket"
    NAMED_BY: ClassVar[str] = "job"
    job: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    artist: Mapped[str | None]
    customer: Mapped[str | None]
    catalogue: Mapped[str | None] = mapped_column(index=True)
    format: Mapped[str]
    ordered: Mapped[int]
    overs_percent: Mapped[float | None]
    mass_g: Mapped[float | None]
    colour: Mapped[str | None]
    regrind: Mapped[str | None]
    due: Mapped[str | None]
    note: Mapped[str | None]


class Side(Line):
    """A side of a job: its label and its matrix number."""

    __tablename__ = "side"
    job: Mapped[str] = mapped_column(index=True)
    side: Mapped[str]
    matrix: Mapped[str] = mapped_column(index=True)


class MetalPiece(Row):
    """Metal register: cut, father, mother or stamper."""

    __tablename__ = "metal"
    metal: Mapped[str] = mapped_column(index=True)
    matrix: Mapped[str] = mapped_column(index=True)
    generation: Mapped[str]
    parent: Mapped[str | None] = mapped_column(index=True)
    grown: Mapped[str | None]
    bath: Mapped[str | None]
    thickness_um: Mapped[float | None]
    impressions: Mapped[int]
    owner: Mapped[str | None]
    kept: Mapped[str | None]
    inspector: Mapped[str | None]
    note: Mapped[str | None]


class MetalCard(Row):
    """A line of a stamper's or mother's card: its state, or a repair with its place."""

    __tablename__ = "metal_card"
    metal: Mapped[str] = mapped_column(index=True)
    state: Mapped[str]
    kept: Mapped[str | None]
    inspector: Mapped[str | None]
    programme_s: Mapped[float | None]
    angle_deg: Mapped[float | None]
    note: Mapped[str | None]


class Batch(Row):
    """Compound batch sheet, its head."""

    __tablename__ = "batch"
    batch: Mapped[str] = mapped_column(index=True)
    formula: Mapped[str]
    mass_kg: Mapped[float]
    regrind_percent: Mapped[float | None]
    mixed_by: Mapped[str | None]
    note: Mapped[str | None]


class Weighing(Row):
    """Compound batch sheet, one ingredient."""

    __tablename__ = "weighing"
    batch: Mapped[str] = mapped_column(index=True)
    ingredient: Mapped[str]
    lot: Mapped[str] = mapped_column(index=True)
    target_kg: Mapped[float | None]
    mass_kg: Mapped[float]
    scale: Mapped[str | None]
    operator: Mapped[str | None]
    checked_by: Mapped[str | None]


class Issue(Row):
    """Compound taken to a press for a run."""

    __tablename__ = "issue"
    batch: Mapped[str] = mapped_column(index=True)
    run: Mapped[str] = mapped_column(index=True)
    mass_kg: Mapped[float]


class LabelLot(Row):
    """Labels as they came from the printer."""

    __tablename__ = "label_lot"
    NAMED_BY: ClassVar[str] = "lot"
    lot: Mapped[str] = mapped_column(index=True)
    job: Mapped[str] = mapped_column(index=True)
    side: Mapped[str]
    received: Mapped[int]
    printer: Mapped[str | None]
    note: Mapped[str | None]


class Drying(Row):
    """Label drying log with its weight-loss check."""

    __tablename__ = "drying"
    lot: Mapped[str] = mapped_column(index=True)
    oven: Mapped[str | None]
    oven_degc: Mapped[float | None]
    hours: Mapped[float | None]
    before_g: Mapped[float]
    after_g: Mapped[float]
    loss_percent: Mapped[float]
    limit_percent: Mapped[float | None]
    conformance_probability: Mapped[float | None]
    verdict: Mapped[str | None]


class LabelCount(Row):
    """Label reconciliation of a lot at a run."""

    __tablename__ = "label_count"
    lot: Mapped[str] = mapped_column(index=True)
    run: Mapped[str] = mapped_column(index=True)
    issued: Mapped[int]
    used: Mapped[int]
    spoiled: Mapped[int]
    returned: Mapped[int]


class Run(Row):
    """Closures of one cavity of a press for a job, counted from 1."""

    __tablename__ = "run"
    run: Mapped[str] = mapped_column(index=True)
    job: Mapped[str] = mapped_column(index=True)
    press: Mapped[str] = mapped_column(index=True)
    cavity: Mapped[str]
    counter: Mapped[int]


class SetUp(Row):
    """Set-up sheet with line clearance and identity check."""

    __tablename__ = "set_up"
    run: Mapped[str] = mapped_column(index=True)
    closure: Mapped[int]
    clearance: Mapped[str]
    cleared_by: Mapped[str | None]
    scribing_a: Mapped[str | None]
    scribing_b: Mapped[str | None]
    identity: Mapped[str]
    mould: Mapped[str | None]
    note: Mapped[str | None]


class Reading(Line):
    """A reading of the press counter, or its being set anew; ``closures`` is the run's count at that moment."""

    __tablename__ = "reading"
    run: Mapped[str] = mapped_column(index=True)
    counter: Mapped[int]
    closures: Mapped[int]
    set_to: Mapped[int | None]


class PressStop(Row):
    """The press stood."""

    __tablename__ = "press_stop"
    run: Mapped[str] = mapped_column(index=True)
    closure: Mapped[int]
    minutes: Mapped[float]
    cause: Mapped[str]


class Span(Line):
    """What held over which closures. ``last`` is None for what holds until the next of its kind."""

    __tablename__ = "span"
    run: Mapped[str]
    kind: Mapped[str]
    ref: Mapped[str]
    first: Mapped[int]
    last: Mapped[int | None]
    slack_first: Mapped[int]
    slack_last: Mapped[int]
    records: Mapped[int | None]
    __table_args__ = (Index("span_run_kind", "run", "kind"),)


class Move(Line):
    """Records that go from one place to another; ``first`` and ``last`` where the closures are known."""

    __tablename__ = "move"
    run: Mapped[str] = mapped_column(index=True)
    source: Mapped[str]
    target: Mapped[str]
    records: Mapped[int]
    cause: Mapped[str | None]
    first: Mapped[int | None]
    last: Mapped[int | None]


class FirstOff(Row):
    """First-off card."""

    __tablename__ = "first_off"
    run: Mapped[str] = mapped_column(index=True)
    closure: Mapped[int]
    identity: Mapped[str]
    centre: Mapped[str]
    fill: Mapped[str]
    flatness: Mapped[str]
    edge: Mapped[str]
    labels: Mapped[str]
    heard: Mapped[str]
    mass_g: Mapped[float | None]
    thickness_mm: Mapped[float | None]
    verdict: Mapped[str]
    note: Mapped[str | None]


class Sample(Row):
    """A record taken from the run, by its closure."""

    __tablename__ = "sample"
    sample: Mapped[str] = mapped_column(index=True)
    run: Mapped[str] = mapped_column(index=True)
    closure: Mapped[int]
    slack: Mapped[int]
    purpose: Mapped[str]
    verdict: Mapped[str | None]
    faults: Mapped[str | None]
    mass_g: Mapped[float | None]
    thickness_mm: Mapped[float | None]


class Play(Row):
    """A placing of a sample on a player, and the analysis of its recording."""

    __tablename__ = "play"
    sample: Mapped[str] = mapped_column(index=True)
    side: Mapped[str | None]
    placing: Mapped[int]
    push: Mapped[str | None]
    player: Mapped[str | None]
    stylus: Mapped[str | None]
    capture: Mapped[str | None]
    analysis: Mapped[str | None] = mapped_column(index=True)
    washed: Mapped[str | None]
    """ "yes" or "no": before this placing; None where nobody said."""


class Heard(Row):
    """What a listener says of a place on a recording: its writer is the listener."""

    __tablename__ = "heard"
    analysis: Mapped[str] = mapped_column(String(64), index=True)
    programme_s: Mapped[float]
    word: Mapped[str]


class Pile(Row):
    """Pile tag: closures on one cooling pin, bottom first or top first, and until when they rest."""

    __tablename__ = "pile"
    run: Mapped[str] = mapped_column(index=True)
    pile: Mapped[str] = mapped_column(index=True)
    direction: Mapped[str]
    records: Mapped[int]
    rest_until: Mapped[datetime | None]


class Release(Row):
    """A pile that has rested: good, held and scrapped."""

    __tablename__ = "release"
    run: Mapped[str] = mapped_column(index=True)
    pile: Mapped[str]
    good: Mapped[int]
    held: Mapped[int]
    scrapped: Mapped[int]
    cause: Mapped[str | None]


class Box(Row):
    """Records of a pile put into a box."""

    __tablename__ = "box"
    job: Mapped[str] = mapped_column(index=True)
    box: Mapped[str] = mapped_column(index=True)
    run: Mapped[str] = mapped_column(index=True)
    pile: Mapped[str | None]
    end: Mapped[str | None]
    records: Mapped[int]


class Pallet(Row):
    """A box put on a pallet."""

    __tablename__ = "pallet"
    pallet: Mapped[str] = mapped_column(index=True)
    job: Mapped[str]
    box: Mapped[str] = mapped_column(index=True)


class Consignment(Row):
    """A pallet or a box sent away."""

    __tablename__ = "consignment"
    consignment: Mapped[str] = mapped_column(index=True)
    customer: Mapped[str | None]
    pallet: Mapped[str | None] = mapped_column(index=True)
    job: Mapped[str | None]
    box: Mapped[str | None] = mapped_column(index=True)
    records: Mapped[int]
    invoiced: Mapped[int | None]


class Complaint(Row):
    """A reported fault with copy, side and time."""

    __tablename__ = "complaint"
    complaint: Mapped[str] = mapped_column(index=True)
    job: Mapped[str] = mapped_column(index=True)
    box: Mapped[str | None] = mapped_column(index=True)
    consignment: Mapped[str | None]
    sample: Mapped[str | None]
    side: Mapped[str | None]
    programme_s: Mapped[float | None]
    fault: Mapped[str]
    verdict: Mapped[str | None]
    cause: Mapped[str | None]
    action: Mapped[str | None]
    returned: Mapped[int]


class HandCount(Row):
    """A hand count of a place beside what the book had."""

    __tablename__ = "hand_count"
    run: Mapped[str] = mapped_column(index=True)
    place: Mapped[str]
    counted: Mapped[int]
    expected: Mapped[int]


class Scrap(Row):
    """Scrap and regrind ledger: mass by kind, and where it went."""

    __tablename__ = "scrap"
    run: Mapped[str | None] = mapped_column(index=True)
    material: Mapped[str]
    mass_kg: Mapped[float]
    records: Mapped[int]
    goes_to: Mapped[str]
    batch: Mapped[str | None]


class Gauge(Row):
    """Gauge and rig log: a gauge or player against what it should read."""

    __tablename__ = "gauge"
    gauge: Mapped[str] = mapped_column(index=True)
    quantity: Mapped[str]
    unit: Mapped[str]
    reference: Mapped[float]
    reading: Mapped[float]
    u95: Mapped[float | None]
    tolerance: Mapped[float]
    verdict: Mapped[str]
    stylus: Mapped[str | None]
    stylus_hours: Mapped[float | None]
    due: Mapped[str | None]


class Analysed(Row):
    """One analysis: what was asked of which inputs by which method. Its findings stand beside it."""

    __tablename__ = "analysis"
    key: Mapped[str] = mapped_column(String(64), index=True)
    action: Mapped[str]
    method: Mapped[str]
    version: Mapped[str]
    settings_digest: Mapped[str] = mapped_column(String(64))
    house_digest: Mapped[str] = mapped_column(String(64))
    verdict: Mapped[str | None]


class AnalysedInput(Line):
    """An input of an analysis by its digest."""

    __tablename__ = "analysis_input"
    role: Mapped[str]
    digest: Mapped[str] = mapped_column(String(64), index=True)
    name: Mapped[str]


class Found(Line):
    """A finding of an analysis: measurement beside its limit, in the shown unit of its quantity."""

    __tablename__ = "finding"
    quantity: Mapped[str]
    value: Mapped[float | None]
    u95: Mapped[float | None]
    about: Mapped[str]
    reason: Mapped[str | None]
    lower: Mapped[float | None]
    upper: Mapped[float | None]
    limit_owner: Mapped[str | None]
    limit_source: Mapped[str | None]
    conformance_probability: Mapped[float | None]
    verdict: Mapped[str]


class Capture(Row):
    """A recording or picture kept by its digest; ``keep`` is its retention class."""

    __tablename__ = "capture"
    digest: Mapped[str] = mapped_column(String(64), index=True)
    name: Mapped[str]
    size: Mapped[int]
    keep: Mapped[str]
    until: Mapped[datetime | None]


class CaptureGone(Row):
    """A recording whose retention ended: gone, digest kept."""

    __tablename__ = "capture_gone"
    digest: Mapped[str] = mapped_column(String(64), index=True)


class HandOver(Row):
    """Shift hand-over as it was signed."""

    __tablename__ = "hand_over"
    shift: Mapped[str]
    since: Mapped[datetime]
    upto: Mapped[datetime]
    text: Mapped[str]


class Withdrawal(Row):
    """The entry it replaces is void and nothing takes its place."""

    __tablename__ = "withdrawal"
    kind: Mapped[str]


# projections: made anew by `book check`


class Holding(Base):
    """How many records of a run are in a place."""

    __tablename__ = "holding"
    run: Mapped[str] = mapped_column(primary_key=True)
    place: Mapped[str] = mapped_column(primary_key=True)
    records: Mapped[int]


class Counted(Base):
    """How far a run has counted, and the counter reading that means it."""

    __tablename__ = "counted"
    run: Mapped[str] = mapped_column(primary_key=True)
    closures: Mapped[int]
    counter: Mapped[int]


class Standing(Base):
    """A span as it stands: ends with their slack; ``last`` is None while it still holds."""

    __tablename__ = "standing"
    entry: Mapped[UUID] = mapped_column(ForeignKey("entry.id"), primary_key=True)
    line: Mapped[int] = mapped_column(primary_key=True)
    run: Mapped[str]
    kind: Mapped[str]
    ref: Mapped[str]
    first_low: Mapped[int]
    first_high: Mapped[int]
    last_low: Mapped[int | None]
    last_high: Mapped[int | None]
    records: Mapped[int | None]
    __table_args__ = (
        Index("standing_run_kind_first", "run", "kind", "first_low"),
        Index("standing_kind_ref", "kind", "ref"),
    )


# work that waits: changes as it goes on


class Task(Base):
    """A long action that waits for a worker, is done by one under a lease, or is done."""

    __tablename__ = "task"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    action: Mapped[str]
    request: Mapped[dict[str, Any]] = mapped_column(JSON)
    state: Mapped[str] = mapped_column(String(12))
    created: Mapped[datetime]
    who: Mapped[str]
    worker: Mapped[str | None]
    lease_until: Mapped[datetime | None]
    attempts: Mapped[int]
    doing: Mapped[str | None]
    share: Mapped[float]
    cancel: Mapped[bool]
    result: Mapped[str | None]
    error: Mapped[str | None]
    finished: Mapped[datetime | None]
    __table_args__ = (Index("task_state", "state", "created"),)


PROJECTIONS: tuple[type[Base], ...] = (Holding, Counted, Standing)
MUTABLE: tuple[type[Base], ...] = (*PROJECTIONS, Task)


def table_of(model: type[Base]) -> Table:
    """The table of a model."""
    found = model.__table__
    assert isinstance(found, Table)
    return found


def name_of(model: type[Base]) -> str:
    """Column of a table that holds the name people know a thing by."""
    return str(getattr(model, "NAMED_BY", model.__tablename__))


def grown() -> list[Table]:
    """Tables that only grow, the spine first."""
    mutable = {table_of(model) for model in MUTABLE}
    return [table for table in Base.metadata.sorted_tables if table not in mutable]
