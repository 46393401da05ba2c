"""What the register's fields are called where a spreadsheet fills them, and what may stand in those of a few words."""

from __future__ import annotations

from firstlift.web.say import N_, _, words
from firstlift.web.terms import term

NAMES = {
    # valves and where they hang
    "owner": N_("owner"),
    "site": N_("site"),
    "zone": N_("time zone"),
    "unit": N_("plant unit"),
    "tag": N_("tag"),
    "equipment": N_("protected equipment"),
    "system": N_("protected system"),
    "medium": N_("medium"),
    "mawp": N_("MAWP"),
    "operating_pressure": N_("operating pressure"),
    "superimposed_back_pressure": N_("superimposed back pressure"),
    "consequence": N_("consequence class"),
    "fire_case": N_("fire case"),
    "serial": N_("serial"),
    "maker": N_("maker"),
    "model": N_("model"),
    "type": N_("type"),
    "set_pressure": N_("set pressure"),
    "cold_differential_test_pressure": N_("cold differential test pressure"),
    "inlet_size": N_("inlet size"),
    "outlet_size": N_("outlet size"),
    "orifice": N_("orifice letter"),
    "spring_number": N_("spring number"),
    "spring_rate": N_("spring rate"),
    "spring_range_low": N_("low end of the spring range"),
    "spring_range_high": N_("high end of the spring range"),
    "screw_pitch": N_("screw pitch"),
    "spindle_diameter": N_("spindle diameter"),
    "disc_guide_diameter": N_("diameter of the disc guide"),
    "bellows_diameter": N_("bellows diameter"),
    "max_pull": N_("largest pull allowed"),
    "seat_inner_diameter": N_("bore of the seat"),
    "seat_outer_diameter": N_("outer edge of the seat"),
    "seat_uncertainty": N_("uncertainty of the seat diameters"),
    "seat_measured_with": N_("seat measured with"),
    "seat_date": N_("seat measured on"),
    "interval": N_("interval"),
    "installed_on": N_("installed on"),
    "last_test_date": N_("date of the last test"),
    "last_test_result": N_("result of the last test"),
    "last_test_kind": N_("kind of the last test"),
    "last_test_pressure": N_("pressure of the last test"),
    "pressure_unit": N_("unit of the pressures"),
    "note": N_("note"),
    # instruments
    "measures": N_("what it measures"),
    "reading_unit": N_("unit of its readings"),
    "capacity": N_("capacity"),
    "certificate_number": N_("number of the calibration certificate"),
    "calibration_date": N_("date of the calibration"),
    "calibration_due": N_("calibration due on"),
    "standard_uncertainty": N_("standard uncertainty"),
    "expanded_uncertainty": N_("expanded uncertainty"),
    "relative_standard_uncertainty": N_("relative standard uncertainty"),
    "reference_standard": N_("reference standard"),
    "coefficient_0": N_("offset of the calibration curve"),
    "coefficient_1": N_("slope of the calibration curve"),
    "coefficient_2": N_("square term of the calibration curve"),
    "coefficient_3": N_("cubic term of the calibration curve"),
}
_CHOICES = {
    "pull": N_("pulled in service"),
    "bench": N_("on the bench"),
    "true": N_("yes"),
    "false": N_("no"),
}


def field_name(key: str) -> str:
    """Give what a field is called, in the language of the place.

    Parameters
    ----------
    key : str
        Of `firstlift.formats.sheets.fields`, with blanks or low lines.

    Returns
    -------
    str
    """
    return _(NAMES[key.replace(" ", "_")])


def choice_name(key: str, choice: str) -> str:
    """Give what one of a field's few words means, in the language of the place.

    Parameters
    ----------
    key : str
    choice : str

    Returns
    -------
    str
    """
    if key == "medium":
        return words.medium(choice)
    if key == "type":
        return words.valve_type(choice)
    if key == "measures":
        return words.measures(choice)
    return _(_CHOICES[choice]) if choice in _CHOICES else term(choice)
