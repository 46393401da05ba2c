"""Correlated inputs: the matrix, and the groups that count as one in degrees of freedom."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats

Correlations = Mapping[tuple[int, int], float]
NONE: Correlations = {}


def correlation_matrix(count: int, correlations: Correlations) -> Floats:
    """Give the full matrix of correlation coefficients.

    Parameters
    ----------
    count : int
        How many inputs.
    correlations : mapping (i, j) to r
        Coefficients of pairs, -1 to 1; pairs not named are uncorrelated.

    Returns
    -------
    ndarray (count, count), [1]

    Raises
    ------
    FirstliftError
        UNC-003 a pair names no input, or a coefficient is not between -1 and 1, or all together are
        impossible (the matrix is not positive semidefinite).
    """
    return _matrix(count, tuple(correlations.items()))


# a plan asks thousands of budgets with the same correlations: they are checked once
@functools.lru_cache(maxsize=64)
def _matrix(count: int, correlations: tuple[tuple[tuple[int, int], float], ...]) -> Floats:
    matrix = np.eye(count)
    for (i, j), r in correlations:
        if i == j or not (0 <= i < count and 0 <= j < count):
            raise _wrong(f"the correlation of inputs {i} and {j} names no pair", f"two of 0 to {count - 1}")
        if not -1.0 <= r <= 1.0:
            raise _wrong(f"correlation {r:g} of inputs {i} and {j}", "a number from -1 to 1")
        matrix[i, j] = matrix[j, i] = r
    if correlations and float(np.min(np.linalg.eigvalsh(matrix))) < -1e-9:
        raise _wrong("the correlations contradict each other", "coefficients that can hold together")
    matrix.flags.writeable = False
    return matrix


def find_groups(matrix: Floats) -> list[list[int]]:
    """Find which inputs hang together by a correlation, directly or through others.

    Parameters
    ----------
    matrix : ndarray (n, n), [1]

    Returns
    -------
    list of lists of int
        Every input in exactly one group, in order.
    """
    left = list(range(len(matrix)))
    if np.count_nonzero(matrix) == len(left):  # each with itself alone
        return [[member] for member in left]
    groups: list[list[int]] = []
    while left:
        group = [left.pop(0)]
        for member in group:
            joined = [other for other in left if matrix[member, other] != 0.0]
            group += joined
            left = [other for other in left if other not in joined]
        groups.append(sorted(group))
    return groups


def group_parts(
    contributions: Floats, matrix: Floats, degrees_of_freedom: Sequence[float]
) -> list[tuple[list[int], float, float]]:
    """Give variance and degrees of freedom of every group of correlated inputs.

    The Welch-Satterthwaite formula holds for independent parts only. A correlated group enters as one part
    with the least degrees of freedom among its members: exact for a group that shares one cause, on the
    safe side for a loosely tied one.

    Parameters
    ----------
    contributions : ndarray (n,)
        Signed sensitivity times standard uncertainty.
    matrix : ndarray (n, n), [1]
    degrees_of_freedom : sequence of float (n,)

    Returns
    -------
    list of (members, variance, degrees of freedom)

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2 formula (16) and G.4.1.
    """
    parts: list[tuple[list[int], float, float]] = []
    for members, tied in _tied(matrix.tobytes(), len(matrix)):
        if tied is None:  # most stand alone, and matrices of one would cost more than all the rest
            variance = float(contributions[members[0]] ** 2)
        else:
            own = contributions[members]
            variance = float(own @ tied @ own)
        parts.append((list(members), max(variance, 0.0), min(degrees_of_freedom[member] for member in members)))
    return parts


@functools.lru_cache(maxsize=64)
def _tied(matrix: bytes, count: int) -> list[tuple[list[int], Floats | None]]:
    """Give the groups of a matrix, each with its own part; None for an input that stands alone."""
    whole = np.frombuffer(matrix, dtype=np.float64).reshape(count, count)
    return [(members, None if len(members) == 1 else whole[np.ix_(members, members)]) for members in find_groups(whole)]


def _wrong(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("UNC-003", what, needed=needed, next="Correct the correlations of the budget"))
