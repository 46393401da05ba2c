"""The interface against its own description, with every check of schemathesis."""

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from tests.web.test_api import ALL, Client

EXAMPLES = 8


def test_every_check_holds_of_every_operation(office):
    secret = Client(office, ALL).secret
    interface = schemathesis.openapi.from_url(f"{office.url}/api/v1/openapi.json")
    asked = []
    for found in interface.get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def hold(case):
            case.call_and_validate(headers={"Authorization": f"Bearer {secret}"})

        hold()
        asked.append(operation.label)
    assert len(asked) >= 10
