"""A table of what is said of seat records: the seat was worked on, or a record was wrong."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstlift.store.migrations.first.guards import guards_of
from firstlift.store.migrations.first.types import key

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make it, with its guards."""
    references = {
        "person_id": "person",
        "record_id": "seat_record",
        "replaced_by": "seat_record",
        "takes_back": "seat_word",
        "valve_id": "valve",
    }
    op.create_table(
        "seat_word",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("said", sa.String(40), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("date", sa.Date(), nullable=True),
        sa.Column("record_id", sa.Uuid(), nullable=True),
        sa.Column("replaced_by", sa.Uuid(), nullable=True),
        sa.Column("takes_back", sa.Uuid(), nullable=True),
        *(
            sa.ForeignKeyConstraint([column], [f"{table}.id"], name=f"fk_seat_word_{column}")
            for column, table in references.items()
        ),
        sa.PrimaryKeyConstraint("id", name="pk_seat_word"),
    )
    op.create_index("ix_seat_word_valve_id_at", "seat_word", ["valve_id", "at"])
    for statement in guards_of(op.get_bind().dialect.name, "seat_word"):
        op.execute(statement)


def downgrade() -> None:
    """Take it away."""
    op.drop_table("seat_word")
