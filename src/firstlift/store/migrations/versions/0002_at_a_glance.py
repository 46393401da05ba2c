"""Indexes that answer for all sites at once, and give any page of a long list, without reading each standing."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_INDEXES = {
    "ix_standing_at_a_glance": (
        "standing",
        ("active", "site_id", "last_verdict", "due", "not_tested", "last_disposition", "medium"),
    ),
    "ix_standing_active_tag_key_valve_id": ("standing", ("active", "tag_key", "valve_id")),
    "ix_standing_active_serial_key_valve_id": ("standing", ("active", "serial_key", "valve_id")),
    "ix_standing_active_last_verdict_tag_key_valve_id": ("standing", ("active", "last_verdict", "tag_key", "valve_id")),
    "ix_certificate_reserved_at_id": ("certificate", ("reserved_at", "id")),
    "ix_certificate_state_reserved_at_id": ("certificate", ("state", "reserved_at", "id")),
}


def upgrade() -> None:
    """Make them."""
    for name, (table, columns) in _INDEXES.items():
        op.create_index(name, table, list(columns))


def downgrade() -> None:
    """Take them away."""
    for name, (table, _) in _INDEXES.items():
        op.drop_index(name, table)
