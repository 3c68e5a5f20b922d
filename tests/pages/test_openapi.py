"""Whatever is asked by the OpenAPI description, no answer is an error of ours."""

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings

pytestmark = [pytest.mark.slow]
schema = schemathesis.pytest.from_fixture("described")


@pytest.fixture(scope="session")
def described(client: TestClient) -> object:
    return schemathesis.openapi.from_asgi("/openapi.json", client.app, headers={"host": "127.0.0.1"})


@schema.parametrize()
@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
def test_nothing_ends_in_an_error_of_ours(case: schemathesis.Case) -> None:
    response = case.call(headers={"host": "127.0.0.1"})
    assert response.status_code < 500, response.text[:300]
