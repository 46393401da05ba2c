"""The first schema."""

from __future__ import annotations

from alembic import op

from firstlift.store.migrations.first import basis, work
from firstlift.store.migrations.first.guards import guards

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make every table, then what guards them."""
    for make in (*basis.MAKE, *work.MAKE):
        make()
    for statement in guards(op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Take every table away again; the rows in them are lost."""
    for make in reversed((*basis.MAKE, *work.MAKE)):
        op.drop_table(make.__name__.removeprefix("_"))
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION firstlift_refuse()")
