"""The uncertainty budget of a set pressure: its lines, what they add, and the interval that follows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats
from firstlift.core.result import BudgetLine
from firstlift.core.uncertainty.correlation import NONE, Correlations, correlation_matrix, group_parts
from firstlift.core.uncertainty.coverage import Spread, effective_degrees_of_freedom

DISTRIBUTIONS = ("normal", "rectangular", "triangular", "one-sided")


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a budget.

    ``sensitivity`` in Pa per ``unit``. ``common_to`` says what the line is shared with: "seat",
    "cell:<group>", "gauge:<name>", "setup", or "pull" where every pull has its own. A "one-sided" line is an
    unknown distance, every value from 0 upward to its end equally likely; its standard uncertainty is the
    length over the square root of 12.
    """

    quantity: str
    value: float
    unit: str
    standard_uncertainty: float
    distribution: str
    degrees_of_freedom: float = math.inf
    sensitivity: float = 1.0
    common_to: str = "pull"


@dataclass(frozen=True, slots=True)
class Budget:
    """The lines and what they come to; ``spread`` is the distribution about the value.

    ``degrees_of_freedom`` are those of the whole (infinite where nothing limits them); ``one_sided_pa`` are
    the lengths of the one-sided lines, below 0 where they reach down: they are not in the expanded uncertainty.
    """

    lines: tuple[BudgetLine, ...]
    standard_uncertainty_pa: float
    degrees_of_freedom: float
    coverage_factor: float
    coverage_probability: float
    expanded_uncertainty_pa: float
    spread: Spread
    one_sided_pa: tuple[float, ...] = ()

    @property
    def per_pull_pa(self) -> float:
        """Standard uncertainty of the lines that every pull has of its own, [Pa]."""
        own = (line for line in self.lines if line.common_to == "pull" and line.distribution != "one-sided")
        return math.hypot(*(line.contribution_pa for line in own))


def make_budget(inputs: Sequence[Input], correlations: Correlations = NONE, probability: float = 0.95) -> Budget:
    """Combine the inputs of a measured pressure to first order.

    Normal lines combine to Student's t by Welch-Satterthwaite. Rectangular and triangular lines that are
    independent and exactly known are convolved with it, so that a budget ruled by a rectangle gets a factor
    near 1.65 and not 1.96. One with finite degrees of freedom, or correlated with another line, is taken as
    normal: its edges are not sharp.

    Parameters
    ----------
    inputs : sequence of Input
        Sensitivities in Pa per the input's own unit.
    correlations : mapping (i, j) to r
        Correlation coefficients of pairs of inputs, -1 to 1.
    probability : float
        Coverage probability.

    Returns
    -------
    Budget, [Pa]
        ``share`` is the share of the variance, a covariance being split evenly between its two lines.

    Raises
    ------
    FirstliftError
        UNC-001 probability, UNC-003 correlations, UNC-004 an input that cannot be used.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (10), 5.2.2 (16), 6.2, G.4.1 (G.2b).
    .. [2] JCGM 101:2008, 5.2: the output's distribution as a convolution.
    """
    for number, line in enumerate(inputs):
        _check(number, line)
    matrix = correlation_matrix(len(inputs), _without_one_sided(inputs, correlations))
    signed = np.array([line.sensitivity * line.standard_uncertainty for line in inputs], dtype=np.float64)
    counted = np.where([line.distribution == "one-sided" for line in inputs], 0.0, signed)
    parts = group_parts(counted, matrix, [line.degrees_of_freedom for line in inputs])
    spread = _spread(inputs, parts)
    variance = sum(part for _, part, _ in parts)
    u = math.sqrt(variance)
    expanded = spread.expanded(probability)
    return Budget(
        lines=_lines(inputs, signed, counted, matrix, variance),
        standard_uncertainty_pa=u,
        degrees_of_freedom=effective_degrees_of_freedom((part, dof) for _, part, dof in parts),
        coverage_factor=expanded / u if u > 0.0 else Spread(1.0).expanded(probability),
        coverage_probability=probability,
        expanded_uncertainty_pa=expanded,
        spread=spread,
        one_sided_pa=tuple(
            float(c) * math.sqrt(12.0)
            for c, line in zip(signed, inputs, strict=True)
            if line.distribution == "one-sided" and c
        ),
    )


def make_spread(inputs: Sequence[Input], correlations: Correlations = NONE) -> Spread:
    """Give the distribution of a budget alone, without its interval: for maps that need thousands of them.

    Parameters
    ----------
    inputs : sequence of Input
        As for `make_budget`.
    correlations : mapping (i, j) to r

    Returns
    -------
    Spread, [Pa]
    """
    matrix = correlation_matrix(len(inputs), _without_one_sided(inputs, correlations))
    signed = [line.sensitivity * line.standard_uncertainty for line in inputs]
    counted = [0.0 if line.distribution == "one-sided" else part for line, part in zip(inputs, signed, strict=True)]
    dof = [line.degrees_of_freedom for line in inputs]
    return _spread(inputs, group_parts(np.array(counted, dtype=np.float64), matrix, dof))


def _check(number: int, line: Input) -> None:
    where = f"budget line {number + 1}, {line.quantity}"
    if line.distribution not in DISTRIBUTIONS:
        raise FirstliftError(
            Problem("UNC-004", f"distribution '{line.distribution}'", where, f"one of {', '.join(DISTRIBUTIONS)}")
        )
    numbers = (line.value, line.standard_uncertainty, line.sensitivity)
    if not all(math.isfinite(number) for number in numbers) or line.standard_uncertainty < 0.0:
        raise FirstliftError(
            Problem(
                "UNC-004",
                f"standard uncertainty {line.standard_uncertainty:g} {line.unit} "
                f"with sensitivity {line.sensitivity:g} Pa per {line.unit}",
                where,
                "finite numbers, the uncertainty 0 or more",
            )
        )
    if not line.degrees_of_freedom > 0.0:
        raise FirstliftError(
            Problem("UNC-004", f"{line.degrees_of_freedom:g} degrees of freedom", where, "a number above 0")
        )


def _without_one_sided(inputs: Sequence[Input], correlations: Correlations) -> Correlations:
    for pair in correlations:
        if any(0 <= i < len(inputs) and inputs[i].distribution == "one-sided" for i in pair):
            raise FirstliftError(
                Problem("UNC-003", f"inputs {pair[0]} and {pair[1]}: a one-sided line is correlated", needed="none")
            )
    return correlations


def _spread(inputs: Sequence[Input], parts: list[tuple[list[int], float, float]]) -> Spread:
    """Sort the independent parts into Student's t and rectangles."""
    normal: list[tuple[float, float]] = []
    half_widths: list[float] = []
    for members, variance, dof in parts:
        form = inputs[members[0]].distribution
        if len(members) > 1 or form == "normal" or math.isfinite(dof) or variance == 0.0:
            normal.append((variance, dof))
        elif form == "rectangular":
            half_widths.append(math.sqrt(3.0 * variance))
        else:
            # A triangle of half-width a is the sum of two rectangles of half-width a/2; u^2 = a^2/6.
            half_widths += [0.5 * math.sqrt(6.0 * variance)] * 2
    scale = math.sqrt(sum(variance for variance, _ in normal))
    return Spread(scale, effective_degrees_of_freedom(normal), tuple(half_widths))


def _lines(
    inputs: Sequence[Input], signed: Floats, counted: Floats, matrix: Floats, variance: float
) -> tuple[BudgetLine, ...]:
    shares = counted * (matrix @ counted) / variance if variance > 0.0 else np.zeros(len(inputs))
    return tuple(
        BudgetLine(
            quantity=line.quantity,
            value=line.value,
            unit=line.unit,
            standard_uncertainty=line.standard_uncertainty,
            distribution=line.distribution,
            degrees_of_freedom=line.degrees_of_freedom if math.isfinite(line.degrees_of_freedom) else None,
            sensitivity=line.sensitivity,
            contribution_pa=abs(float(contribution)),
            share=float(share),
            common_to=line.common_to,
        )
        for line, contribution, share in zip(inputs, signed, shares, strict=True)
    )
