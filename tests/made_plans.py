"""An invented job for planning: a conventional gas valve, 30 mm seat, set at 10 bar, one cell of 2 kN, one gauge."""

from dataclasses import replace

from firstlift.core.plan.inputs import PlanInputs
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.usecases.analyse import limits_of

BAR = 1e5
SHEET = """
format = "firstlift-jobsheet-1"
[visit]
date = 2026-05-12
purpose = "{purpose}"
[valve]
tag = "PSV-1"
serial = "SIM-1"
set_pressure = "10 bar"
medium = "{medium}"
max_pull = "1.2 kN"
{valve}
[seat]
{seat}
[rules]
code = "{code}"
decision = "{decision}"
[recording]
file = "later.csv"
time = "t"
[[channel]]
column = "cell"
measures = "pull_force"
unit = "N"
capacity = "2 kN"
relative_standard_uncertainty = "0.3 %"
[[channel]]
column = "line"
measures = "line_pressure"
unit = "bar"
relative_standard_uncertainty = "0.2 %"
[[channel]]
column = "lift"
measures = "spindle_lift"
unit = "mm"
"""
MEAN = 'mean_diameter = "30 mm"\nstandard_uncertainty = "0.15 mm"'
EDGES = 'inner_diameter = "29 mm"\nouter_diameter = "31 mm"'
ANSWERS = {
    "valve-kind": "direct-spring",
    "spindle-holds-disc": "yes",
    "thread": "sound",
    "rupture-disc": "none",
    "drain-and-vent": "clear",
    "seat": "metal",
    "gag": "none",
    "guide": "whole",
    "release": "allowed",
    "accepted": "yes",
}


def make_job(**changes):
    given = {"purpose": "as-found", "medium": "gas", "valve": "", "seat": MEAN, "code": "iso-4126-1"}
    return parse_jobsheet(SHEET.format(**{"decision": "guarded", **given, **changes}).encode(), where="job.toml")


def make_inputs(line_bar=8.0, sheet=None, **changes):
    job = make_job(**(sheet or {}))
    inputs = PlanInputs(job, limits_of(job), line_bar * BAR, frame_limit_n=5e3, u_moment_pa=4e3, answers=ANSWERS)
    return replace(inputs, **changes)
