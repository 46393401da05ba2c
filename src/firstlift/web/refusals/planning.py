"""Refusals about what comes before and after a pull: plan, hazard, adjustment, test dates."""

from __future__ import annotations

from firstlift.web.refusals import nexts
from firstlift.web.say import N_

PLANNING = {
    "PLN-001": (
        N_("The line pressure lies at or above the set pressure, or below zero."),
        N_("Do not pull. Lower the line before anybody touches the valve, or correct the entry if it was mistyped."),
    ),
    "PLN-002": (N_("A limit or a length of the plan is out of range."), nexts.VALUES),
    "PLN-003": (
        N_("A stop there proves nothing, or goes too far."),
        N_("Choose a stop above 100 %% and below 150 %% of the set pressure."),
    ),
    "PLN-004": (N_("A question or an answer about the valve is not known."), nexts.RELOAD),
    "PLN-005": (N_("A confirmation has no name, or belongs to no hold point of the plan."), nexts.RELOAD),
    "PLN-006": (N_("The protected system cannot be judged from what is given."), nexts.VALUES),
    "PLN-007": (N_("The file is no plan of this release."), N_("Make the plan anew.")),
    "PLN-008": (
        N_("The line pressure of the planned pull is not given."),
        N_("Type the line pressure expected at the pull."),
    ),
    "PLN-009": (N_("An answer about the valve cannot be understood, or was given twice."), nexts.RELOAD),
    "PLN-010": (
        N_("The result is of another valve, or holds no set pressure."),
        N_("Pull again, until an opening gives a set pressure."),
    ),
    "PLN-012": (
        N_("Another valve of the protected system cannot be read, or lacks the system's pressure."),
        nexts.VALUES,
    ),
    "PLN-013": (
        N_("The hold point cannot be kept: it needs a person and one visit of that day."),
        N_("Put the valve on a visit of that day first."),
    ),
    "HAZ-001": (N_("A value of the hazard sheet is out of range, or no pressure drives the flow."), nexts.VALUES),
    "HAZ-002": (
        N_("Data of the medium are missing for the hazard sheet."),
        N_("Give temperature, molar mass, ratio of specific heats or density, as the medium needs."),
    ),
    "HAZ-003": (
        N_("At that distance nothing can be said about noise or jet."),
        N_("Give a distance from 1 m to 2000 m."),
    ),
    "HAZ-004": (
        N_("The steam lies beyond the range of the relation for its flow."),
        N_("Have the flow worked out by a specialist."),
    ),
    "HAZ-005": (N_("At that temperature there is water, not steam."), nexts.VALUES),
    "HAZ-006": (
        N_("The liquid flashes: the relation for liquids does not hold."),
        N_("Have the flow worked out by a specialist."),
    ),
    "HAZ-007": (N_("The properties of that fluid are not known, or not in that state."), nexts.VALUES),
    "HAZ-008": (
        N_("The way through the valve is not given in exactly one way, or by an orifice letter."),
        N_("Give the least bore or the flow area."),
    ),
    "ADJ-001": (N_("Spring rate and screw pitch lie above zero."), nexts.VALUES),
    "ADJ-002": (N_("Nothing can be learned from the past adjustments."), nexts.VALUES),
    "ADJ-003": (
        N_("The temperature's effect on the cold test pressure is not known."),
        N_("Give the factor from the maker's data."),
    ),
    "ADJ-004": (
        N_("Set pressure and cold test pressure are not given so that one follows from the other."),
        nexts.VALUES,
    ),
    "ADJ-005": (N_("A pressure makes no sense for an adjustment."), nexts.VALUES),
    "ADJ-006": (
        N_("There is no reading of this valve to adjust from."),
        N_("Pull again, until an opening gives a set pressure."),
    ),
    "ADJ-007": (N_("An earlier adjustment cannot be understood."), nexts.VALUES),
    "ADJ-009": (N_("What was done to the valve cannot be kept so."), nexts.VALUES),
    "ADJ-010": (
        N_("The valve was adjusted after this test: its reading no longer says what it opens at."),
        N_("Pull again before you turn the screw."),
    ),
    "REL-001": (N_("Ages in the history make no sense."), nexts.VALUES),
    "REL-002": (N_("The target is no chance between 0 and 1."), nexts.VALUE),
    "REL-003": (N_("A valve's life was looked at more than once where one look is needed."), nexts.NOTHING),
    "REL-004": (N_("There is no test or overhaul yet to answer from."), N_("Bring in tests first.")),
    "REL-005": (N_("The history holds two rows of one valve on one day."), nexts.TABLE),
    "REL-006": (N_("One valve stands in two groups."), nexts.TABLE),
    "REL-007": (N_("The table of test intervals cannot be read."), nexts.KEEPER),
    "REL-008": (N_("The table of test intervals does not know that service."), nexts.VALUE),
    "REL-009": (N_("That is no possible test interval."), nexts.VALUE),
    "REL-010": (N_("There are too few values to estimate from."), N_("Bring in more tests first.")),
    "REL-011": (N_("The history does not hold that group or valve."), nexts.SEARCH),
    "REL-012": (N_("Valves cannot be grouped by that."), N_("Choose another grouping.")),
    "HIS-001": (N_("The table of tests cannot be read."), nexts.TABLE),
    "HIS-002": (N_("A column of the table of tests is missing, not known or there twice."), nexts.TABLE),
    "HIS-003": (N_("A row of the table of tests cannot be read."), nexts.TABLE),
}
