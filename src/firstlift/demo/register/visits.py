"""The campaigns: who was due, what was found, what was done about it, and what could not be tested."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from typing import Any

from firstlift.core.job import Purpose
from firstlift.core.register.choose import add_months
from firstlift.core.register.equipment import UseCheck, When
from firstlift.core.register.kinds import KINDS
from firstlift.core.register.places import Site
from firstlift.core.register.work import (
    AdjustmentMade,
    HoldPoint,
    HowTested,
    IdentityCheck,
    SiteVisit,
    ValveTest,
    WhyNot,
)
from firstlift.core.result import Result, VerdictOutcome
from firstlift.demo.register.crew import Crew, Tool
from firstlift.demo.register.draw import Draw, at_work
from firstlift.demo.register.plant import Plant, Truth, area_of
from firstlift.demo.register.readings import Occasion, pull_result
from firstlift.demo.register.recorded import Recorded, record_test
from firstlift.demo.register.workshop import spare_for, swap
from firstlift.store.work import Work

A_DAY = 14
_AHEAD_MONTHS = 1
_REASONS = (
    WhyNot.NO_ACCESS,
    WhyNot.NO_ACCESS,
    WhyNot.LINE_PRESSURE_TOO_LOW,
    WhyNot.UNSAFE,
    WhyNot.REFUSED,
    WhyNot.OTHER,
    WhyNot.OTHER,
)


@dataclass(slots=True)
class Campaign:
    """One visit as it is worked through."""

    draw: Draw
    work: Work
    plant: Plant
    crew: Crew
    site: Site
    visit: SiteVisit
    rig: list[Tool]
    recorded: bool
    waiting: list[Any] = field(default_factory=list)

    def add(self, entry: Any) -> None:
        """Add an entry with the next flush: many at once are kept faster than one by one."""
        self.waiting.append(entry)

    def flush(self) -> None:
        """Add what waits, each kind after those it refers to."""
        order = list(KINDS.values())
        self.work.add_all(sorted(self.waiting, key=lambda entry: order.index(type(entry))))
        self.waiting.clear()

    def occasion(self, day: dt.date, purpose: Purpose) -> Occasion:
        """Give what all tests of a day share."""
        share = self.draw.between(0.78, 0.92)
        return Occasion(self.site.name, self.plant.codes[str(self.site.id)], day, purpose, self.rig, share)


def plan_visit(draw: Draw, plant: Plant, crew: Crew, site: Site, start: dt.date, number: int) -> SiteVisit:
    """Plan a visit: the valves due within a month, by their due date.

    Parameters
    ----------
    draw : Draw
    plant : Plant
    crew : Crew
    site : Site
    start : date
    number : int

    Returns
    -------
    SiteVisit
    """
    horizon = add_months(start, _AHEAD_MONTHS)
    due = [(_due(one), one) for one in plant.truths if one.position and one.position.site_id == site.id]
    planned = sorted((pair for pair in due if pair[0] <= horizon), key=lambda pair: (pair[0], pair[1].valve.serial))
    days = max(1, -(-len(planned) // A_DAY))
    team = draw.rng.permutation(len(crew.who("technician")))[:2]
    people = tuple(crew.who("technician")[int(index)].id for index in team)
    return SiteVisit(
        draw.new_id(), site.id, f"{site.name} {start:%Y-%m}", start, start + dt.timedelta(days=days - 1), people,
        tuple(one.valve.id for _, one in planned), (f"PTW-{start:%y%m}-{number:02d}",), people[:1],
        accepted_for_verifying=True, accepted_for_adjusting=number % 6 != 0,
        acceptance_reference="letter of the invented jurisdiction",
        witness_points=("first-valve", "last-valve"), note="invented",
    )  # fmt: skip


def _due(truth: Truth) -> dt.date:
    since = truth.last or (truth.installation.since if truth.installation else truth.since)
    return add_months(since, truth.months)


def work_through(campaign: Campaign) -> None:
    """Work through a visit, valve by valve.

    Parameters
    ----------
    campaign : Campaign
    """
    by_id = {one.valve.id: one for one in campaign.plant.truths}
    visit, draw = campaign.visit, campaign.draw
    campaign.add(visit)
    _check_tools(campaign, When.BEFORE)
    for index, valve_id in enumerate(visit.planned):
        truth = by_id[valve_id]
        day = visit.start + dt.timedelta(days=index // A_DAY)
        hour = 7.5 + (index % A_DAY) * 0.7
        truth.age(day)
        if draw.chance(0.12):
            why = draw.one_of(_REASONS)
            campaign.add(_not_tested(campaign, truth, day, hour, why))
        elif not _is_the_one(campaign, truth, day, hour):
            campaign.add(_not_tested(campaign, truth, day, hour, WhyNot.WRONG_VALVE))
        else:
            _test(campaign, truth, day, hour)
    _check_tools(campaign, When.AFTER)
    _hold(campaign)
    campaign.flush()


def _not_tested(campaign: Campaign, truth: Truth, day: dt.date, hour: float, why: WhyNot) -> ValveTest:
    assert truth.position is not None
    return ValveTest(
        campaign.draw.new_id(), truth.valve.id, HowTested.NOT_TESTED, Purpose.AS_FOUND,
        at_work(day, campaign.site.zone, hour), campaign.site.zone, day, truth.position.id, campaign.visit.id,
        campaign.visit.people, why,
    )  # fmt: skip


def _is_the_one(campaign: Campaign, truth: Truth, day: dt.date, hour: float) -> bool:
    """Read the nameplate first: now and then it is another valve's, and the job stops."""
    draw = campaign.draw
    assert truth.position is not None
    other = draw.chance(0.002)
    serial = f"MB{draw.whole(100_000_000, 999_999_999)}" if other else truth.valve.serial
    campaign.add(
        IdentityCheck(
            draw.new_id(), truth.valve.id, at_work(day, campaign.site.zone, hour - 0.2), campaign.site.zone, serial,
            campaign.visit.id, campaign.visit.people[0], truth.position.tag,
            truth.valve.spring_number, truth.valve.set_pressure, mismatches=("serial",) if other else (),
        )
    )  # fmt: skip
    return not other


def _test(campaign: Campaign, truth: Truth, day: dt.date, hour: float) -> None:
    """Test as found; where it is not fit, adjust and test as left, or hang a spare."""
    draw, site = campaign.draw, campaign.site
    stuck = draw.chance(truth.bond)
    bond = draw.between(0.04, 0.32) if stuck else 0.0
    leaking = truth.recipe is None and draw.chance(0.012)
    occasion = replace(campaign.occasion(day, Purpose.AS_FOUND), bond=bond, leaking=leaking, pulls=3 if stuck else 1)
    recorded: Recorded | None = None
    if truth.recipe is not None and campaign.recorded:
        recorded = record_test(draw, truth, site.name, day, campaign.rig, campaign.work.folder)
        result, truth.recipe = recorded.result, None
    else:
        result = pull_result(draw, truth, occasion)
    campaign.add(_entry(campaign, truth, result, day, hour, Purpose.AS_FOUND, recorded))
    truth.last = day
    outside = result.verdict is not None and result.verdict.outcome is VerdictOutcome.OUTSIDE
    spare = spare_for(campaign.plant, truth) if leaking or bond > 0.2 or draw.chance(0.03) else None
    if spare is not None:
        campaign.flush()
        swap(draw, campaign.work, campaign.plant, truth, spare, occasion, site.zone)
    elif (outside or stuck) and campaign.visit.accepted_for_adjusting and not leaking:
        _adjust(campaign, truth, day, hour)


def _entry(
    campaign: Campaign, truth: Truth, result: Result, day: dt.date, hour: float, purpose: Purpose,
    recorded: Recorded | None = None,
) -> ValveTest:  # fmt: skip
    assert truth.position is not None
    found = result.as_found
    judged = found or (result.as_left.pulls[-1] if result.as_left and result.as_left.pulls else None)
    pressure = judged.set_pressure_pa if judged else None
    spread = judged.expanded_uncertainty_pa if judged else None
    tools = campaign.rig if recorded is None else recorded.tools
    return ValveTest(
        campaign.draw.new_id(), truth.valve.id, HowTested.PULL, purpose,
        at_work(day, campaign.site.zone, hour), campaign.site.zone, day, truth.position.id, campaign.visit.id,
        campaign.visit.people, verdict=str(result.verdict.outcome) if result.verdict else "",
        disposition=str(result.disposition.outcome), set_pressure_pa=pressure, expanded_uncertainty_pa=spread,
        lower_bound_pa=found.lower_bound_pa if found else None, seat_record_id=truth.seat.id,
        instruments=tuple(tool.used(day) for tool in tools), result=result,
        sheet_sha256=recorded.sheet_sha256 if recorded else "",
        recording_sha256=recorded.recording_sha256 if recorded else "",
    )  # fmt: skip


def _adjust(campaign: Campaign, truth: Truth, day: dt.date, hour: float) -> None:
    """Turn the screw by what spring, pitch and seat say, and prove it by three pulls."""
    draw, valve = campaign.draw, truth.valve
    pitch, rate = valve.screw_pitch_m or 1.5e-3, valve.spring_rate_n_m or 1e5
    per_turn_pa = rate * pitch / area_of(truth.seat)
    turns = round(-truth.shift * valve.set_pressure.si / per_turn_pa * 12.0) / 12.0
    height, seal = draw.between(0.020, 0.040), draw.whole(10_000, 99_998)
    campaign.add(
        AdjustmentMade(
            draw.new_id(), valve.id, at_work(day, campaign.site.zone, hour + 0.3), campaign.site.zone,
            campaign.visit.id, campaign.visit.people[0], turns, round(height, 5), round(height - turns * pitch, 5),
            seals_before=(f"L{seal}",), seals_after=(f"L{seal + 1}",),
        )
    )  # fmt: skip
    truth.shift = draw.normal(0.004)
    result = pull_result(draw, truth, replace(campaign.occasion(day, Purpose.AS_LEFT), pulls=3))
    campaign.add(_entry(campaign, truth, result, day, hour + 0.5, Purpose.AS_LEFT))


def _check_tools(campaign: Campaign, when: When) -> None:
    """Hold cells and gauge against a reference before and after; a cell that was knocked does not come back."""
    visit, draw = campaign.visit, campaign.draw
    day, hour = (visit.start, 7.0) if when is When.BEFORE else (visit.finish or visit.start, 18.0)
    for tool in campaign.rig:
        capacity = tool.instrument.capacity_si
        if capacity is None:
            continue
        reference = round(0.4 * capacity, 9)
        knocked = 0.02 if when is When.AFTER and draw.chance(0.015) else 0.0
        reading = reference * (1.0 + tool.gain_error + draw.normal(5e-4) + knocked)
        campaign.add(
            UseCheck(
                draw.new_id(), tool.instrument.id, when, at_work(day, campaign.site.zone, hour), campaign.site.zone,
                reference, reading, 0.015 * reference, visit.id, visit.people[0],
            )
        )  # fmt: skip


def _hold(campaign: Campaign) -> None:
    visit, inspector = campaign.visit, campaign.crew.who("inspector")[0]
    for code, day in zip(visit.witness_points, (visit.start, visit.finish or visit.start), strict=True):
        campaign.add(
            HoldPoint(
                campaign.draw.new_id(), visit.id, code, at_work(day, campaign.site.zone, 8.0), campaign.site.zone,
                released=True, person_id=visit.people[0], witness_id=inspector.id,
            )
        )  # fmt: skip
