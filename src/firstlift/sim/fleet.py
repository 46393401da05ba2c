"""Fleets of valves whose lives are known: what tests would have said of them, and the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.reliability.families import Family, standard_age
from firstlift.core.reliability.history import DAYS_A_YEAR
from firstlift.core.reliability.lives import Lives, make_lives


@dataclass(frozen=True, slots=True)
class FleetTruth:
    """The distribution that lives were drawn from, and how the fleet was tested."""

    family: Family
    mu: float
    sigma: float
    interval_yr: float
    looks: int

    def age_yr(self, risk: float) -> float:
        """Give the true age by which a share of lives has ended."""
        return float(np.exp(self.mu + self.sigma * standard_age(self.family, risk)))

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Draw lives, in years."""
        w = np.log(rng.standard_exponential(count)) if self.family is Family.WEIBULL else rng.standard_normal(count)
        return np.exp(self.mu + self.sigma * w)


def draw_truth(rng: np.random.Generator, *, most_failed: float = 0.3) -> FleetTruth:
    """Draw a fleet's distribution: Weibull or lognormal, from nearly constant hazard to marked wear-out.

    Parameters
    ----------
    rng : numpy.random.Generator
    most_failed : float
        A typical test finds from none to this share of the valves failed.

    Returns
    -------
    FleetTruth
    """
    family = Family.WEIBULL if rng.random() < 0.5 else Family.LOGNORMAL
    sigma = 1.0 / rng.uniform(0.9, 3.5) if family is Family.WEIBULL else float(np.exp(rng.uniform(-0.9, 0.2)))
    interval, looks = float(rng.choice([2.0, 3.0, 5.0])), int(rng.integers(1, 5))
    typical = interval * (1.0 + looks) / 2.0
    share = rng.uniform(1e-6, most_failed)
    mu = float(np.log(typical)) - sigma * standard_age(family, share)
    return FleetTruth(family, mu, sigma, interval, looks)


def put_to_test(truth: FleetTruth, valves: int, rng: np.random.Generator) -> Lives:
    """Test a fleet as plants do: about every interval, on whole days; a valve found failed is overhauled.

    Parameters
    ----------
    truth : FleetTruth
    valves : int
    rng : numpy.random.Generator

    Returns
    -------
    Lives
    """
    gaps = np.round(truth.interval_yr * rng.uniform(0.8, 1.2, (valves, truth.looks)) * DAYS_A_YEAR) / DAYS_A_YEAR
    age, good = np.zeros(valves), np.zeros(valves)
    life = truth.draw(valves, rng)
    left: list[Floats] = []
    right: list[Floats] = []
    for look in range(truth.looks):
        age = age + gaps[:, look]
        failed = life <= age
        left.append(good[failed])
        right.append(age[failed])
        good = np.where(failed, 0.0, age)
        age = np.where(failed, 0.0, age)
        life = np.where(failed, truth.draw(valves, rng), life)
    left.append(good)
    right.append(np.full(valves, np.inf))
    return make_lives(np.concatenate(left), np.concatenate(right))
