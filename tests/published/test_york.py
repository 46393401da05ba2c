"""Lines with errors in both coordinates."""

import numpy as np

from firstlift.core.seat.line import fit_line

SOURCES = ("york-1966.toml",)


def computed(given):
    u_x, u_y = (1.0 / np.sqrt(given[name]) for name in ("weight_x", "weight_y"))
    line = fit_line(given["x"], given["y"], u_x, u_y)
    if given.get("errors"):
        return [*np.sqrt(np.diag(line.covariance)), line.chi_square]
    return [line.intercept, line.slope]


def test_published_value(check, agree):
    agree(check, computed(check["given"]))
