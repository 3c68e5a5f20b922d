"""What listeners say of a place on a recording; whether a copy was washed before it was played."""

import sqlalchemy as sa
from alembic import op

from runtrue.records.guards import guard

revision = "0002"
down_revision = "0001"

GROWS = ("heard",)
"""Tables that only grow."""


def upgrade() -> None:
    """Add the column and the table with its triggers."""
    op.add_column("play", sa.Column("washed", sa.Text(), nullable=True))
    op.create_table(
        "heard",
        sa.Column("analysis", sa.String(length=64), nullable=False),
        sa.Column("programme_s", sa.Float(53), nullable=False),
        sa.Column("word", sa.Text(), nullable=False),
        sa.Column("entry", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["entry"], ["entry.id"]),
        sa.PrimaryKeyConstraint("entry"),
    )
    op.create_index(op.f("ix_heard_analysis"), "heard", ["analysis"], unique=False)
    guard(op.get_bind(), GROWS)
