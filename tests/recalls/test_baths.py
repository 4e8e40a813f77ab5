"""A bath that served several lots in turn carries, and spreads what was wrong with its batch."""

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_recalls import recall
from tests.make_treatments import lot, planned, shelf, started, washed, when
from tests.unchanged import unchanged

MINUTE = 1 / 1440


def dipped(api: Api, database: Database, code: str, bath: str, days: float) -> str:
    """The id of a lot of its own tub, washed and dipped."""
    own = lot(api)
    treatment = planned(api, "bleach-dip", tub(database, code), [own], days)
    started(api, treatment, 2, washed(api, treatment, days), bath_id=bath)
    return own


def test_who_was_dipped_later_is_within_reach_of_who_was_dipped_first(api: Api, database: Database) -> None:
    shelf(api)
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 10, "unit": "L"}}
    bath = api.grower.made("/baths", {**body, **when(0.1)})["id"]
    first = dipped(api, database, "T1", bath, 0.1)
    second = dipped(api, database, "T2", bath, 0.1 + 5 * MINUTE)
    with unchanged(database):
        found = {item["id"]: item for item in api.grower.seen(f"/lots/{first}/trace")["lots"]}
        assert set(found) == {first, second}
        [hop] = found[second]["path"]
        assert (hop["way"], hop["bath_id"], hop["tool_id"]) == ("bath", bath, None)
        assert "into a bath into which" in hop["words"]
        assert [item["id"] for item in api.grower.seen(f"/lots/{second}/trace")["lots"]] == [second]
        back = api.grower.seen(f"/lots/{second}/trace?direction=back")["lots"]
        assert {item["id"] for item in back} == {first, second}


def test_a_bad_batch_is_recalled_with_every_lot_dipped_into_its_bath(api: Api, database: Database) -> None:
    shelf(api)
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 10, "unit": "L"}}
    bath = api.grower.made("/baths", {**body, **when(0.1)})["id"]
    lots = {
        dipped(api, database, "T1", bath, 0.1),
        dipped(api, database, "T2", bath, 0.1 + 5 * MINUTE),
    }
    other = lot(api)
    batches = api.grower.seen("/stock-batches")["items"]
    [bleach] = [batch["id"] for batch in batches if batch["material"] == "bleach"]
    found = recall(api, batch_id=bleach)
    assert {item["lot_id"] for item in found["lots"]} == lots
    assert api.grower.seen(f"/lots/{other}")["holds"] == []
