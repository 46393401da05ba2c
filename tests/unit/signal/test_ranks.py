"""The plain medians and quantiles against numpy's careful ones."""

import numpy as np
import pytest

from firstlift.core.signal.ranks import median, quantiles


@pytest.mark.parametrize("count", [1, 2, 3, 10, 101])
def test_agree_with_the_general_routines_and_leave_the_row_as_it_was(count):
    values = np.random.default_rng(count).normal(5.0, 2.0, count)
    before = values.copy()
    assert median(values) == np.median(values)
    shares = (0.0, 0.4, 0.9, 0.95, 1.0)
    assert quantiles(values, *shares) == pytest.approx(np.quantile(values, shares).tolist(), rel=1e-12)
    assert np.array_equal(values, before)
