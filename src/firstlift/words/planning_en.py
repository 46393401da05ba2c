"""English phrases of planning that are not findings: hold points, cards, next steps, what is not proven.

Each is one sentence; a part in square brackets goes where one of its fields is missing.
"""

from __future__ import annotations

NOT_PROVEN = {
    "not-proven-capacity": "how much the valve lets through",
    "not-proven-blowdown": "at what pressure it shuts again after a full discharge",
    "not-proven-full-lift": "that it reaches its full lift and stops there",
    "not-proven-tightness": "that it is tight at nine tenths of set",
    "not-proven-fouling": "that inlet and outlet are free",
    "not-proven-parts": "the state of its parts and of a bellows",
}
STAGE = {
    "before-valve": "Before the gear comes near the valve",
    "before": "On the valve, before the first pull",
    "between": "Between pulls",
    "after": "After the last pull",
}
HOLD = {
    "hold-permit": "Permit and authority are in hand; operations know and the unit is steady.",
    "hold-cells-checked": "Force cells are checked off the valve: a tug on it spoils the as-found.",
    "hold-sensors-checked": "Lift and sound sensors are checked off the valve: a tap on it spoils the as-found.",
    "hold-zone": "Electronics are fit for the zone, or a gas-free permit is in hand.",
    "hold-weight-known": "The weight that rests on the spindle is known[: {weight_n} entered].",
    "hold-outlet-clear": "The outlet is clear of ice, dirt and people, and leads where it should.",
    "hold-other-relief": "Another relief path of the system is live throughout.",
    "hold-lower-pressure": "There is a way to lower pressure, and it is written down who does it[; the valve should "
    "have shut by {closes_low_pa}].",
    "hold-people-clear": "People keep clear of outlet, drain, vent and open bonnet, with hearing protection.",
    "hold-not-touched": "Nobody has lifted, tapped or turned the valve in this visit, or it is said.",
    "hold-seal-cut": "The seal is noted and cut by whoever may do so.",
    "hold-bonnet-sealed": "The closed bonnet is sealed towards the live header first[: {back_pressure_pa}].",
    "hold-cap-off": "Cap and lever are off.",
    "hold-screw-height": "The height of the adjusting screw is measured and noted.",
    "hold-rings": "The positions of the rings are noted.",
    "hold-thread-rated": "Spindle and thread bear the abort force[ of {abort_force_n}][; limit {spindle_limit_n}].",
    "hold-axial": "The pull is on the spindle's axis.",
    "hold-free-travel": "Under full pull[, {pull_n},] and without power the spindle is free to travel its rated "
    "lift[, {rated_lift_m}]: the gear never acts as a gag.",
    "hold-tight-before": "Tightness at line pressure is judged by ear and sensor[ at {line_pressure_pa}].",
    "hold-abort-set": "The abort limits are set in the rig[: {abort_force_n}].",
    "hold-recovery": "The valve has had time to come back to temperature[: {recovery_min} min].",
    "hold-tight-between": "It is tight again, by ear and sensor.",
    "hold-gear-off": "The gear is off, and nothing rests on the spindle.",
    "hold-tight-after": "It is tight, by ear and sensor[, at {line_pressure_pa}].",
    "hold-rings-after": "Screw height and ring positions are as noted before, or the change is noted.",
    "hold-cap-on": "Cap and lever are on, and the lever is free.",
    "hold-sealed": "The seals are renewed with the mark of whoever did it.",
    "hold-owner-told": "Whoever runs the plant knows what was found, and it is noted that they do.",
    "adjust-hold-pull-off": "The pull is off and the gear slack.",
    "adjust-hold-line-lowered": "The line stands at or below the safe pressure.",
    "adjust-hold-seal-cut": "The seal is noted and cut by whoever may do so.",
    "adjust-hold-rings": "The positions of the rings are noted.",
    "adjust-hold-height": "The height of the screw is measured and noted.",
    "adjust-hold-spindle": "The spindle is held: it does not turn on the seat.",
    "adjust-hold-turn": "The screw is turned as said, the flats counted aloud.",
    "adjust-hold-locknut": "The lock nut is tight, the spindle still held.",
    "adjust-hold-actuate": "The valve is opened at least once before the next pull counts; some makers ask for three.",
    "adjust-hold-seal": "Cap, lever and seal are renewed with the mark of whoever did it.",
}
EVENT = {
    "stuck": "It does not open",
    "stayed-open": "It stays open",
    "leaking": "It leaks",
    "bellows-vent": "The bellows' vent blows",
}
STEP = {
    "card-stop-pull": "Stop the pull[ at {abort_force_n}].",
    "card-release-slowly": "Let the pull go slowly: it may still open on the way down.",
    "card-bound-proven": "It opens above what was reached[: {bound_pa}][, against a limit of {upper_pa}].",
    "card-bound-says-little": "What was reached[, {bound_pa},] proves little[ against a limit of {upper_pa}]; say so.",
    "card-no-harder": "Do not pull harder[; {never_pa} is never reached in place].",
    "card-no-hammer": "No hammering, no tapping.",
    "card-no-gag": "No gag, nothing that holds the spindle.",
    "card-stuck-relief-path": "The system is not protected by this valve: keep the other relief path live.",
    "card-people-clear": "Everybody clear of outlet, drain, vent and bonnet; hearing protection on.",
    "card-gear-slack": "Let the pull go and see slack in the gear: it must not be the gear that holds it.",
    "card-lower-pressure": "Have the line lowered[ from {line_pressure_pa}][: it should have shut by {closes_low_pa}].",
    "card-held-open": "The line[, at {line_pressure_pa},] is below where it should have shut[, {closes_low_pa}]: "
    "something holds it. Have the line lowered further.",
    "card-no-block-valve": "Close no block valve without another live relief path; only who is authorised moves one.",
    "card-not-pull-again": "Do not pull again.",
    "card-inoperable": "The valve is inoperable until it has been taken apart, also if it shuts.",
    "card-listen": "Listen, and look at the sound sensor: tell a wisp from flow.",
    "card-leak-lower": "If it does not go quiet, have the line lowered[ from {line_pressure_pa}] and say so.",
    "card-no-adjust-on-leak": "Do not adjust on a leaking reading.",
    "card-vent-not-plugged": "Do not plug the vent.",
    "card-bellows-lower": "Have the line lowered[ below {closes_low_pa}]; the bellows is gone.",
    "card-bellows-conventional": "Its set pressure is that of a plain valve now: back pressure counts in full.",
    "card-owner-told": "Tell whoever runs the plant at once, and note who took note.",
}
NEXT = {
    "next-decided-stop": "decided, stop",
    "next-one-more-pull": "pull once more",
    "next-more-line": "raise the line by {raise_pa}",
    "next-better-area": "measure the seat",
    "next-better-gauge": "use a better gauge",
    "next-better-cells": "use better cells",
    "next-nothing-helps": "nothing here is likely to decide: the value lies on a limit",
}
ACTION = {
    "as-planned": "as planned",
    "one-more-pull": "one more pull",
    "more-line": "more line pressure",
    "better-area": "seat measured twice as well",
    "better-gauge": "gauge twice as good",
    "better-cells": "cells twice as good",
}
AWAY = {
    "hearing-lower-action": "80 dB(A), lower action value",
    "hearing-upper-action": "85 dB(A), upper action value",
    "hearing-day": "90 dB(A), limit of an 8 h day",
    "hearing-quarter-hour": "115 dB(A), limit of a quarter of an hour",
    "hearing-peak": "140 dB, peak",
    "jet-gust": "jet slowed to a gust of 10 m/s",
    "jet-burn": "jet cooled to 60 °C",
    "jet-harmful": "jet thinned to the share entered",
}
PART = {"frame": "frame", "cells": "cells together", "spindle": "spindle"}
GO = {"go": "go", "ask": "questions are open", "no-go": "do not pull"}
LIKELIHOOD = {"unlikely": "not expected", "possible": "possible", "likely": "likely"}
DIRECTION = {
    "right": "to the right (clockwise from above): up",
    "left": "to the left (anticlockwise from above): down",
    "none": "not at all",
}
EFFECT = {
    "spring": "from the spring's data",
    "learned": "learned from this valve",
    "spring and learned": "from the spring's data and this valve's past",
}
CATEGORY = {
    "within": "within its limits",
    "high": "opens too high",
    "low": "opens too low",
    "stuck": "stuck",
    "leaked": "leaked",
    "stayed-open": "stayed open",
    "undecided": "not decided",
    "not-shown": "not shown",
}
# what a row of tests may say besides
FOUND = {"lower-bound": "did not open"}
SUGGESTION = {
    "keep": "keep in service",
    "repeat": "test again",
    "adjust": "adjust",
    "overhaul": "overhaul",
    "remove": "take out of service",
    "report": "report to the owner",
}
# questions of applicability, by the name they are answered with
QUESTION = {
    name: name
    for name in (
        "valve-kind", "spindle-holds-disc", "thread", "rupture-disc", "bellows", "drain-and-vent", "seat", "gag",
        "guide", "release", "accepted",
    )
}  # fmt: skip
# why the lives of a group tell no shape
UNTOLD = {
    "no-failures": "no-failures",
    "no-survivors": "no-survivors",
    "one-inspection-age": "one-inspection-age",
    "shape-not-determined": "shape-not-determined",
}

TABLES = {
    "not-proven": NOT_PROVEN,
    "stage": STAGE,
    "hold": HOLD,
    "event": EVENT,
    "step": STEP,
    "next": NEXT,
    "action": ACTION,
    "away": AWAY,
    "part": PART,
    "go": GO,
    "likelihood": LIKELIHOOD,
    "direction": DIRECTION,
    "effect": EFFECT,
    "category": CATEGORY,
    "found": FOUND,
    "suggestion": SUGGESTION,
    "question": QUESTION,
    "untold": UNTOLD,
}
