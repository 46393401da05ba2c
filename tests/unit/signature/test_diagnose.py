"""Known changes of a valve are named, and healthy valves are left in peace as often as is promised."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift import words
from firstlift.core.analysis import analyse
from firstlift.core.result import Signature
from firstlift.core.signature.compare import compare
from firstlift.core.signature.diagnose import diagnose
from firstlift.core.signature.features import WANDER, Feature, Visit, take_together, value_of
from firstlift.sim.recipe import cook, draw_recipe
from firstlift.usecases.analyse import limits_of, worded

RATE = 2.0e5


def visit(years, spring=1.0, stiff=1.0, friction=0.02, play=1.0, pressure=1.0, **more):
    """Give a visit by its features: the fluid takes over two and a half spring rates after first lift."""
    shown = Signature(
        stiff_slope_n_per_m=4e7 * stiff, soft_slope_n_per_m=(spring - 2.5) * RATE, opening_force_n=1000.0,
        friction_n=1000.0 * friction, play_m=60e-6 * play,
    )  # fmt: skip
    return Visit(years, shown, 1e6 * pressure, **more)


def healthy(years, rng, scale=1.0):
    wander = {feature: scale * row.spread * rng.normal() for feature, row in WANDER.items()}
    return visit(
        years,
        spring=1.0 + wander[Feature.SPRING_RATE],
        stiff=np.exp(wander[Feature.STIFF_SLOPE]),
        friction=0.03 + wander[Feature.FRICTION],
        play=np.exp(wander[Feature.PLAY]),
        pressure=np.exp(wander[Feature.SET_PRESSURE]),
    )


EARLIER = [visit(year) for year in (0.0, 2.0, 4.0, 6.0)]


@pytest.mark.parametrize(
    ("now", "codes"),
    [
        (visit(8.0), set()),
        (visit(8.0, spring=1.3), {"signature-wrong-spring"}),
        (visit(8.0, spring=0.7), {"signature-wrong-spring"}),
        (visit(8.0, spring=0.75, pressure=0.9), {"signature-wrong-spring"}),
        (visit(8.0, pressure=0.95), {"signature-tired-spring"}),
        (visit(8.0, friction=0.08), {"signature-galled-guide"}),
        (visit(8.0, friction=0.08, stiff=0.6), {"signature-bent-spindle"}),
        (visit(8.0, friction=0.08, play=2.5), {"signature-bent-spindle"}),
        (visit(8.0, spring=1.3, friction=0.08), {"signature-wrong-spring", "signature-galled-guide"}),
        (visit(8.0, play=3.0), {"signature-changed"}),
        (visit(8.0, pressure=1.05), {"signature-changed"}),
        # somebody turned the screw: a lower set pressure says nothing of the spring
        (visit(8.0, pressure=0.95, adjusted=True), set()),
    ],
)
def test_known_changes_are_named(now, codes):
    found, changes = diagnose(now, EARLIER, spring_rate_n_per_m=RATE)
    assert {finding.code for finding in found} == codes
    assert {change.visits for change in changes if change.feature is not Feature.SET_PRESSURE} == {4}
    for finding in found:
        assert "false alarms 1.0 %" in words.message(finding)


def test_a_spring_that_lost_its_rate_bit_by_bit_is_tired():
    earlier = [visit(2.0 * step, spring=1.0 - 0.02 * step) for step in range(10)]
    found, changes = diagnose(visit(20.0, spring=0.78), earlier, spring_rate_n_per_m=RATE)
    assert [finding.code for finding in found] == ["signature-tired-spring"]
    (spring,) = [change for change in changes if change.feature is Feature.SPRING_RATE]
    assert spring.slope_sure
    assert spring.slope_per_yr == pytest.approx(-0.0105, abs=0.001)


@pytest.mark.parametrize(("visits", "scale"), [(1, 1.0), (3, 1.0), (8, 1.0), (3, 0.3), (12, 1.6)])
def test_healthy_valves_are_named_no_more_often_than_promised(visits, scale):
    rng = np.random.default_rng(17)
    named = 0
    for _ in range(1500):
        row = [healthy(2.0 * index, rng, scale) for index in range(visits + 1)]
        named += bool(diagnose(row[-1], row[:-1], spring_rate_n_per_m=RATE, false_alarm_rate=0.05)[0])
    # 5 % promised of 1500: 75, and three standard deviations of chance
    assert named <= 75 + 3 * np.sqrt(75 * 0.95)


def test_the_foretold_range_is_the_prediction_interval_of_one_more_value():
    """With many visits the valve's own spread rules, and the range is Hahn and Meeker's."""
    from scipy import stats

    rng = np.random.default_rng(3)
    shares = 0.02 + 0.01 * rng.normal(size=400)
    earlier = [visit(float(index), friction=share) for index, share in enumerate(shares)]
    (found,) = [c for c in compare(visit(400.0), earlier, false_alarm_rate=0.05) if c.feature is Feature.FRICTION]
    reach = stats.t(399).ppf(1.0 - 0.0025) * shares.std(ddof=1) * np.sqrt(1.0 + 1.0 / 400)
    assert found.high == pytest.approx(reach, rel=0.02)
    assert found.low == -found.high


def test_other_line_pressures_say_nothing_of_the_spring():
    earlier = [visit(year, line_pressure_pa=8e5) for year in (0.0, 2.0, 4.0)]
    near, far = (visit(6.0, spring=1.4, line_pressure_pa=line) for line in (8.2e5, 6e5))
    assert [finding.code for finding in diagnose(near, earlier, spring_rate_n_per_m=RATE)[0]]
    assert not diagnose(far, earlier, spring_rate_n_per_m=RATE)[0]


def test_the_first_visit_has_nothing_to_compare_with():
    found, changes = diagnose(visit(0.0), [])
    assert ([finding.code for finding in found], changes) == (["signature-first"], ())
    assert diagnose(Visit(1.0, Signature()), EARLIER)[0][0].code == "signature-first"


def test_pulls_of_a_visit_are_taken_together_by_their_medians():
    pulls = [Signature(friction_n=value, play_m=play) for value, play in ((10.0, None), (30.0, 5e-5), (14.0, 7e-5))]
    together = take_together(pulls)
    assert (together.friction_n, together.stiff_slope_n_per_m) == (14.0, None)
    assert together.play_m == pytest.approx(6e-5)
    assert value_of(Feature.FRICTION, Visit(0.0, together), RATE) is None


def test_a_simulated_valve_whose_spring_is_changed():
    """Follow one valve through the whole analysis: three visits, then another spring, then a galled guide."""
    rng = np.random.default_rng(1)
    recipe = replace(draw_recipe(rng), pulls=2)
    rate = recipe.valve.spring_rate_n_m

    def seen(years, **changed):
        test = cook(replace(recipe, valve=replace(recipe.valve, **changed)), rng, "visit")
        result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
        pulls = [pull for pull in result.pulls if pull.set_pressure_pa is not None]
        middle = float(np.median([pull.set_pressure_pa for pull in pulls]))
        return Visit(years, take_together([pull.signature for pull in pulls]), middle)

    earlier = [seen(year) for year in (0.0, 2.0, 4.0)]
    friction = 0.08 * earlier[0].signature.opening_force_n
    named = {
        "healthy": diagnose(seen(6.0), earlier, spring_rate_n_per_m=rate)[0],
        "spring": diagnose(seen(6.0, spring_rate_n_m=1.3 * rate), earlier, spring_rate_n_per_m=rate)[0],
        "guide": diagnose(seen(6.0, friction_n=friction), earlier, spring_rate_n_per_m=rate)[0],
    }
    assert named["healthy"] == ()
    assert [finding.code for finding in named["spring"]] == ["signature-wrong-spring"]
    assert named["spring"][0].parameters["change_relative"] == pytest.approx(0.3, abs=0.08)
    assert "signature-galled-guide" in [finding.code for finding in named["guide"]]
