"""The English sentences of the pull plan and of systems judged together."""

from __future__ import annotations

from firstlift.words.sentence import Sentence

PLAN = {
    "plan-owner-decides": Sentence(
        "the owner's permit decides",
        "A plan is advice, not a permit.",
        "The owner's permit, local codes and whoever is licensed for this work decide.",
    ),
    "plan-beyond-rig": Sentence(
        "beyond the rig",
        "The pull that the valve needs[, {expected_n},] is more than frame, cells or spindle bear[: {abort_force_n}]"
        "[; up to {high_n} may be needed].",
        "Raise the line pressure or use a stronger rig; never go past the limit.",
    ),
    "plan-range-cut": Sentence(
        "rig stops within the limits",
        "The rig stops[ at {abort_force_n}] before a valve at its upper limit must have opened[: that takes {high_n}]"
        "[, {expected_n} expected].",
        "Expect pulls that end without lift and prove little; more line pressure needs less pull.",
    ),
    "plan-cannot-prove-high": Sentence(
        "a stop proves nothing",
        "A valve that has not opened by the stop is not yet proven high[: the stop reaches {bound_pa}][, the upper "
        "limit is {upper_pa}].",
        "Say so beforehand; a narrower uncertainty or a stronger rig would prove it.",
    ),
    "plan-limit-unknown": Sentence(
        "a limit not known",
        "Nobody stated what some parts bear[: {parts}].",
        "Find out before the pull: spindle and thread from the maker, frame and cells from their plates.",
    ),
    "plan-stop-raised": Sentence(
        "stop raised",
        "The pull is to stop later than usual[: at {stop_share} of set].",
        "Have the owner agree to it in writing; 110 % is usual, 150 % is never reached in place.",
    ),
    "plan-cannot-decide": Sentence(
        "no line pressure decides",
        "With these uncertainties no line pressure within reach lets a valve be found within its limits"
        "[: U is {expanded_uncertainty_pa}][ against a tolerance of {tolerance_pa}].",
        "See what would help most: a better area, gauge or cell, or more line pressure.",
    ),
    "plan-line-too-low-to-decide": Sentence(
        "line pressure too low to decide",
        "At this line pressure[, {line_pressure_pa},] not even a valve in the middle of its limits can be found within"
        "[; {lowest_line_pa} is the least][: U is {expanded_uncertainty_pa}][ against a tolerance of {tolerance_pa}].",
        "Raise the line, or know the seat area better.",
    ),
    "plan-moment-assumed": Sentence(
        "moment of first lift assumed",
        "How well the moment of first lift will be found is assumed[: {uncertainty_pa}].",
        "State it from earlier tests with this rig, if there are any.",
    ),
    "plan-cap-on": Sentence(
        "cap on",
        "The job sheet says that the cap is on during the pull.",
        "A pull needs the spindle: take cap and lever off, or say how the spindle is reached.",
    ),
    "plan-very-low-set": Sentence(
        "very low set pressure",
        "The set pressure is very low[: {set_pressure_pa}]; small errors weigh much, and a usual tolerance may exceed "
        "what a tank bears.",
        "The owner states tolerance and gauge for it.",
    ),
    "plan-line-near-set": Sentence(
        "line too near set",
        "The line stands so near set that a small pull opens the valve fully[: {line_pressure_pa}][, {line_share} of "
        "set].",
        "Lower the line first.",
    ),
    "plan-stays-open-likely": Sentence(
        "likely to stay open",
        "If the valve gets to full lift it is likely to stay open at this line pressure[: {line_pressure_pa}]"
        "[, {line_share} of set][; the chance is about {stays_open_probability}][; it should shut by {closes_low_pa}].",
        "Lower the line if the verdict allows it; have a way to lower pressure ready, and who does it.",
    ),
    "plan-stays-open-possible": Sentence(
        "may stay open",
        "If the valve gets to full lift it may stay open at this line pressure[: {line_pressure_pa}][, {line_share} of "
        "set][; the chance is about {stays_open_probability}][; it should shut by {closes_low_pa}].",
        "Have a way to lower pressure ready, and who does it.",
    ),
    "plan-line-low": Sentence(
        "line low",
        "The line is low for this method[: {line_pressure_pa}][, {line_share} of set]: area errors weigh much.",
        "Seven to eight tenths of set are usual.",
    ),
    "plan-spring-setting-only": Sentence(
        "will show the spring setting only",
        "With so little line pressure[: {line_pressure_pa}][, {line_share} of set] the spindle may rise without the "
        "disc: the pull shows what the spring is set to, not that the valve opens.",
        "Raise the line pressure; seven to eight tenths of set are usual.",
    ),
    "plan-check-other-valve": Sentence(
        "not this valve's plan",
        "The plan is not of this valve as it is now[: {tag}][, set {set_pressure_pa}][, seat {area_m2}].",
        "Plan again from the job sheet.",
    ),
    "plan-check-not-go": Sentence(
        "plan does not say go", "The plan itself does not say go.", "Answer what is open, or do not pull."
    ),
    "plan-check-force": Sentence(
        "abort force too high",
        "The plan's abort force is more than a part may be loaded to[: {abort_force_n}][, {part} {usable_n}].",
        "Plan again with the limits of this rig.",
    ),
    "plan-check-stop": Sentence(
        "stops too late",
        "The plan would stop at a pressure that is never reached in place[: {bound_pa}][, {never_pa} is the mark].",
        "Plan again.",
    ),
    "plan-check-line": Sentence(
        "line pressure of the plan",
        "The plan's line pressure or its limits on it make no sense[: {line_pressure_pa}].",
        "Plan again.",
    ),
    "plan-check-limit-missing": Sentence(
        "a limit of the plan missing", "A rate or an abort limit of the plan is 0 or less.", "Plan again."
    ),
    "ask-valve-kind": Sentence(
        "kind of valve?",
        "It is not known whether the valve is direct spring-loaded.",
        "Answer valve-kind: an assisted lift serves no other kind.",
    ),
    "ask-spindle-holds-disc": Sentence(
        "disc held?",
        "It is not known whether the spindle holds the disc positively.",
        "Answer spindle-holds-disc: otherwise the spindle rises without it.",
    ),
    "ask-thread": Sentence(
        "thread sound?",
        "It is not known whether the spindle's thread is sound.",
        "Answer thread: a corroded one gives way under the pull.",
    ),
    "ask-rupture-disc": Sentence(
        "rupture disc?",
        "It is not known whether a rupture disc stands in series.",
        "Answer rupture-disc: it may burst, or hide the line from the valve.",
    ),
    "ask-bellows": Sentence(
        "bellows sound?",
        "The state of the bellows is not known.",
        "Answer bellows: a failed one lets the medium out at the bonnet.",
    ),
    "ask-drain-and-vent": Sentence(
        "drain and vent clear?",
        "It is not known whether drain and bonnet vent are clear.",
        "Answer drain-and-vent: what stands in body or bonnet changes the forces.",
    ),
    "ask-seat": Sentence(
        "seat?",
        "It is not known whether the seat is metal or soft.",
        "Answer seat: a soft one sticks and is easily hurt.",
    ),
    "ask-gag": Sentence("gag?", "It is not known whether a gag is fitted.", "Answer gag: a gagged valve cannot open."),
    "ask-guide": Sentence(
        "guide whole?", "It is not known whether the guide is whole.", "Answer guide: without it the disc tilts."
    ),
    "ask-release": Sentence(
        "release allowed?",
        "It is not known whether the medium may be released, if the valve opens.",
        "Answer release: what must not get out rules the method out.",
    ),
    "ask-accepted": Sentence(
        "accepted?",
        "It is not known whether jurisdiction and owner accept the method for this purpose.",
        "Answer accepted: for verifying and for adjusting it may differ.",
    ),
    "no-pilot-operated": Sentence(
        "pilot-operated", "A pilot opens this valve, not its spindle.", "Test the pilot by its maker's way."
    ),
    "no-supplementary-loaded": Sentence(
        "supplementary-loaded",
        "Another load than the spring holds the disc.",
        "Test it with that load off, by its maker's way.",
    ),
    "no-weight-loaded": Sentence(
        "weight-loaded", "A weight holds the disc, not a spring.", "Weigh it, or use a bench."
    ),
    "no-vacuum": Sentence("vacuum valve", "The valve opens inward.", "Use a bench."),
    "no-power-assisted": Sentence(
        "power-assisted", "A drive moves the spindle.", "Test drive and valve by the maker's way."
    ),
    "no-hold-of-disc": Sentence(
        "disc not held",
        "The spindle does not hold the disc: it may rise alone, and the pull would prove nothing.",
        "Use line pressure alone, or a bench.",
    ),
    "no-sound-thread": Sentence(
        "thread corroded", "The thread may give way under the pull.", "Have it made good first."
    ),
    "no-rupture-disc": Sentence(
        "rupture disc in series",
        "A rupture disc stands in series: it may burst, or the valve does not see the line.",
        "Take the valve to a bench.",
    ),
    "no-sound-bellows": Sentence(
        "bellows failed",
        "The bellows has failed: the medium comes out at the bonnet, and back pressure counts as in a plain valve.",
        "Report it and take the valve out of service.",
    ),
    "no-known-bellows": Sentence(
        "bellows not known",
        "Nobody knows the state of the bellows.",
        "Prove it sound first: look for flow at the bonnet's vent.",
    ),
    "no-clear-drain": Sentence(
        "drain or vent blocked",
        "Drain or bonnet vent is blocked: what stands there changes the forces and may come out.",
        "Clear it safely first.",
    ),
    "caution-soft-seat": Sentence(
        "soft seat",
        "The seat is soft: it may stick at first, and its area is less well known.",
        "Compare first and second pull; do not pull more often than needed.",
    ),
    "no-gag": Sentence("gag fitted", "A gag is fitted: the valve protects nothing now.", "Report it at once."),
    "no-guide": Sentence("guide missing", "Without its guide the disc tilts and leaks.", "Have it made good first."),
    "no-release": Sentence(
        "no release allowed", "The medium must not get out, and an assisted lift lets some out.", "Use a bench."
    ),
    "no-acceptance": Sentence(
        "not accepted", "Jurisdiction or owner do not accept the method for this purpose.", "Use what they accept."
    ),
    "system-none-at-mawp": Sentence(
        "no valve at MAWP",
        "No valve of the system is set at or below its maximum pressure[, {mawp_pa}].",
        "Set one there before anything else.",
    ),
    "system-none-opens-at-mawp": Sentence(
        "no valve opens at MAWP",
        "Every valve was tested and none opens at or below the maximum pressure[, {mawp_pa}][: the first opens at "
        "{lowest_opening_pa}].",
        "Report it: the system is not protected as it must be.",
    ),
    "system-above-code": Sentence(
        "valve set above what the code allows",
        "A valve is set higher than its place in the group allows[: {tag}][ at {set_pressure_pa}][, at most "
        "{highest_pa}][ by {clause}].",
        "Lower it, or find which valve is the first.",
    ),
    "system-spread": Sentence(
        "settings too far apart",
        "The settings of the group lie too far apart[: {spread_share} of the highest][, {allowed_share} at most]"
        "[ by {clause}].",
        "Bring them together.",
    ),
    "system-not-staggered": Sentence(
        "settings not staggered",
        "All valves of the system are set alike[: {count} valves]; they may open together and chatter.",
        "Ask whether they should be staggered.",
    ),
    "system-code-silent": Sentence(
        "code silent on groups",
        "The rule set[ {rule_set}] says nothing on groups; the maximum pressure is taken for all.",
        "Ask for the design code of the protected system.",
    ),
    "system-untested": Sentence(
        "valves not tested", "Some valves of the system were not tested[: {tags}].", "Test them, or say why not."
    ),
}
