"""The first form of the book."""

import sqlalchemy as sa
from alembic import op

from runtrue.records.guards import guard

revision = "0001"
down_revision = None

GROWS = (
    "entry",
    "analysis",
    "analysis_input",
    "batch",
    "box",
    "capture",
    "capture_gone",
    "complaint",
    "consignment",
    "drying",
    "finding",
    "first_off",
    "gauge",
    "hand_count",
    "hand_over",
    "issue",
    "label_count",
    "label_lot",
    "metal",
    "metal_card",
    "move",
    "opened",
    "pallet",
    "pile",
    "play",
    "press_stop",
    "reading",
    "release",
    "run",
    "sample",
    "scrap",
    "set_up",
    "side",
    "span",
    "ticket",
    "weighing",
    "withdrawal",
)
"""Tables that only grow."""


def upgrade() -> None:
    """Make the tables and the triggers that guard them."""
    op.create_table(
        "counted",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("closures", sa.BigInteger(), nullable=False),
        sa.Column("counter", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("run"),
    )
    op.create_table(
        "entry",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("plant", sa.Text(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("replaces", sa.Uuid(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("source", sa.String(length=64), nullable=True),
        sa.ForeignKeyConstraint(
            ["replaces"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("replaces"),
        sa.UniqueConstraint("source"),
    )
    op.create_index("entry_kind", "entry", ["kind", "at"], unique=False)
    op.create_index("entry_plant_seq", "entry", ["plant", "seq"], unique=True)
    op.create_table(
        "holding",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("run", "place"),
    )
    op.create_table(
        "task",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("request", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("worker", sa.Text(), nullable=True),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("attempts", sa.BigInteger(), nullable=False),
        sa.Column("doing", sa.Text(), nullable=True),
        sa.Column("share", sa.Float(53), nullable=False),
        sa.Column("cancel", sa.Boolean(), nullable=False),
        sa.Column("result", sa.Text(), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.Column("finished", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("task_state", "task", ["state", "created"], unique=False)
    op.create_table(
        "analysis",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.Column("settings_digest", sa.String(length=64), nullable=False),
        sa.Column("house_digest", sa.String(length=64), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_analysis_key"), "analysis", ["key"], unique=False)
    op.create_table(
        "analysis_input",
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_index(op.f("ix_analysis_input_digest"), "analysis_input", ["digest"], unique=False)
    op.create_table(
        "batch",
        sa.Column("batch", sa.Text(), nullable=False),
        sa.Column("formula", sa.Text(), nullable=False),
        sa.Column("mass_kg", sa.Float(53), nullable=False),
        sa.Column("regrind_percent", sa.Float(53), nullable=True),
        sa.Column("mixed_by", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_batch_batch"), "batch", ["batch"], unique=False)
    op.create_table(
        "box",
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("box", sa.Text(), nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("pile", sa.Text(), nullable=True),
        sa.Column("end", sa.Text(), nullable=True),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_box_box"), "box", ["box"], unique=False)
    op.create_index(op.f("ix_box_job"), "box", ["job"], unique=False)
    op.create_index(op.f("ix_box_run"), "box", ["run"], unique=False)
    op.create_table(
        "capture",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("keep", sa.Text(), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_capture_digest"), "capture", ["digest"], unique=False)
    op.create_table(
        "capture_gone",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_capture_gone_digest"), "capture_gone", ["digest"], unique=False)
    op.create_table(
        "complaint",
        sa.Column("complaint", sa.Text(), nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("box", sa.Text(), nullable=True),
        sa.Column("consignment", sa.Text(), nullable=True),
        sa.Column("sample", sa.Text(), nullable=True),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("programme_s", sa.Float(53), nullable=True),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("cause", sa.Text(), nullable=True),
        sa.Column("action", sa.Text(), nullable=True),
        sa.Column("returned", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_complaint_box"), "complaint", ["box"], unique=False)
    op.create_index(op.f("ix_complaint_complaint"), "complaint", ["complaint"], unique=False)
    op.create_index(op.f("ix_complaint_job"), "complaint", ["job"], unique=False)
    op.create_table(
        "consignment",
        sa.Column("consignment", sa.Text(), nullable=False),
        sa.Column("customer", sa.Text(), nullable=True),
        sa.Column("pallet", sa.Text(), nullable=True),
        sa.Column("job", sa.Text(), nullable=True),
        sa.Column("box", sa.Text(), nullable=True),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.Column("invoiced", sa.BigInteger(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_consignment_box"), "consignment", ["box"], unique=False)
    op.create_index(op.f("ix_consignment_consignment"), "consignment", ["consignment"], unique=False)
    op.create_index(op.f("ix_consignment_pallet"), "consignment", ["pallet"], unique=False)
    op.create_table(
        "drying",
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("oven", sa.Text(), nullable=True),
        sa.Column("oven_degc", sa.Float(53), nullable=True),
        sa.Column("hours", sa.Float(53), nullable=True),
        sa.Column("before_g", sa.Float(53), nullable=False),
        sa.Column("after_g", sa.Float(53), nullable=False),
        sa.Column("loss_percent", sa.Float(53), nullable=False),
        sa.Column("limit_percent", sa.Float(53), nullable=True),
        sa.Column("conformance_probability", sa.Float(53), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_drying_lot"), "drying", ["lot"], unique=False)
    op.create_table(
        "finding",
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(53), nullable=True),
        sa.Column("u95", sa.Float(53), nullable=True),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("lower", sa.Float(53), nullable=True),
        sa.Column("upper", sa.Float(53), nullable=True),
        sa.Column("limit_owner", sa.Text(), nullable=True),
        sa.Column("limit_source", sa.Text(), nullable=True),
        sa.Column("conformance_probability", sa.Float(53), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_table(
        "first_off",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("closure", sa.BigInteger(), nullable=False),
        sa.Column("identity", sa.Text(), nullable=False),
        sa.Column("centre", sa.Text(), nullable=False),
        sa.Column("fill", sa.Text(), nullable=False),
        sa.Column("flatness", sa.Text(), nullable=False),
        sa.Column("edge", sa.Text(), nullable=False),
        sa.Column("labels", sa.Text(), nullable=False),
        sa.Column("heard", sa.Text(), nullable=False),
        sa.Column("mass_g", sa.Float(53), nullable=True),
        sa.Column("thickness_mm", sa.Float(53), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_first_off_run"), "first_off", ["run"], unique=False)
    op.create_table(
        "gauge",
        sa.Column("gauge", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("reference", sa.Float(53), nullable=False),
        sa.Column("reading", sa.Float(53), nullable=False),
        sa.Column("u95", sa.Float(53), nullable=True),
        sa.Column("tolerance", sa.Float(53), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("stylus", sa.Text(), nullable=True),
        sa.Column("stylus_hours", sa.Float(53), nullable=True),
        sa.Column("due", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_gauge_gauge"), "gauge", ["gauge"], unique=False)
    op.create_table(
        "hand_count",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("counted", sa.BigInteger(), nullable=False),
        sa.Column("expected", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_hand_count_run"), "hand_count", ["run"], unique=False)
    op.create_table(
        "hand_over",
        sa.Column("shift", sa.Text(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("upto", sa.DateTime(timezone=True), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_table(
        "issue",
        sa.Column("batch", sa.Text(), nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("mass_kg", sa.Float(53), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_issue_batch"), "issue", ["batch"], unique=False)
    op.create_index(op.f("ix_issue_run"), "issue", ["run"], unique=False)
    op.create_table(
        "label_count",
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("issued", sa.BigInteger(), nullable=False),
        sa.Column("used", sa.BigInteger(), nullable=False),
        sa.Column("spoiled", sa.BigInteger(), nullable=False),
        sa.Column("returned", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_label_count_lot"), "label_count", ["lot"], unique=False)
    op.create_index(op.f("ix_label_count_run"), "label_count", ["run"], unique=False)
    op.create_table(
        "label_lot",
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), nullable=False),
        sa.Column("received", sa.BigInteger(), nullable=False),
        sa.Column("printer", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_label_lot_job"), "label_lot", ["job"], unique=False)
    op.create_index(op.f("ix_label_lot_lot"), "label_lot", ["lot"], unique=False)
    op.create_table(
        "metal",
        sa.Column("metal", sa.Text(), nullable=False),
        sa.Column("matrix", sa.Text(), nullable=False),
        sa.Column("generation", sa.Text(), nullable=False),
        sa.Column("parent", sa.Text(), nullable=True),
        sa.Column("grown", sa.Text(), nullable=True),
        sa.Column("bath", sa.Text(), nullable=True),
        sa.Column("thickness_um", sa.Float(53), nullable=True),
        sa.Column("impressions", sa.BigInteger(), nullable=False),
        sa.Column("owner", sa.Text(), nullable=True),
        sa.Column("kept", sa.Text(), nullable=True),
        sa.Column("inspector", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_metal_matrix"), "metal", ["matrix"], unique=False)
    op.create_index(op.f("ix_metal_metal"), "metal", ["metal"], unique=False)
    op.create_index(op.f("ix_metal_parent"), "metal", ["parent"], unique=False)
    op.create_table(
        "metal_card",
        sa.Column("metal", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("kept", sa.Text(), nullable=True),
        sa.Column("inspector", sa.Text(), nullable=True),
        sa.Column("programme_s", sa.Float(53), nullable=True),
        sa.Column("angle_deg", sa.Float(53), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_metal_card_metal"), "metal_card", ["metal"], unique=False)
    op.create_table(
        "move",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=True),
        sa.Column("first", sa.BigInteger(), nullable=True),
        sa.Column("last", sa.BigInteger(), nullable=True),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_index(op.f("ix_move_run"), "move", ["run"], unique=False)
    op.create_table(
        "opened",
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_table(
        "pallet",
        sa.Column("pallet", sa.Text(), nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("box", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_pallet_box"), "pallet", ["box"], unique=False)
    op.create_index(op.f("ix_pallet_pallet"), "pallet", ["pallet"], unique=False)
    op.create_table(
        "pile",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("pile", sa.Text(), nullable=False),
        sa.Column("direction", sa.Text(), nullable=False),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.Column("rest_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_pile_pile"), "pile", ["pile"], unique=False)
    op.create_index(op.f("ix_pile_run"), "pile", ["run"], unique=False)
    op.create_table(
        "play",
        sa.Column("sample", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("placing", sa.BigInteger(), nullable=False),
        sa.Column("push", sa.Text(), nullable=True),
        sa.Column("player", sa.Text(), nullable=True),
        sa.Column("stylus", sa.Text(), nullable=True),
        sa.Column("capture", sa.Text(), nullable=True),
        sa.Column("analysis", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_play_analysis"), "play", ["analysis"], unique=False)
    op.create_index(op.f("ix_play_sample"), "play", ["sample"], unique=False)
    op.create_table(
        "press_stop",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("closure", sa.BigInteger(), nullable=False),
        sa.Column("minutes", sa.Float(53), nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_press_stop_run"), "press_stop", ["run"], unique=False)
    op.create_table(
        "reading",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("counter", sa.BigInteger(), nullable=False),
        sa.Column("closures", sa.BigInteger(), nullable=False),
        sa.Column("set_to", sa.BigInteger(), nullable=True),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_index(op.f("ix_reading_run"), "reading", ["run"], unique=False)
    op.create_table(
        "release",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("pile", sa.Text(), nullable=False),
        sa.Column("good", sa.BigInteger(), nullable=False),
        sa.Column("held", sa.BigInteger(), nullable=False),
        sa.Column("scrapped", sa.BigInteger(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_release_run"), "release", ["run"], unique=False)
    op.create_table(
        "run",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("press", sa.Text(), nullable=False),
        sa.Column("cavity", sa.Text(), nullable=False),
        sa.Column("counter", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_run_job"), "run", ["job"], unique=False)
    op.create_index(op.f("ix_run_press"), "run", ["press"], unique=False)
    op.create_index(op.f("ix_run_run"), "run", ["run"], unique=False)
    op.create_table(
        "sample",
        sa.Column("sample", sa.Text(), nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("closure", sa.BigInteger(), nullable=False),
        sa.Column("slack", sa.BigInteger(), nullable=False),
        sa.Column("purpose", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=True),
        sa.Column("faults", sa.Text(), nullable=True),
        sa.Column("mass_g", sa.Float(53), nullable=True),
        sa.Column("thickness_mm", sa.Float(53), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_sample_run"), "sample", ["run"], unique=False)
    op.create_index(op.f("ix_sample_sample"), "sample", ["sample"], unique=False)
    op.create_table(
        "scrap",
        sa.Column("run", sa.Text(), nullable=True),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("mass_kg", sa.Float(53), nullable=False),
        sa.Column("records", sa.BigInteger(), nullable=False),
        sa.Column("goes_to", sa.Text(), nullable=False),
        sa.Column("batch", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_scrap_run"), "scrap", ["run"], unique=False)
    op.create_table(
        "set_up",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("closure", sa.BigInteger(), nullable=False),
        sa.Column("clearance", sa.Text(), nullable=False),
        sa.Column("cleared_by", sa.Text(), nullable=True),
        sa.Column("scribing_a", sa.Text(), nullable=True),
        sa.Column("scribing_b", sa.Text(), nullable=True),
        sa.Column("identity", sa.Text(), nullable=False),
        sa.Column("mould", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_set_up_run"), "set_up", ["run"], unique=False)
    op.create_table(
        "side",
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), nullable=False),
        sa.Column("matrix", sa.Text(), nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_index(op.f("ix_side_job"), "side", ["job"], unique=False)
    op.create_index(op.f("ix_side_matrix"), "side", ["matrix"], unique=False)
    op.create_table(
        "span",
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("ref", sa.Text(), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=True),
        sa.Column("slack_first", sa.BigInteger(), nullable=False),
        sa.Column("slack_last", sa.BigInteger(), nullable=False),
        sa.Column("records", sa.BigInteger(), nullable=True),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("line", "entry"),
    )
    op.create_index("span_run_kind", "span", ["run", "kind"], unique=False)
    op.create_table(
        "standing",
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("run", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("ref", sa.Text(), nullable=False),
        sa.Column("first_low", sa.BigInteger(), nullable=False),
        sa.Column("first_high", sa.BigInteger(), nullable=False),
        sa.Column("last_low", sa.BigInteger(), nullable=True),
        sa.Column("last_high", sa.BigInteger(), nullable=True),
        sa.Column("records", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry", "line"),
    )
    op.create_index("standing_kind_ref", "standing", ["kind", "ref"], unique=False)
    op.create_index("standing_run_kind_first", "standing", ["run", "kind", "first_low"], unique=False)
    op.create_table(
        "ticket",
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("artist", sa.Text(), nullable=True),
        sa.Column("customer", sa.Text(), nullable=True),
        sa.Column("catalogue", sa.Text(), nullable=True),
        sa.Column("format", sa.Text(), nullable=False),
        sa.Column("ordered", sa.BigInteger(), nullable=False),
        sa.Column("overs_percent", sa.Float(53), nullable=True),
        sa.Column("mass_g", sa.Float(53), nullable=True),
        sa.Column("colour", sa.Text(), nullable=True),
        sa.Column("regrind", sa.Text(), nullable=True),
        sa.Column("due", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_ticket_catalogue"), "ticket", ["catalogue"], unique=False)
    op.create_index(op.f("ix_ticket_job"), "ticket", ["job"], unique=False)
    op.create_table(
        "weighing",
        sa.Column("batch", sa.Text(), nullable=False),
        sa.Column("ingredient", sa.Text(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("target_kg", sa.Float(53), nullable=True),
        sa.Column("mass_kg", sa.Float(53), nullable=False),
        sa.Column("scale", sa.Text(), nullable=True),
        sa.Column("operator", sa.Text(), nullable=True),
        sa.Column("checked_by", sa.Text(), nullable=True),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_weighing_batch"), "weighing", ["batch"], unique=False)
    op.create_index(op.f("ix_weighing_lot"), "weighing", ["lot"], unique=False)
    op.create_table(
        "withdrawal",
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry"],
            ["entry.id"],
        ),
        sa.PrimaryKeyConstraint("entry"),
    )
    guard(op.get_bind(), GROWS)
