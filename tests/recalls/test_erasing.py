"""A customer asks to be forgotten: nothing speaks of him any more, and the journal is whole."""

from pathlib import Path

import pytest
from sqlalchemy import text

from service.core.db import Database
from service.core.settings import Settings
from tests.backups.running import done, refused, run_in
from tests.journeys.bench import Bench
from tests.make_recalls import recall
from tests.unchanged import contents

WHO, WORDS = "Ottoline Quennell, Fernwick 3", "My Ottoline found a snail"
KEY = {"Idempotency-Key": "order-1"}


def bought(bench: Bench, lot: str, who: str, **headers: str) -> str:
    body = {"order_ref": who[:3], "customer_ref": who, "lines": [{"lot_id": lot, "quantity": 2}]}
    return str(bench.api.shop.made("/dispatches", body, **headers)["id"])


def spoken_of(database: Database, *words: str) -> set[str]:
    """The tables in which any of these words stand."""
    found = contents(database)
    return {table for table, rows in found.items() if any(word in repr(rows) for word in words)}


def test_nothing_speaks_of_him_afterwards_and_the_rest_is_as_it_was(
    bench: Bench, database: Database, settings: Settings
) -> None:
    lot = bench.cleared_lot(20)
    his, hers = bought(bench, lot, WHO, **KEY), bought(bench, lot, "customer 18")
    complaint = bench.api.seller.made("/complaints", {"dispatch_id": his, "what": WORDS})
    tell = recall(bench.api, lot_id=lot)
    path = f"/complaints/{complaint['id']}"
    tag = {"If-Match": bench.api.manager.get(path).headers["ETag"]}
    run = run_in(settings)

    reasons = refused(run("erase", WHO, "--json"), "still-owed")
    assert "complaint" in reasons
    assert "recall" in reasons
    bench.api.grower.made("/inspections", {"lot_id": lot, "sample_size": 16, "findings": []})
    judged = {"verdict": "not_ours", "settlement": "none", "reason": "a kind we never had"}
    bench.api.manager.made(f"{path}/verdict", judged, **tag)
    notice = {"dispatch_id": his, "way": "phone", "note": f"{WHO} was glad"}
    bench.api.seller.made(f"/recalls/{tell['id']}/notices", notice)

    assert {"dispatch", "idempotency_key", "complaint", "recall_notice"} <= spoken_of(database, WHO, WORDS)
    erased = done(run("erase", WHO, "--json"))
    assert (erased["dispatches"], erased["complaints"], erased["notices"]) == (1, 1, 1)
    assert erased["left_in_journal"] == 0
    assert spoken_of(database, WHO, WORDS, "Ottoline") == set()
    assert {"dispatch"} <= spoken_of(database, "customer 18")
    assert bench.api.auditor.seen("/audit/check")["intact"]
    sent = {found["id"]: found for found in bench.api.seller.seen("/dispatches")["items"]}
    assert (sent[his]["customer_ref"], sent[hers]["customer_ref"]) == (None, "customer 18")
    assert sent[his]["lines"] == sent[hers]["lines"]
    again = bench.api.shop.post(
        "/dispatches",
        {"order_ref": WHO[:3], "customer_ref": WHO, "lines": [{"lot_id": lot, "quantity": 2}]},
        **KEY,
    )
    assert (again.status_code, again.get_json()["id"]) == (201, his)  # sent again it still happens once
    assert again.get_json()["customer_ref"] is None
    refused(run("erase", WHO, "--json"), "not-found")


def test_what_was_typed_into_the_journal_stays_and_is_told(bench: Bench, settings: Settings) -> None:
    lot = bench.cleared_lot(20)
    his = bought(bench, lot, WHO)
    bench.api.manager.made(f"/dispatches/{his}/reversal", {"reason": f"{WHO} rang"})
    erased = done(run_in(settings)("erase", WHO, "--json"))
    assert erased["left_in_journal"] == 1


def test_who_still_waits_for_plants_is_not_forgotten(bench: Bench, settings: Settings) -> None:
    lot = bench.cleared_lot(20)
    body = {
        "order_ref": "W-1",
        "customer_ref": WHO,
        "lines": [{"lot_id": lot, "quantity": 2}],
    }
    bench.api.shop.made("/reservations", body)
    assert "promised" in refused(run_in(settings)("erase", WHO, "--json"), "still-owed")


def test_no_byte_of_him_stays_in_the_file(
    bench: Bench, settings: Settings, database_kind: str, database: Database
) -> None:
    if database_kind == "postgresql":
        pytest.skip("PostgreSQL writes its files when it likes; the rows are vacuumed")
    bought(bench, bench.cleared_lot(20), WHO, **KEY)
    file = Path(settings.database_url.removeprefix("sqlite:///"))

    def bytes_of() -> bytes:
        with database.engine.connect() as connection:
            connection.execute(text("SELECT 1"))
        return b"".join(each.read_bytes() for each in file.parent.glob(f"{file.name}*"))

    assert b"Ottoline" in bytes_of()
    done(run_in(settings)("erase", WHO, "--json"))
    assert b"Ottoline" not in bytes_of()
