"""The first schema: who, where and with what."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstlift.store.migrations.first.types import OPEN, key


def _instrument() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("measures", sa.String(40), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("maker", sa.Text(), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("capacity_si", sa.Double(), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("serial_key", key(200), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_instrument"),
        sa.UniqueConstraint("serial_key", name="uq_instrument_serial_key"),
    )


def _owner() -> None:
    op.create_table(
        "owner",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("name_key", key(200), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_owner"),
        sa.UniqueConstraint("name_key", name="uq_owner_name_key"),
    )


def _person() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("organisation", sa.Text(), nullable=False),
        sa.Column("details", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("details_sha256", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
    )


def _store() -> None:
    op.create_table(
        "store",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("made_at", key(27), nullable=False),
        sa.Column("entries", sa.BigInteger(), nullable=False),
        sa.Column("head_sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_store"),
    )


def _calibration() -> None:
    op.create_table(
        "calibration",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("certificate_number", sa.Text(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("due", sa.Date(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("polynomial", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("table", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("standard_uncertainty_si", sa.Double(), nullable=True),
        sa.Column("relative_standard_uncertainty", sa.Double(), nullable=True),
        sa.Column("reference_standard", sa.Text(), nullable=False),
        sa.Column("supersedes", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["instrument_id"], ["instrument.id"], name="fk_calibration_instrument_id"),
        sa.ForeignKeyConstraint(["supersedes"], ["calibration.id"], name="fk_calibration_supersedes"),
        sa.PrimaryKeyConstraint("id", name="pk_calibration"),
        sa.UniqueConstraint("supersedes", name="uq_calibration_supersedes"),
    )
    op.create_index("ix_calibration_instrument_id_date", "calibration", ["instrument_id", "date"])


def _qualification() -> None:
    op.create_table(
        "qualification",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("task", sa.Text(), nullable=False),
        sa.Column("granted", sa.Date(), nullable=False),
        sa.Column("expires", sa.Date(), nullable=True),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("withdrawn", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_qualification_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_qualification"),
    )
    op.create_index("ix_qualification_person_id", "qualification", ["person_id"])


def _site() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("jurisdiction", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("name_key", key(200), nullable=False),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_site_owner_id"),
        sa.PrimaryKeyConstraint("id", name="pk_site"),
        sa.UniqueConstraint("owner_id", "name_key", name="uq_site_owner_id_name_key"),
    )


def _valve() -> None:
    op.create_table(
        "valve",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("set_pressure", sa.Text(), nullable=False),
        sa.Column("type", sa.String(40), nullable=False),
        sa.Column("maker", sa.Text(), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("inlet_size", sa.Text(), nullable=False),
        sa.Column("outlet_size", sa.Text(), nullable=False),
        sa.Column("orifice", sa.Text(), nullable=False),
        sa.Column("cold_differential_test_pressure", sa.Text(), nullable=True),
        sa.Column("spring_number", sa.Text(), nullable=False),
        sa.Column("spring_rate_n_m", sa.Double(), nullable=True),
        sa.Column("spring_range_low", sa.Text(), nullable=True),
        sa.Column("spring_range_high", sa.Text(), nullable=True),
        sa.Column("screw_pitch_m", sa.Double(), nullable=True),
        sa.Column("spindle_diameter_m", sa.Double(), nullable=True),
        sa.Column("disc_guide_diameter_m", sa.Double(), nullable=True),
        sa.Column("bellows_diameter_m", sa.Double(), nullable=True),
        sa.Column("max_pull_n", sa.Double(), nullable=True),
        sa.Column("opening_definition", sa.String(40), nullable=True),
        sa.Column("body_material", sa.Text(), nullable=False),
        sa.Column("trim_material", sa.Text(), nullable=False),
        sa.Column("spring_material", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("serial_key", key(200), nullable=False),
        sa.Column("maker_key", key(200), nullable=False),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_valve_owner_id"),
        sa.PrimaryKeyConstraint("id", name="pk_valve"),
        sa.UniqueConstraint("owner_id", "maker_key", "serial_key", name="uq_valve_owner_id_maker_key_serial_key"),
    )
    op.create_index("ix_valve_serial_key_id", "valve", ["serial_key", "id"])


def _protected_system() -> None:
    op.create_table(
        "protected_system",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("mawp", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_protected_system_site_id"),
        sa.PrimaryKeyConstraint("id", name="pk_protected_system"),
    )


def _seat_record() -> None:
    op.create_table(
        "seat_record",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("source", sa.String(40), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("inner_diameter_m", sa.Double(), nullable=True),
        sa.Column("outer_diameter_m", sa.Double(), nullable=True),
        sa.Column("u_inner_m", sa.Double(), nullable=True),
        sa.Column("u_outer_m", sa.Double(), nullable=True),
        sa.Column("area_m2", sa.Double(), nullable=True),
        sa.Column("u_area_m2", sa.Double(), nullable=True),
        sa.Column("degrees_of_freedom", sa.Double(), nullable=True),
        sa.Column("measured_with", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("tied_to", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("set_pressure_pa", sa.Double(), nullable=True),
        sa.Column("u_set_pressure_pa", sa.Double(), nullable=True),
        sa.Column("covariance_m2_pa", sa.Double(), nullable=True),
        sa.Column("superseded_by_overhaul", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_seat_record_person_id"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_seat_record_valve_id"),
        sa.PrimaryKeyConstraint("id", name="pk_seat_record"),
    )
    op.create_index("ix_seat_record_valve_id_date", "seat_record", ["valve_id", "date"])


def _position() -> None:
    op.create_table(
        "position",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("tag", sa.Text(), nullable=False),
        sa.Column("medium", sa.String(40), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("equipment", sa.Text(), nullable=False),
        sa.Column("system_id", sa.Uuid(), nullable=True),
        sa.Column("medium_name", sa.Text(), nullable=False),
        sa.Column("mawp", sa.Text(), nullable=True),
        sa.Column("operating_pressure", sa.Text(), nullable=True),
        sa.Column("superimposed_back_pressure", sa.Text(), nullable=True),
        sa.Column("back_pressure_varies", sa.Boolean(), nullable=False),
        sa.Column("consequence", sa.Text(), nullable=False),
        sa.Column("fire_case", sa.Boolean(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("tag_key", key(200), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_position_site_id"),
        sa.ForeignKeyConstraint(["system_id"], ["protected_system.id"], name="fk_position_system_id"),
        sa.PrimaryKeyConstraint("id", name="pk_position"),
        sa.UniqueConstraint("site_id", "tag_key", name="uq_position_site_id_tag_key"),
    )
    op.create_index("ix_position_tag_key_id", "position", ["tag_key", "id"])


def _installation() -> None:
    op.create_table(
        "installation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("valve_id", sa.Uuid(), nullable=False),
        sa.Column("position_id", sa.Uuid(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name="fk_installation_position_id"),
        sa.ForeignKeyConstraint(["valve_id"], ["valve.id"], name="fk_installation_valve_id"),
        sa.PrimaryKeyConstraint("id", name="pk_installation"),
    )
    op.create_index("ix_installation_position_id_since", "installation", ["position_id", "since"])
    op.create_index("ix_installation_valve_id_since", "installation", ["valve_id", "since"])
    op.create_index("uq_installation_position_id_now", "installation", ["position_id"], unique=True, **OPEN)
    op.create_index("uq_installation_valve_id_now", "installation", ["valve_id"], unique=True, **OPEN)


def _interval() -> None:
    op.create_table(
        "interval",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("position_id", sa.Uuid(), nullable=False),
        sa.Column("months", sa.BigInteger(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_interval_person_id"),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name="fk_interval_position_id"),
        sa.PrimaryKeyConstraint("id", name="pk_interval"),
    )
    op.create_index("ix_interval_position_id", "interval", ["position_id"])


def _rule_choice() -> None:
    op.create_table(
        "rule_choice",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("rules", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=True),
        sa.Column("position_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_rule_choice_owner_id"),
        sa.ForeignKeyConstraint(["position_id"], ["position.id"], name="fk_rule_choice_position_id"),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name="fk_rule_choice_site_id"),
        sa.PrimaryKeyConstraint("id", name="pk_rule_choice"),
    )
    op.create_index("ix_rule_choice_owner_id", "rule_choice", ["owner_id"])


MAKE = (
    _instrument,
    _owner,
    _person,
    _store,
    _calibration,
    _qualification,
    _site,
    _valve,
    _protected_system,
    _seat_record,
    _position,
    _installation,
    _interval,
    _rule_choice,
)
