"""The first schema: what was done, the chain, and where valves stand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstlift.store.migrations.first.types import key


def _attachment() -> None:
    op.create_table(
        "attachment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("belongs_to", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_attachment_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_attachment"),
    )
    op.create_index("ix_attachment_belongs_to", "attachment", ["belongs_to"])
    op.create_index("ix_attachment_sha256", "attachment", ["sha256"])


def _audit_entry() -> None:
    op.create_table(
        "audit_entry",
        sa.Column("number", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("action", sa.String(40), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("entry_id", sa.Uuid(), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.Column("previous_sha256", sa.String(64), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name="fk_audit_entry_store_id"),
        sa.PrimaryKeyConstraint("number", name="pk_audit_entry"),
    )
    op.create_index("ix_audit_entry_entry_id_number", "audit_entry", ["entry_id", "number"])


def _visit() -> None:
    op.create_table(
        "visit",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("start", sa.Date(), nullable=False),
        sa.Column("finish", sa.Date(), nullable=True),
        sa.Column("people", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("planned", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("permits", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("seal_breakers", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("accepted_for_verifying", sa.Boolean(), nullable=True),
        sa.Column("accepted_for_adjusting", sa.Boolean(), nullable=True),
        sa.Column("acceptance_reference", sa.Text(), nullable=False),
        sa.Column("witness_points", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_visit_site_id"),
        sa.PrimaryKeyConstraint("id", name="pk_visit"),
    )
    op.create_index("ix_visit_site_id_start", "visit", ["site_id", "start"])


def _adjustment() -> None:
    op.create_table(
        "adjustment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Uuid(), nullable=True),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("turns", sa.Double(), nullable=True),
        sa.Column("screw_height_before_m", sa.Double(), nullable=True),
        sa.Column("screw_height_after_m", sa.Double(), nullable=True),
        sa.Column("rings_before", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("rings_after", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("seals_before", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("seals_after", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_adjustment_person_id"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_adjustment_valve_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_adjustment_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_adjustment"),
    )
    op.create_index("ix_adjustment_valve_id_at", "adjustment", ["valve_id", "at"])


def _hold_point() -> None:
    op.create_table(
        "hold_point",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("visit_id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("released", sa.Boolean(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=True),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("witness_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_hold_point_person_id"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_hold_point_valve_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_hold_point_visit_id"),
        sa.ForeignKeyConstraint(["witness_id"], ["person.id"], name="fk_hold_point_witness_id"),
        sa.PrimaryKeyConstraint("id", name="pk_hold_point"),
    )
    op.create_index("ix_hold_point_visit_id_at", "hold_point", ["visit_id", "at"])


def _identity_check() -> None:
    op.create_table(
        "identity_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("serial_read", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Uuid(), nullable=True),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("tag_read", sa.Text(), nullable=False),
        sa.Column("spring_number_read", sa.Text(), nullable=False),
        sa.Column("set_pressure_read", sa.Text(), nullable=True),
        sa.Column("photo_sha256", sa.Text(), nullable=False),
        sa.Column("mismatches", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("resolves", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_identity_check_person_id"),
        sa.ForeignKeyConstraint(["resolves"], ["identity_check.id"], name="fk_identity_check_resolves"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_identity_check_valve_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_identity_check_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_identity_check"),
    )
    op.create_index("ix_identity_check_valve_id_at", "identity_check", ["valve_id", "at"])


def _use_check() -> None:
    op.create_table(
        "use_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("when", sa.String(40), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("reference_si", sa.Double(), nullable=False),
        sa.Column("reading_si", sa.Double(), nullable=False),
        sa.Column("allowed_difference_si", sa.Double(), nullable=False),
        sa.Column("visit_id", sa.Uuid(), nullable=True),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["instrument_id"], ["instrument.id"], name="fk_use_check_instrument_id"),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_use_check_person_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_use_check_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_use_check"),
    )
    op.create_index("ix_use_check_instrument_id_at", "use_check", ["instrument_id", "at"])


def _valve_test() -> None:
    op.create_table(
        "valve_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("purpose", sa.String(40), nullable=False),
        sa.Column("at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("position_id", sa.Uuid(), nullable=True),
        sa.Column("visit_id", sa.Uuid(), nullable=True),
        sa.Column("people", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("not_tested", sa.String(40), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("disposition", sa.Text(), nullable=False),
        sa.Column("set_pressure_pa", sa.Double(), nullable=True),
        sa.Column("expanded_uncertainty_pa", sa.Double(), nullable=True),
        sa.Column("lower_bound_pa", sa.Double(), nullable=True),
        sa.Column("seat_record_id", sa.Uuid(), nullable=True),
        sa.Column("instruments", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("bench", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("sheet_sha256", sa.Text(), nullable=False),
        sa.Column("recording_sha256", sa.Text(), nullable=False),
        sa.Column("supersedes", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name="fk_valve_test_position_id"),
        sa.ForeignKeyConstraint(["seat_record_id"], ["seat_record.id"], name="fk_valve_test_seat_record_id"),
        sa.ForeignKeyConstraint(["supersedes"], ["valve_test.id"], name="fk_valve_test_supersedes"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_valve_test_valve_id"),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name="fk_valve_test_visit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_valve_test"),
        sa.UniqueConstraint("supersedes", name="uq_valve_test_supersedes"),
    )
    op.create_index("ix_valve_test_position_id_at", "valve_test", ["position_id", "at"])
    op.create_index("ix_valve_test_recording_sha256", "valve_test", ["recording_sha256"])
    op.create_index("ix_valve_test_valve_id_at", "valve_test", ["valve_id", "at"])
    op.create_index("ix_valve_test_visit_id", "valve_test", ["visit_id"])


def _certificate() -> None:
    op.create_table(
        "certificate",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("series", sa.Text(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("state", sa.String(40), nullable=False),
        sa.Column("reserved_at", key(27), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("issued_at", key(27), nullable=True),
        sa.Column("reviewer_id", sa.Uuid(), nullable=True),
        sa.Column("signer_id", sa.Uuid(), nullable=True),
        sa.Column("unsigned_sha256", sa.Text(), nullable=False),
        sa.Column("signed_sha256", sa.Text(), nullable=False),
        sa.Column("supersedes", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["reviewer_id"], ["person.id"], name="fk_certificate_reviewer_id"),
        sa.ForeignKeyConstraint(["signer_id"], ["person.id"], name="fk_certificate_signer_id"),
        sa.ForeignKeyConstraint(["supersedes"], ["certificate.id"], name="fk_certificate_supersedes"),
        sa.ForeignKeyConstraint(["test_id"], ["valve_test.id"], name="fk_certificate_test_id"),
        sa.PrimaryKeyConstraint("id", name="pk_certificate"),
        sa.UniqueConstraint("series", "number", name="uq_certificate_series_number"),
        sa.UniqueConstraint("supersedes", name="uq_certificate_supersedes"),
    )
    op.create_index("ix_certificate_test_id", "certificate", ["test_id"])
    op.create_index("ix_certificate_text", "certificate", ["text"])


def _standing() -> None:
    op.create_table(
        "standing",
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("serial_key", key(200), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("position_id", sa.Uuid(), nullable=True),
        sa.Column("site_id", sa.Uuid(), nullable=True),
        sa.Column("tag_key", key(200), nullable=True),
        sa.Column("unit_key", key(200), nullable=True),
        sa.Column("medium", sa.String(40), nullable=True),
        sa.Column("due", sa.Date(), nullable=True),
        sa.Column("last_test_id", sa.Uuid(), nullable=True),
        sa.Column("last_day", sa.Date(), nullable=True),
        sa.Column("last_verdict", sa.String(40), nullable=True),
        sa.Column("last_disposition", sa.String(40), nullable=True),
        sa.Column("not_tested", sa.String(40), nullable=True),
        sa.ForeignKeyConstraint(["last_test_id"], ["valve_test.id"], name="fk_standing_last_test_id"),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_standing_owner_id"),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name="fk_standing_position_id"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_standing_site_id"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_standing_valve_id"),
        sa.PrimaryKeyConstraint("valve_id", name="pk_standing"),
    )
    op.create_index("ix_standing_active_due_valve_id", "standing", ["active", "due", "valve_id"])
    op.create_index("ix_standing_owner_id_active_due_valve_id", "standing", ["owner_id", "active", "due", "valve_id"])
    op.create_index("ix_standing_serial_key_valve_id", "standing", ["serial_key", "valve_id"])
    op.create_index("ix_standing_site_id_active_due_valve_id", "standing", ["site_id", "active", "due", "valve_id"])
    op.create_index("ix_standing_tag_key_valve_id", "standing", ["tag_key", "valve_id"])


def _test_instrument() -> None:
    op.create_table(
        "test_instrument",
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("serial_key", key(200), nullable=False),
        sa.Column("measures", sa.String(40), nullable=False),
        sa.ForeignKeyConstraint(["test_id"], ["valve_test.id"], name="fk_test_instrument_test_id"),
        sa.PrimaryKeyConstraint("test_id", "serial_key", "measures", name="pk_test_instrument"),
    )
    op.create_index("ix_test_instrument_serial_key_test_id", "test_instrument", ["serial_key", "test_id"])


MAKE = (
    _attachment,
    _audit_entry,
    _visit,
    _adjustment,
    _hold_point,
    _identity_check,
    _use_check,
    _valve_test,
    _certificate,
    _standing,
    _test_instrument,
)
