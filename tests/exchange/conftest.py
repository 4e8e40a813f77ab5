"""A house with a shop on its own machine, and a postman whose clock the test turns."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from ipaddress import ip_network
from typing import Any

import pytest

from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from service.exchange.postman import go_round
from tests.api import Api
from tests.exchange.endpoints import Answer, Endpoint, Received, endpoint


@pytest.fixture
def settings(settings: Settings) -> Settings:
    """As everywhere, and events may be sent to this machine."""
    return replace(settings, webhook_allow=(ip_network("127.0.0.1/32"),))


@dataclass
class Post:
    """The post of a house: an endpoint whose answers the test says, and rounds at the time it says."""

    api: Api
    database: Database
    shop: Endpoint
    ahead: timedelta = timedelta()
    answers: dict[str, Answer] = field(default_factory=dict)  # by the subject of the event
    fallback: Answer = (204, {}, b"")
    asked: Callable[[Received], Answer] | None = None  # in place of both

    def now(self) -> datetime:
        return utc_now() + self.ahead

    def webhook(self, *types: str, path: str = "/in", name: str = "the shop") -> Any:
        body = {"name": name, "url": f"http://127.0.0.1:{self.shop.port}{path}", "types": list(types)}
        return self.api.owner.made("/webhooks", body)

    def round(self, ahead: timedelta = timedelta()) -> int:
        """Go round, so much later than the last time."""
        self.ahead += ahead
        return go_round(self.database, self.now)

    def got(self) -> list[tuple[str, str]]:
        """Type and subject of all that the shop was sent, in order."""
        return [(event["type"], event["subject"]) for event in (found.event for found in self.shop.received)]

    def deliveries(self, webhook: Any, query: str = "") -> list[Any]:
        """The deliveries of a webhook, the oldest first."""
        items = self.api.owner.seen(f"/webhooks/{webhook['id']}/deliveries?limit=200{query}")["items"]
        return list(reversed(items))

    def answer(self, received: Received) -> Answer:
        if self.asked is not None:
            return self.asked(received)
        return self.answers.get(received.event["subject"], self.fallback)


@pytest.fixture
def post(api: Api, database: Database) -> Iterator[Post]:
    made: list[Post] = []
    with endpoint(lambda received: made[-1].answer(received)) as shop:  # noqa: PLW0108  # made below
        made.append(Post(api, database, shop))
        yield made[0]
