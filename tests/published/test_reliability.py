"""Lives between inspections and mixed models against published and independent answers."""

import tomllib

import numpy as np
import pytest
from tests.published.conftest import HERE

from firstlift.core.reliability.belief import Belief, Points
from firstlift.core.reliability.families import Family, age_of_hazard, log_survival
from firstlift.core.reliability.fit import Untold, fit_constant_hazard, fit_life
from firstlift.core.reliability.lives import join_lives, make_lives
from firstlift.core.reliability.mixed import fit_mixed
from firstlift.core.reliability.nonparametric import estimate_shares
from firstlift.core.reliability.recommend import evidence_after
from firstlift.formats.interval_rows import read_interval_tables

SOURCES = ("reliability.toml",)
DATA = tomllib.loads((HERE / "reliability.toml").read_text(encoding="utf-8"))


def lives_named(names):
    tables = [DATA["lives"][name] for name in names]
    return join_lives([make_lives(t["left"], t["right"], count=t["count"]) for t in tables])


def fitted(given):
    return fit_life(lives_named(given["lives"]), Family(given["family"]))


def constant(given):
    fit = fit_constant_hazard(lives_named(given["lives"]))
    return fit.mu, fit.log_likelihood


def shares(given):
    """Give the share ended where a stretch counts as ended from its middle on, as the other program draws it."""
    found = estimate_shares(lives_named(given["lives"]))
    # a stretch between the same ages is one life's end; the middles are those of the inspection ages themselves
    middle = 0.5 * (found.left_yr + found.right_yr)
    return [float(found.mass[middle <= age + 1e-9].sum()) for age in given["ages"]]


def masses(given):
    found = estimate_shares(lives_named(given["lives"]))
    assert found.left_yr.tolist() == given["left"]
    assert found.right_yr.tolist() == given["right"]
    return found.mass.tolist()


def known(given):
    """Give a belief that is sure of one Weibull distribution."""
    place = np.log(given["age"] / given["scale"]) * given["shape"]
    points = Points(Family.WEIBULL, np.array([place]), np.array([-np.log(given["shape"])]), np.array([1.0]))
    return Belief(given["age"], (points,))


def survival(given):
    belief = known(given)
    return float(np.exp(-belief.hazard(belief.points[0], given["age"])[0]))


def age_after_good_test(given):
    found = evidence_after(known(given), given["age"], given["target"], 1.0)
    assert found.low_yr == pytest.approx(found.high_yr)
    return given["age"] + found.estimate_yr


def failed_by_default(given):
    prior = read_interval_tables().priors[given["prior"]]
    w = (np.log(given["age"]) - np.log(prior.scale_yr)) * prior.shape
    assert age_of_hazard(Family.WEIBULL, np.exp(w)) == pytest.approx(w)
    return 1.0 - float(np.exp(log_survival(Family.WEIBULL, np.array([w]))[0]))


def mixed(given):
    table = DATA["mixed"][given["mixed"]]
    y = np.concatenate([np.array(row, dtype=float) for row in table["units"]])
    unit = np.concatenate([np.full(len(row), index) for index, row in enumerate(table["units"])])
    days = np.concatenate([np.arange(len(row), dtype=float) for row in table["units"]])
    x = np.ones((y.size, 1)) if table["x"] == "constant" else np.column_stack([np.ones(y.size), days])
    return fit_mixed(y, x, x, unit)


COMPUTE = {
    "parameters": lambda g: (fitted(g).mu, fitted(g).sigma),
    "scale and shape": lambda g: (fitted(g).scale_yr, fitted(g).shape),
    "log likelihood": lambda g: fitted(g).log_likelihood,
    "standard errors": lambda g: np.sqrt(np.diag(fitted(g).covariance)).tolist(),
    "constant hazard": constant,
    "shares ended": shares,
    "masses": masses,
    "survival": survival,
    "age after a good test": age_after_good_test,
    "failed by default": failed_by_default,
    "line": lambda g: mixed(g).line.tolist(),
    "errors of the line": lambda g: np.sqrt(np.diag(mixed(g).line_covariance)).tolist(),
    "spreads": lambda g: [*np.sqrt(np.diag(mixed(g).between)).tolist(), mixed(g).residual],
    "criterion": lambda g: mixed(g).criterion,
    "first deviations": lambda g: mixed(g).deviations[:2].ravel().tolist(),
}


def test_published(check, agree):
    agree(check, COMPUTE[check["quantity"]](check["given"]))


@pytest.mark.parametrize("family", Family)
def test_a_single_inspection_age_is_said_to_tell_no_shape(family):
    assert fit_life(lives_named(["heat-exchanger-plant3"]), family) is Untold.ONE_AGE
