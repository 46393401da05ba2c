"""Contacts, who are sent papers; and indexes that answer who did what, of which kind, when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_REFUSED = "nothing is deleted from contact"
_INDEXES = {
    "ix_audit_entry_who_number": ("who", "number"),
    "ix_audit_entry_kind_number": ("kind", "number"),
    "ix_audit_entry_at_number": ("at", "number"),
}


def upgrade() -> None:
    """Make the table, what guards it, and the indexes."""
    op.create_table(
        "contact",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=True),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("details", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("details_sha256", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_contact"),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_contact_owner_id"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_contact_site_id"),
    )
    op.create_index("ix_contact_owner_id", "contact", ["owner_id"])
    for statement in _guards(op.get_bind().dialect.name):
        op.execute(statement)
    for name, columns in _INDEXES.items():
        op.create_index(name, "audit_entry", list(columns))


def _guards(engine: str) -> tuple[str, ...]:
    """Nothing is deleted, as of the entries of the first schema."""
    if engine == "sqlite":
        return (
            "CREATE TRIGGER keep_contact_delete BEFORE DELETE ON contact FOR EACH ROW "
            f"BEGIN SELECT RAISE(ABORT, 'firstlift: {_REFUSED}'); END",
        )
    return (
        "CREATE TRIGGER keep_contact_delete BEFORE DELETE ON contact FOR EACH ROW "
        f"EXECUTE FUNCTION firstlift_refuse('{_REFUSED}')",
        "CREATE TRIGGER keep_contact_truncate BEFORE TRUNCATE ON contact "
        f"EXECUTE FUNCTION firstlift_refuse('{_REFUSED}')",
    )


def downgrade() -> None:
    """Take them away; who was sent papers is lost."""
    for name in _INDEXES:
        op.drop_index(name, "audit_entry")
    op.drop_table("contact")
