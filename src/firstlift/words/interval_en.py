"""English sentences of what decides a next test date, and of what the tests tell beside it."""

from __future__ import annotations

from firstlift.words.sentence import Sentence

_REASONS = {
    "interval-evidence": Sentence(
        "the tests",
        "The chance of a find failed to danger stays under the target[ for {limit_yr}, at the safe end of what "
        "the tests leave open][; the best estimate is {estimate_yr}][, the far end {high_yr}].",
        "More tests narrow this; an overhaul makes the valve young again.",
    ),
    "interval-code": Sentence(
        "the code's maximum",
        "The code sets a longest interval[: {limit_yr}][ for service '{service}'][, {clause}][ (source: "
        "{source_status})].",
        "Confirm against the licensed edition. Nothing is recommended beyond it.",
    ),
    "interval-jurisdiction": Sentence(
        "the jurisdiction's maximum",
        "The jurisdiction sets a longest interval[: {limit_yr}][, as entered: {rule}].",
        "Confirm with the authority that it is still in force.",
    ),
    "interval-owner": Sentence(
        "the owner's maximum",
        "The owner sets a longest interval[: {limit_yr}][, as entered: {rule}].",
        "Ask the owner before anything longer is planned.",
    ),
    "interval-halved": Sentence(
        "halved after the last find",
        "The last interval[ of {present_yr}] is halved[, to {limit_yr}][: the last test found the valve "
        "'{found}'][ (source: {source_status})].",
        "Find the cause, and look at the valve's siblings.",
    ),
    "interval-held": Sentence(
        "held as it was",
        "The interval stays as it was[, {present_yr}][ and so {limit_yr}], until two finds within the tolerance "
        "follow one another[; the last was '{found}'][ (source: {source_status})].",
        "Find the cause where the valve was outside its tolerance.",
    ),
    "interval-step": Sentence(
        "one step longer",
        "After two finds[ '{found}'] running the interval[ of {present_yr}] may step up[, to {limit_yr} at most][ "
        "(source: {source_status})].",
        "The owner may set another step.",
    ),
    "interval-drift": Sentence(
        "drift",
        "Drift[ of {slope_per_yr_relative} a year] makes an opening too high to be safe[, above {danger_ratio} of "
        "set pressure,] likelier than the target[ after {limit_yr}].",
        "Look for what moves the set pressure: spring, temperature, adjusting screw.",
    ),
    "spread-when-set": Sentence(
        "openings spread widely",
        "By how widely the openings of the group spread, one too high to be safe[, above {danger_ratio} of set "
        "pressure,] is likelier than the target on the day a valve is set already[; of {count} measured, {high_count} "
        "were that high]. No interval lowers that[; time adds as much again as the target after {limit_yr}].",
        "Look at the valves that opened far off and at how valves are set: a few that stick widen the spread of all.",
    ),
}
_TOLD = {
    "no-failures-seen": Sentence(
        "no failure seen",
        "No valve was ever found failed to danger: rules decide[; the tests alone prove {limit_yr}][, best "
        "estimate {estimate_yr}][, far end {high_yr}].",
        "Keep testing: what never failed in few tests may still fail.",
    ),
    "target-not-proven": Sentence(
        "target not proven by tests",
        "The tests do not prove the target for as long as the rules allow[: for {low_yr} only][, not {limit_yr}].",
        "The owner decides whether the rule is enough, or tests sooner, or pools with more valves alike.",
    ),
    "few-failures": Sentence(
        "few failures",
        "Few valves were found failed to danger[: {count}]; the interval is wide because little is known.",
        "Pool with valves alike, by maker, medium or service.",
    ),
    "shape-not-told": Sentence(
        "ages do not tell a shape",
        "The tests cannot tell how the chance of failing changes with age[ ({reason})]: no fit of a shape is "
        "given, and what valves in general do is leaned on.",
        "Tests at other ages would tell it.",
    ),
    "wear-out": Sentence(
        "wear-out",
        "The chance of failing grows with age[: shape {shape}][, from {low}][ to {high}].",
        "Overhaul pays: it makes the valve young again.",
    ),
    "constant-hazard": Sentence(
        "no wear-out shown",
        "The tests do not show that the chance of failing changes with age[: shape {shape}][, from {low}][ to "
        "{high}], and 1 is not ruled out.",
        "Do not count on an overhaul by age alone to prevent failures.",
    ),
    "early-failures": Sentence(
        "early failures",
        "The chance of failing falls with age[: shape {shape}][, from {low}][ to {high}]; valves fail soon after "
        "overhaul.",
        "Look at how valves are overhauled, stored and fitted.",
    ),
    "drift-up": Sentence(
        "set pressure drifts up",
        "Set pressures of the group rise[ by {slope_per_yr_relative} a year][, from {low_relative}][ to "
        "{high_relative}].",
        "A rising set pressure is the unsafe side: find the cause.",
    ),
    "drift-down": Sentence(
        "set pressure drifts down",
        "Set pressures of the group fall[: slope {slope_per_yr_relative} a year][, from {low_relative}][ to "
        "{high_relative}].",
        "Tired springs or wrong temperature: expect early lifts and leaks.",
    ),
    "beyond-experience": Sentence(
        "beyond experience",
        "The interval[ of {limit_yr}] is longer than any valve of the group was watched[ ({oldest_yr})].",
        "Step up to it, do not jump.",
    ),
    "effectiveness-marked-down": Sentence(
        "marked down as a test",
        "The test sees a part of the dangerous failures only[: {seen_share}][ (source: {source_status})]; the "
        "rest (plugging, capacity) goes on growing since the last overhaul.",
        "Enter the owner's own share where it is known.",
    ),
    "groups-lent": Sentence(
        "groups lean on one another",
        "The groups[, {count} of them,] were weighed together: one with few tests leans on the others as far as "
        "they are alike.",
        "Group valves that fail alike: by maker, medium or service.",
    ),
    "start-unknown": Sentence(
        "age not known",
        "No overhaul or installation is entered[ for '{valve}'][ for {count}][ of {valves} valves]: age counts "
        "from the first row, so the valve is older than it says.",
        "Enter the day of the last overhaul.",
    ),
    "lower-bounds-only": Sentence(
        "lower bounds",
        "Some pulls[, {count} of them,] proved a lower bound only: they say nothing of the valve on that day, and "
        "its life counts as good up to the test before.",
        "A pull that lifts the disc tells more.",
    ),
    "hidden-risk-spent": Sentence(
        "overhaul due",
        "What this test cannot see may already use up the target[, at an age of {age_yr}][; the test sees "
        "{seen_share} of the dangerous failures].",
        "Plan an overhaul, or a test at full pressure with inlet and outlet inspected: another lift will not help.",
    ),
}


_BASIS = (
    "[ (the {feature} changed by {change_relative}][, where {low_relative}][ to {high_relative} was foretold]"
    "[ by {visits} earlier visits][, false alarms {false_alarm_probability})]"
)
_SIGNATURE = {
    "signature-wrong-spring": Sentence(
        "another spring",
        f"The spring is not the one of earlier visits{_BASIS}.",
        "Check the spring's marking against the valve's papers before the valve is adjusted.",
    ),
    "signature-tired-spring": Sentence(
        "tired spring",
        f"The spring pushes less than it did{_BASIS}.",
        "Do not screw it up to make good: measure free length and rate at the next overhaul, or change it.",
    ),
    "signature-galled-guide": Sentence(
        "galled guide",
        f"Friction has grown while the rest of the valve stayed as it was{_BASIS}.",
        "Look at guide, disc holder and packing for galling, dirt and dryness.",
    ),
    "signature-bent-spindle": Sentence(
        "bent spindle",
        f"Friction has grown, and the closed valve gives more, or has more play, than it did{_BASIS}.",
        "Check that the pull is centred; if it is, take the spindle out and measure its run-out.",
    ),
    "signature-changed": Sentence(
        "signature changed",
        f"The valve's signature changed in a way that fits no usual cause{_BASIS}.",
        "Check rig and sensors first, then keep an eye on it at the next visit.",
    ),
    "signature-first": Sentence(
        "no earlier signature",
        "There is no earlier signature to compare with[, over {visits} earlier visits].",
        "Keep this one: the next visit is held against it.",
    ),
}

INTERVAL: dict[str, Sentence] = {**_REASONS, **_TOLD, **_SIGNATURE}
