"""The bench that the tests of clearance work at."""

import pytest

from tests.api import Api
from tests.journeys.bench import Bench


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api)
