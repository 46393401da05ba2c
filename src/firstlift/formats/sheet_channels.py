"""The channels of a job sheet: which column measures what, in which unit, known how well."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.core.errors import FirstliftError
from firstlift.core.job import ChannelSpec, Form, Measures, RecordingSpec
from firstlift.core.units import UNITS, Kind, Unit, find_unit
from firstlift.formats.sheet_table import Sheet, Table, shown

KIND_OF = {
    Measures.PULL_FORCE: Kind.FORCE,
    Measures.LINE_PRESSURE: Kind.PRESSURE,
    Measures.BACK_PRESSURE: Kind.PRESSURE,
    Measures.SPINDLE_LIFT: Kind.LENGTH,
    Measures.ACOUSTIC: Kind.SOUND,
    Measures.TEMPERATURE: Kind.TEMPERATURE,
}


def read_channel(table: Table) -> ChannelSpec | None:
    """Read one [[channel]].

    Parameters
    ----------
    table : Table

    Returns
    -------
    ChannelSpec or None
        None where a problem was noted.
    """
    column = table.text("column", required=True)
    measures = table.choice("measures", Measures)
    unit_text = table.text("unit", required=True)
    relative = table.si("relative_standard_uncertainty", Kind.RATIO, above=0.0, or_equal=True)
    form = table.choice("form", Form, Form.LEVEL)
    delay = table.si("delay", Kind.TIME, above=0.0, or_equal=True)
    due = table.date("calibration_due")
    polynomial = table.numbers("polynomial")
    texts = {key: table.text(key) for key in ("serial", "calibrated_with")}
    if measures is None or form is None or not unit_text:
        return None
    unit = _read_unit(table, unit_text, KIND_OF[measures])
    u_si = _read_uncertainty(table, KIND_OF[measures])
    _check_belongs(table, measures, form)
    head = table.si("head_correction", Kind.PRESSURE) if KIND_OF[measures] is Kind.PRESSURE else None
    capacity = table.si("capacity", KIND_OF[measures], above=0.0)
    if unit is None:
        return None
    return ChannelSpec(
        column=column,
        measures=measures,
        unit=unit.symbol,
        factor=unit.factor,
        offset=unit.offset,
        relative_standard_uncertainty=relative or 0.0,
        standard_uncertainty=u_si or 0.0,
        uncertainty_stated=relative is not None or u_si is not None,
        polynomial=polynomial,
        capacity=capacity,
        calibration_due=due,
        delay_s=delay,
        head_correction_pa=head or 0.0,
        form=form,
        **texts,
    )


def _read_unit(table: Table, text: str, kind: Kind) -> Unit | None:
    try:
        return find_unit(text, kind, where=table.where("unit"))
    except FirstliftError as error:
        table.sheet.problems.extend(error.problems)
        return None


def _read_uncertainty(table: Table, kind: Kind) -> float | None:
    """Read standard_uncertainty; of a temperature it is a difference, so the scale's zero plays no part."""
    quantity = table.quantity("standard_uncertainty", kind)
    if quantity is None:
        return None
    value = float(quantity.number) * UNITS[quantity.unit].factor
    if value < 0.0:
        table.note(
            "JOB-008", f"'{quantity.text}' is negative", "standard_uncertainty", "a standard uncertainty of 0 or more"
        )
        return None
    return value


def _check_belongs(table: Table, measures: Measures, form: Form) -> None:
    if form is Form.WAVEFORM and measures is not Measures.ACOUSTIC:
        table.note("JOB-008", f"form 'waveform' does not go with '{measures}'", "form", 'sound, or form = "level"')
    if table.has("head_correction") and KIND_OF[measures] is not Kind.PRESSURE:
        table.note("JOB-008", f"'head_correction' does not go with '{measures}'", "head_correction", "a pressure")


def check_columns(tables: Sequence[Table], recording: RecordingSpec | None) -> None:
    """Note a column that two channels name, or that is the time column as well.

    Parameters
    ----------
    tables : sequence of Table
        The [[channel]] tables, in order.
    recording : RecordingSpec or None
    """
    seen: dict[str, int] = {}
    for number, table in enumerate(tables, start=1):
        column = table.data.get("column")
        if not isinstance(column, str):
            continue
        name = column.strip()
        if name in seen:
            table.note(
                "JOB-013", f"column '{shown(name)}' is named by channel {seen[name]} and channel {number}", "column",
                "a column of its own for every channel", "Correct the column or remove one channel",
            )  # fmt: skip
        if recording is not None and name and name == recording.time_column:
            table.note("JOB-013", f"column '{shown(name)}' is the time column", "column", "a measured column")
        seen.setdefault(name, number)


def check_needed(sheet: Sheet, measured: Sequence[object], visit: Table) -> None:
    """Note what a set pressure cannot do without: pull, line pressure, and a sign of the lift.

    Parameters
    ----------
    sheet : Sheet
    measured : sequence
        What the channels say they measure.
    visit : Table
        Its line_pressure may stand in for a gauge.
    """
    by_hand = visit.has("line_pressure")
    if Measures.PULL_FORCE not in measured:
        sheet.note(
            "JOB-011", "no channel measures 'pull_force'", sheet.name, "at least one force cell",
            'Add a [[channel]] with measures = "pull_force"',
        )  # fmt: skip
    if Measures.LINE_PRESSURE not in measured and not by_hand:
        sheet.note(
            "JOB-011", "the line pressure is not known", sheet.name,
            "a channel that measures 'line_pressure', or line_pressure with its standard uncertainty in [visit]",
        )  # fmt: skip
    if Measures.LINE_PRESSURE in measured and by_hand:
        visit.note(
            "JOB-009", "the line pressure is given twice: by a channel and by hand in [visit]", "line_pressure",
            "one of them", "Remove the one that is not to be used",
        )  # fmt: skip
    if Measures.SPINDLE_LIFT not in measured and Measures.ACOUSTIC not in measured:
        sheet.note(
            "JOB-011",
            "no channel can show the lift",
            sheet.name,
            "a channel that measures 'spindle_lift' or 'acoustic'",
        )
