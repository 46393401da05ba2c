"""The English sentences of every finding: one row a code, another language is another such table.

A part in square brackets is left out where one of its fields is missing (see `firstlift.words.fields`).
The method does not show at what pressure a valve shuts again after a full discharge, so no row speaks of it.
"""

from __future__ import annotations

from firstlift.words.adjust_en import ADJUST
from firstlift.words.hazard_en import HAZARD
from firstlift.words.interval_en import INTERVAL
from firstlift.words.plan_en import PLAN
from firstlift.words.sentence import Sentence

VALVE = {
    "set-pressure-outside": Sentence(
        "set pressure outside the limits",
        "The set pressure lies outside the limits of the code.",
        "Adjust and test again, or take the valve out of service, as the owner's procedure says.",
    ),
    "set-pressure-undecided": Sentence(
        "set pressure not decided",
        "The set pressure lies too near a limit for this measurement to decide.",
        "Test again with more line pressure, a better known seat or better instruments, or let the owner decide.",
    ),
    "stuck-first-pull": Sentence(
        "first pull high, later pulls normal",
        "The first pull opened[ at {first_set_pressure_pa}] well above the later ones"
        "[ ({later_set_pressure_pa})]: disc and seat, or the guide, were stuck together.",
        "Keep the first value as the as-found result. Find what bonded the valve (deposits, corrosion, a dry guide) "
        "and shorten the time to the next test.",
    ),
    "stayed-open": Sentence(
        "valve stayed open",
        "After the pull was released the valve did not close: lift did not come back to its closed reading"
        "[ (still {lift_m})][, seen from {at_s} on].",
        "Treat the valve as inoperable. Lower the pressure or isolate by the agreed procedure, and take the valve "
        "out for repair before the plant relies on it again.",
    ),
    "already-open": Sentence(
        "valve already open at the start of the pull",
        "The valve was already open when the pull began[ (lift {lift_m})], so this pull has no first lift.",
        "Let the valve close and settle, then pull again. If it does not close, treat it as inoperable.",
    ),
    "leaking-before-lift": Sentence(
        "seat leaks before lift",
        "The seat leaked before first lift[: sound rose {lead_s} before it][, from {at_s} on].",
        "Do not adjust the spring on this reading: while the seat leaks, pressure acts on a wider area and the valve "
        "opens lower than it will with a tight seat. Clean or lap the seat first, then test again.",
    ),
    "eccentric-pull": Sentence(
        "pull off the spindle's axis",
        "The load was not shared evenly by the force cells[: one carried {share_share}]"
        "[, spread {spread_n}]; a slanted pull presses the spindle against its guide.",
        "Centre and level the rig over the spindle, then pull again. Do not use this pull for adjusting.",
    ),
    "friction": Sentence(
        "friction in the valve",
        "Opening and closing forces differ by friction[ of {friction_n}][, that is {friction_pa} of set pressure].",
        "Friction acts in service too and is not taken out of the result. Look at guide, spindle and packing at the "
        "next overhaul.",
    ),
    "spring-setting-only": Sentence(
        "shows the spring setting only",
        "Line pressure[ of {line_pressure_pa}] was too low to prove that the disc followed the spindle: the pull shows "
        "the spring setting, not that the valve opens.",
        "Repeat with more line pressure, or prove the opening on a bench, before calling the valve fit.",
    ),
    "preconditioned": Sentence(
        "moved before the first pull",
        "The valve had been moved before the first recorded pull[ ({cause})], so the as-found value may miss a bond "
        "that was broken then.",
        "Say so to the owner. At the next visit record the first movement.",
    ),
    "trend": Sentence(
        "openings drift",
        "The last openings move steadily in one direction[, by {change_pa} over {count} pulls][ ({slope_pa} a pull)].",
        "Wait until temperatures settle and pull again until the openings agree; accept nothing while they drift.",
    ),
    "not-lifted": Sentence(
        "no lift",
        "The valve did not lift[ up to a pull of {pull_force_n}][, which proves that it opens above {lower_bound_pa}].",
        "Do not pull past the agreed limit. Treat the valve as unproven: take it out, or agree a higher pull with the "
        "owner in writing.",
    ),
    "lower-bound-high": Sentence(
        "proved to open too high",
        "The valve stayed closed above its upper limit[ of {upper_pa}][: it opens above {lower_bound_pa}].",
        "The valve is outside its limit even without a set pressure. Take it out of service for repair.",
    ),
    "cap-on": Sentence(
        "cap on during the test",
        "The cap was on during the test[: pressure under it is taken as {cap_pressure_pa}].",
        "Take the cap off and vent the bonnet as the procedure says, or state the pressure under the cap.",
    ),
}

SIGNALS = {
    "frame-slip": Sentence(
        "rig slipped",
        "The rig slipped or settled during the pull[ at {at_s}][: the lift reading jumped by {jump_m}]"
        "[ while the force dropped by {drop_n}].",
        "Seat and tighten the rig, then pull again.",
    ),
    "line-unsteady": Sentence(
        "line pressure unsteady",
        "Line pressure moved during the pull[ by {change_pa}][ (standard deviation {spread_pa})].",
        "Ask operations to hold the pressure, or damp the gauge line; then pull again.",
    ),
    "gauge-held": Sentence(
        "gauge stands still",
        "The line-pressure reading held one exact value[ from {start_s}][ to {end_s}][ ('{channel}')]: a change of "
        "line pressure in that time would not have been seen.",
        "Check that the gauge was read afresh for each sample, and that its line was open.",
    ),
    "gauge-coarse": Sentence(
        "gauge reads in coarse steps",
        "The line pressure is read in coarse steps[ of {step_pa}][ ('{channel}')]: nothing finer than half a step is "
        "known of it.",
        "Use a gauge or a converter that reads finer, or one whose range fits the line pressure.",
    ),
    "gauge-lag": Sentence(
        "gauge lags",
        "The line-pressure gauge answers late[, by up to {delay_s}].",
        "State the delay on the job sheet, or use a faster gauge or a shorter impulse line.",
    ),
    "lift-signal-lost": Sentence(
        "lift signal lost",
        "The lift sensor gave no usable signal[ from {start_s}][ to {end_s}][ ({channel})].",
        "Check the sensor, its bracket and cable, then pull again.",
    ),
    "acoustic-signal-lost": Sentence(
        "sound signal lost",
        "The acoustic sensor gave no usable signal[ from {start_s}][ to {end_s}][ ({channel})].",
        "Check coupling and cable of the sensor, then pull again.",
    ),
    "force-saturated": Sentence(
        "force cell at its stop",
        "The force reading[ of '{channel}'] ran into a stop[ at {limit_n}]: the true pull was larger.",
        "Use a larger cell or range and test again.",
    ),
    "force-dropout": Sentence(
        "force signal dropped out",
        "The force signal[ of '{channel}'] dropped out[ from {start_s}][ to {end_s}][ at {at_s}].",
        "Check cable and connector of the force cell, then pull again.",
    ),
    "channels-disagree": Sentence(
        "channels disagree",
        "The channels do not agree on the moment of first lift[: they differ by {spread_s}][ ({channel})].",
        "Look at the figures of this pull. Check the clocks and delays of the channels, then pull again if unsure.",
    ),
    "repaired-samples": Sentence(
        "samples repaired",
        "Samples that cannot be real were taken out[: {count} in '{channel}'][, first at {at_s}]"
        "[, line {first_line}][, cause: {cause}].",
        "Look for a loose plug, an earth loop or a radio nearby if this happens often.",
    ),
    "torn-file": Sentence(
        "recording cut short",
        "The recording ends in the middle of its data[, in line {line}][, after {at_s}]; the readable part was used.",
        "Copy the file from the recorder again. If it stays torn, test again.",
    ),
    "gap": Sentence(
        "gap in the recording",
        "The recording has gaps[: {count} in all][, in '{channel}'][; the longest is {longest_s}][, from {from_s}]"
        "[ to {to_s}].",
        "Check the recorder's rate and storage; a gap away from first lift does no harm.",
    ),
    "gap-at-first-lift": Sentence(
        "gap at first lift",
        "The recording has a gap where the valve lifted[, in '{channel}'][, from {from_s}][ to {to_s}].",
        "Pull again: what happened in the gap was not seen.",
    ),
    "rate-too-low": Sentence(
        "sampled too slowly",
        "The recording is too slow to see first lift well[: {rate_hz} in '{channel}'].",
        "Record faster, or pull more slowly.",
    ),
    "hum-removed": Sentence(
        "mains hum removed",
        "A steady hum was removed[ from '{channel}'][ at {frequency_hz}].",
        "Nothing needs doing. A shielded cable with one earth keeps it away.",
    ),
    "late-start": Sentence(
        "recording started late",
        "The recording started when the pull had already begun[ ({pull_force_n})], so the slack reading is missing.",
        "Start recording some seconds before the pull.",
    ),
    "zero-shift": Sentence(
        "zero of the force moved",
        "The slack reading before and after the pull differs[ by {shift_n}].",
        "Check the rig for rubbing parts and the cell for damage; the shift is part of the uncertainty.",
    ),
    "slack-not-proven": Sentence(
        "slack reading not proven",
        "The recording does not show the rig slack, so the zero of the pull is not proven[ (taken as {zero_n})].",
        "Let the rig hang slack for some seconds before and after each pull.",
    ),
    "no-usable-force": Sentence(
        "no usable force",
        "No force channel gave a usable signal.",
        "Check the force cells and what the job sheet says of their columns and units, then test again.",
    ),
    "no-pull-found": Sentence(
        "no pull found",
        "The recording shows no rise and release of the pulling force[; the largest force was {largest_n}].",
        "Check that the right file and columns are named, then test again.",
    ),
    "no-line-pressure": Sentence(
        "no line pressure",
        "There is no usable line pressure.",
        "Record the line pressure, or enter it by hand on the job sheet with its uncertainty.",
    ),
    "over-pull-limit": Sentence(
        "pull above its limit",
        "The pull went above the limit stated for this valve[: {pull_force_n}][ against {limit_n}].",
        "Have spindle, disc and their joint looked at before the valve is relied on.",
    ),
}

JUDGEMENT = {
    "edition-differs": Sentence(
        "another edition of the code",
        "The job sheet asks for another edition of the code than the one used here[: '{asked}' is asked]"
        "[, '{used}' is used].",
        "Check that the limits are the same in the edition that governs this valve.",
    ),
    "line-too-low-to-decide": Sentence(
        "line pressure too low to decide",
        "Line pressure[ of {line_pressure_pa}] was too low to decide: what is not known of the seat area weighs too "
        "much[: the uncertainty is {expanded_uncertainty_pa}][ where the limits lie {tolerance_pa} to each side].",
        "Repeat at a higher line pressure, or measure the seat.",
    ),
    "uncertainty-too-large-to-decide": Sentence(
        "uncertainty too large to decide",
        "The value lies nearer to a limit than its uncertainty[ of {expanded_uncertainty_pa}] allows to decide."
        "[ The limits lie {tolerance_pa} to each side.]",
        "Look at the largest lines of the budget, make those smaller, and test again.",
    ),
    "calibration-overdue": Sentence(
        "calibration overdue",
        "The calibration of an instrument had run out on the day of the test[: '{channel}'][, serial {serial}]"
        "[, due {due}].",
        "Have the instrument calibrated; if it is found out of its limits, this test must be looked at again.",
    ),
    "temperature-missing": Sentence(
        "temperatures not recorded",
        "Ambient and body temperature were not recorded.",
        "Record both: set pressure moves with temperature, and later tests are compared at like conditions.",
    ),
    "temperature-both": Sentence(
        "two bases of temperature",
        "The sheet states a hot body and a cold differential test pressure[ (body {body_temperature_k})]; the hot "
        "valve was compared with its set pressure only.",
        "Check which of the two applies; the temperature factor is never used on a valve that is hot.",
    ),
    "cold-test-pressure-used": Sentence(
        "compared with the cold test pressure",
        "The body was at ambient temperature, so the result was compared with the cold differential test pressure"
        "[ of {test_pressure_pa}].",
        "Nothing needs doing if the nameplate or the maker's sheet says the same.",
    ),
    "seat-edges-only": Sentence(
        "seat known by its edges",
        "The seat is known by its bore and outer contact edge only; every area between is taken as equally likely.",
        "Two line pressures, or a bench comparison, narrow the area down.",
    ),
    "back-pressure-uncertain": Sentence(
        "back pressure not known well",
        "The uncertainty of the back pressure at the test is not stated[ (back pressure {back_pressure_pa})].",
        "Measure the pressure at the outlet during the test, or state its uncertainty on the job sheet.",
    ),
    "geometry-missing": Sentence(
        "dimension missing",
        "A dimension that matters for back pressure is not stated[: {key}]; its lack is in the uncertainty.",
        "State the dimension on the job sheet from the drawing or by measuring.",
    ),
    "uncertainty-not-stated": Sentence(
        "uncertainty not stated",
        "No uncertainty is stated for an input[: '{channel}'][ ({quantity})]; it counts as zero, so the stated "
        "uncertainty of the result is too small.",
        "Enter the uncertainty from the calibration certificate.",
    ),
    "too-few-openings": Sentence(
        "too few openings",
        "There are too few consecutive openings for the as-left verdict[: {count}][ of {needed}].",
        "Pull again until enough consecutive openings agree.",
    ),
    "openings-disagree": Sentence(
        "openings disagree",
        "The last openings differ by more than is allowed[: {spread_pa}][: their spread is {spread_share}][ against "
        "{allowed_share}].",
        "Find the cause (temperature, rig, friction) and pull again until they agree.",
    ),
    "pop-distance-unknown": Sentence(
        "distance from first lift to pop not known",
        "The code judges the pop, the test shows first lift; the distance between them is not known"
        "[ and is taken as at most {distance_pa}].",
        "State the distance from earlier full-pressure tests of this valve, if there are any.",
    ),
    "pull-rejected": Sentence(
        "pull rejected by hand",
        "This pull was rejected by hand[: {reason}][ ({by}, {at})][. The program read {read_set_pressure_pa} from it]"
        "[, with first lift at {read_first_lift_s}].",
        "Hold the reason against the traces. The recording and what the program read stay with the result.",
    ),
    "first-lift-moved": Sentence(
        "first lift moved by hand",
        "First lift was moved by hand[ from {read_first_lift_s} to {moved_first_lift_s}][: {reason}][ ({by}, {at})]"
        "[. The program's own moment gives {read_set_pressure_pa}, the moved one {set_pressure_pa}].",
        "Hold both moments against the traces. The uncertainty takes in both; what each channel said alone stands in "
        "the evidence.",
    ),
    "first-loading-rejected": Sentence(
        "first loading rejected",
        "The first loading was rejected, so there is no set pressure as found; no later pull can take its place.",
        "Say so to the owner, and let a test as left show what the valve is set to now.",
    ),
}

SENTENCES: dict[str, Sentence] = {**VALVE, **SIGNALS, **JUDGEMENT, **INTERVAL, **PLAN, **ADJUST, **HAZARD}
