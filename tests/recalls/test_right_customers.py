"""A recall of a sold lot finds the right customers and no others, whatever the history, over HTTP.

The right ones are those that the independent tracer (`tests.recalls.tracer`) says.
"""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.db import Database
from service.core.ids import new_id
from tests.api import Api
from tests.make_lots import plant, supplier
from tests.recalls import planted
from tests.recalls.histories import LAST, histories
from tests.recalls.planted import Nursery
from tests.recalls.tracer import History, arrivals
from tests.soak import figure


@pytest.mark.promise(r=28)
@pytest.mark.soak
def test_a_recall_of_a_sold_lot_finds_the_right_customers_and_no_others(api: Api, database: Database) -> None:
    @settings(max_examples=figure(gate=12, full=300))
    @given(histories(), st.data())
    def ask(history: History, data: st.DataObject) -> None:
        begin = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(hours=20)
        place = Nursery(plant(api), supplier(api), begin, new_id()[-12:])
        born = {child: at for _, child, at in history.splits}
        recalled = data.draw(st.sampled_from(history.lots))
        since = data.draw(st.integers(born.get(recalled, 0), LAST))
        lots = st.tuples(st.sampled_from(history.lots), st.integers(0, LAST))
        sales = [
            (lot, hour) for lot, hour in data.draw(st.lists(lots, max_size=8)) if hour >= born.get(lot, 0)
        ]
        with database.writing() as session:
            ids = planted.plant(session, place, history)
            for n, (lot, hour) in enumerate(sales):
                planted.sold(session, place, ids[lot], hour, f"customer {n}")
            planted.sell_out(session, ids[recalled])
        body = {"lot_id": ids[recalled], "reason": "found", "since": _text(place.moment(since))}
        found = api.manager.made("/recalls", body)

        reached = arrivals(history, {recalled: since}, LAST + 2)
        right = {f"customer {n}" for n, (lot, hour) in enumerate(sales) if hour >= reached.get(lot, LAST + 9)}
        assert {customer["customer_ref"] for customer in found["customers"]} == right
        assert {item["lot_id"]: place.hour(item["reached_at"]) for item in found["lots"]} == {
            ids[lot]: hour for lot, hour in reached.items()
        }
        for name, lot_id in ids.items():
            held = bool(api.grower.seen(f"/lots/{lot_id}")["holds"])
            assert held is (name in reached and name != recalled)

    ask()


def _text(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")
