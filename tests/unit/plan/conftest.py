"""Inputs of a plan for an invented valve."""

import pytest
from tests.made_plans import make_inputs


@pytest.fixture(name="inputs")
def fixture_inputs():
    """Give the function that makes inputs of a plan; ``sheet`` changes the job sheet."""
    return make_inputs
