"""Refusals about a test: job sheet, review, recording, units, rules, uncertainty, result."""

from __future__ import annotations

from firstlift.web.refusals import nexts
from firstlift.web.say import N_

TESTS = {
    "JOB-001": (N_("The job sheet cannot be read."), nexts.SHEET),
    "JOB-002": (N_("The job sheet is not text in UTF-8."), N_("Save it as text in UTF-8 and bring it in again.")),
    "JOB-003": (N_("The job sheet is empty or cannot be understood."), nexts.SHEET),
    "JOB-004": (N_("The job sheet does not say that it is one, or is of a kind that is not read here."), nexts.SHEET),
    "JOB-005": (N_("The job sheet holds an entry that is not known."), nexts.SHEET),
    "JOB-006": (N_("An entry is missing that the test needs."), nexts.SHEET),
    "JOB-007": (N_("An entry is of the wrong kind, such as a bare number where a unit is needed."), nexts.SHEET),
    "JOB-008": (N_("An entry is out of range, empty, or does not go with another one."), nexts.SHEET),
    "JOB-009": (
        N_("One thing is stated twice in different ways."),
        N_("Keep one of the two, the one that was measured."),
    ),
    "JOB-010": (
        N_("An orifice letter stands where the seat is needed: its area is for flow, not for force."),
        nexts.SEAT,
    ),
    "JOB-011": (
        N_("A channel is missing without which there is no set pressure: pull, line pressure, or a sign of lift."),
        nexts.COLUMNS,
    ),
    "JOB-012": (N_("The code that is to judge is not known."), nexts.RULES),
    "JOB-013": (N_("One column is to serve for two things."), nexts.COLUMNS),
    "REV-001": (N_("The recording does not hold that pull."), nexts.RELOAD),
    "REV-002": (
        N_("No first lift was found in that pull, so there is none to move."),
        N_("Reject the pull, or pull again."),
    ),
    "REV-003": (
        N_("First lift cannot be moved there."),
        N_("Choose a moment inside the pull, before the valve shut, where the recording is whole."),
    ),
    "REV-004": (N_("This test was corrected already."), N_("Open the test that counts now.")),
    "REV-005": (N_("What is said of the pull is not complete."), N_("Say what it is about and why.")),
    "REC-001": (N_("The recording cannot be read."), N_("Bring it in together with its job sheet.")),
    "REC-002": (N_("The recording is empty."), nexts.RECORDING),
    "REC-003": (N_("The recording's format is not one that is read here."), nexts.RECORDING),
    "REC-004": (N_("The recording is damaged."), nexts.RECORDING),
    "REC-005": (N_("The recording holds no table of numbers."), nexts.RECORDING),
    "REC-006": (N_("Too much of the recording is damaged to go on."), nexts.RECORDING),
    "REC-007": (N_("A column that is needed holds no numbers."), nexts.COLUMNS),
    "REC-008": (N_("A channel holds no samples, or too few."), nexts.RECORDING),
    "REC-010": (N_("A column that is named is not in the recording."), nexts.COLUMNS),
    "REC-011": (N_("Several columns of the recording have the same name."), nexts.COLUMNS),
    "REC-012": (N_("The recording states another unit for a column than the job sheet."), nexts.COLUMNS),
    "REC-013": (N_("The time column holds no times that rise."), nexts.COLUMNS),
    "REC-014": (N_("The recording does not keep time as the job sheet says."), nexts.SHEET),
    "UNI-001": (N_("The unit is not known."), nexts.WITH_UNIT),
    "UNI-002": (N_("The unit is of another kind than is needed."), nexts.WITH_UNIT),
    "UNI-003": (
        N_("This is an absolute pressure; gauge pressure is needed."),
        N_("Give the pressure above the atmosphere."),
    ),
    "UNI-004": (N_("This is not a number that can be used."), nexts.WITH_UNIT),
    "UNI-005": (
        N_("The comma may part decimals or thousands."),
        N_("Type the number without separators between the thousands."),
    ),
    "UNI-006": (N_("The number has no unit."), nexts.WITH_UNIT),
    "TOL-001": (N_("The table of tolerances cannot be read."), nexts.KEEPER),
    "TOL-002": (N_("The set pressure is outside the range of the code."), nexts.RULES),
    "TOL-003": (
        N_("A limit of the owner's is missing."),
        N_("Give the owner's lower and upper limit, as found and as left."),
    ),
    "TOL-004": (N_("The code has no tolerance of its own for fire-case valves."), nexts.RULES),
    "TOL-005": (N_("The limits come out the wrong way round, or not above zero."), nexts.VALUES),
    "TOL-006": (N_("The code is not known."), nexts.RULES),
    "UNC-001": (N_("A coverage probability lies between 0 and 1."), nexts.VALUE),
    "UNC-002": (N_("Degrees of freedom lie above 0."), nexts.VALUE),
    "UNC-003": (N_("Correlations of the uncertainties cannot be true together, or cannot be used."), nexts.VALUES),
    "UNC-004": (N_("A line of the uncertainty budget cannot be used."), nexts.VALUES),
    "UNC-005": (N_("Pulls and their uncertainties differ in number."), nexts.VALUES),
    "UNC-009": (N_("The calibration has too few points for a curve of that degree."), nexts.VALUES),
    "UNC-010": (
        N_("No level of the calibration was read twice, so nothing shows how well the curve fits."),
        nexts.NOTHING,
    ),
    "UNC-012": (N_("No value, or more than one, belongs to the reading on the calibration curve."), nexts.VALUES),
    "RES-001": (N_("A number of the result is infinite or undefined."), nexts.VALUES),
    "RES-002": (
        N_("The result is in a format that is not known."),
        N_("Use the release of Firstlift that made it, or a newer one."),
    ),
    "RES-003": (N_("The result cannot be read."), nexts.KEEPER),
}
