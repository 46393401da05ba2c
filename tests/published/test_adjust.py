"""The adjusting screw, the code's limits in a group, and the cold pressure against their sources."""

from firstlift.core.adjust.allowed import GROUP_RULES, Place, highest_set_pa, within_reset
from firstlift.core.adjust.cold import temperature_multiplier
from firstlift.core.adjust.screw import effect_of_spring
from firstlift.core.units import to_si
from firstlift.core.valve import Seat, ValveType

SOURCES = ("adjust.toml",)
PSI = to_si(1.0, "psi")


def turn(given):
    seat = Seat(given["area_mm2"] / 1e6, 0.0, 0.0, "", "")
    return effect_of_spring(given["rate_n_mm"] * 1e3, given["pitch_mm"] / 1e3, seat).pa_per_turn / 1e5


def group(given):
    places = (Place.FIRST, Place.FURTHER, *([Place.FIRE] if given.get("fire") else []))
    rule, mawp = GROUP_RULES[given["code"]], given["mawp_psi"] * PSI
    return [highest_set_pa(rule, mawp, place) / PSI for place in places]


def multiplier(given):
    return [temperature_multiplier(c + 273.15, ValveType.CONVENTIONAL) - 1.0 for c in given["celsius"]]


def reset(given):
    """Find the ends of the allowed change by halving."""
    ends = []
    for far in (0.5, 1.5):
        inside, outside = given["stamped_bar"], far * given["stamped_bar"]
        for _ in range(60):
            middle = 0.5 * (inside + outside)
            inside, outside = (middle, outside) if within_reset(middle, given["stamped_bar"]) else (inside, middle)
        ends.append(inside)
    return ends


COMPUTE = {"turn": turn, "group": group, "multiplier": multiplier, "reset": reset}


def test_row_agrees(check, agree):
    agree(check, COMPUTE[check["id"].split("-", 1)[0]](check["given"]))
