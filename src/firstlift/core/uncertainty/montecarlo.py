"""Propagation by sampling: the check on the first-order budget. The generator comes from outside."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats
from firstlift.core.uncertainty.budget import DISTRIBUTIONS, Input
from firstlift.core.uncertainty.correlation import NONE, Correlations, correlation_matrix


@dataclass(frozen=True, slots=True)
class Sampled:
    """What the samples say: mean, standard deviation and two intervals of the same probability."""

    value: float
    standard_uncertainty: float
    shortest: tuple[float, float]
    symmetric: tuple[float, float]
    probability: float
    trials: int


def sample(
    function: Callable[..., Floats],
    inputs: Sequence[Input],
    *,
    generator: np.random.Generator,
    trials: int = 200_000,
    probability: float = 0.95,
    correlations: Correlations = NONE,
) -> Sampled:
    """Carry the distributions of the inputs through a function by sampling.

    Parameters
    ----------
    function : callable
        Takes one ndarray (trials,) for each input, in order; gives an ndarray (trials,).
    inputs : sequence of Input
        ``sensitivity`` and ``common_to`` are not looked at. A normal input with finite degrees of freedom is
        drawn from the scaled and shifted t distribution; a one-sided one from its value upward.
    generator : numpy.random.Generator
    trials : int
        10 000 or more.
    probability : float
        Coverage probability of both intervals.
    correlations : mapping (i, j) to r
        Between normal inputs of infinite degrees of freedom only.

    Returns
    -------
    Sampled
        ``symmetric`` leaves the same probability out on either side.

    Raises
    ------
    FirstliftError
        UNC-001 probability, UNC-003 correlations, UNC-004 distribution, UNC-007 the function gives no finite
        number, UNC-011 too few trials.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4 (distributions), 7.2 to 7.7 (steps; 7.7.4 shortest interval).
    """
    if trials < 10_000:
        raise FirstliftError(Problem("UNC-011", f"{trials} trials", needed="10000 or more"))
    if not 0.0 < probability < 1.0:
        raise FirstliftError(
            Problem("UNC-001", f"{probability:g} is not a coverage probability", needed="a number between 0 and 1")
        )
    drawn = _draw(inputs, correlations, trials, generator)
    values = np.sort(np.asarray(function(*drawn), dtype=np.float64))
    if values.shape != (trials,) or not bool(np.all(np.isfinite(values))):
        raise FirstliftError(
            Problem("UNC-007", "the formula does not give a finite number for every trial", needed="finite numbers")
        )
    return Sampled(
        value=float(values.mean()),
        standard_uncertainty=float(values.std(ddof=1)),
        shortest=_shortest(values, probability),
        symmetric=(
            float(np.quantile(values, 0.5 - 0.5 * probability)),
            float(np.quantile(values, 0.5 + 0.5 * probability)),
        ),
        probability=probability,
        trials=trials,
    )


def _draw(
    inputs: Sequence[Input], correlations: Correlations, trials: int, generator: np.random.Generator
) -> list[Floats]:
    matrix = correlation_matrix(len(inputs), correlations)
    tied = {i for pair in correlations for i in pair}
    for i in tied:
        if inputs[i].distribution != "normal" or math.isfinite(inputs[i].degrees_of_freedom):
            raise FirstliftError(
                Problem(
                    "UNC-003",
                    "a correlated input cannot be sampled",
                    inputs[i].quantity,
                    "a normal one of infinite degrees of freedom",
                )
            )
    # Eigenvalues and not Cholesky, so that full correlation (a singular matrix) is allowed.
    strengths, vectors = np.linalg.eigh(matrix)
    root = vectors * np.sqrt(np.clip(strengths, 0.0, None))
    standard = root @ generator.standard_normal((len(inputs), trials)) if tied else None
    return [
        line.value + line.standard_uncertainty * standard[i]
        if standard is not None and i in tied
        else _draw_one(line, trials, generator)
        for i, line in enumerate(inputs)
    ]


def _draw_one(line: Input, trials: int, generator: np.random.Generator) -> Floats:
    u = line.standard_uncertainty
    match line.distribution:
        case "normal" if math.isfinite(line.degrees_of_freedom):
            deviation = u * generator.standard_t(line.degrees_of_freedom, trials)
        case "normal":
            deviation = u * generator.standard_normal(trials)
        case "rectangular":
            deviation = math.sqrt(3.0) * u * generator.uniform(-1.0, 1.0, trials)
        case "triangular":
            # The difference of two like rectangles is a triangle; its variance is a^2/6.
            deviation = math.sqrt(6.0) * u * (generator.random(trials) - generator.random(trials))
        case "one-sided":
            deviation = math.sqrt(12.0) * u * generator.random(trials)
        case other:
            raise FirstliftError(
                Problem("UNC-004", f"distribution '{other}'", line.quantity, f"one of {', '.join(DISTRIBUTIONS)}")
            )
    return line.value + deviation


def _shortest(ordered: Floats, probability: float) -> tuple[float, float]:
    inside = round(probability * len(ordered))
    lengths = ordered[inside:] - ordered[: len(ordered) - inside]
    start = int(np.argmin(lengths))
    return float(ordered[start]), float(ordered[start + inside])
