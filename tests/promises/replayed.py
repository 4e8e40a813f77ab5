"""Recorded journals carried out anew in a process of their own, at a fixed moment and with ids in sequence.

`python -m tests.promises.replayed URL HOME JOURNALS ANSWERS` makes a house in the empty database at URL,
does what stands in the file JOURNALS and writes every answer that somebody could rely on, byte by byte.
"""

import hashlib
import json
import random
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import UUID

from service.app import create_app
from service.core import clock, db, ids
from service.wiring import open_database
from tests.api import Api, Client
from tests.engines import new_engine
from tests.house import prepare, settings_for
from tests.journeys import bench as benches
from tests.journeys.bench import Bench
from tests.make_clearance import decide
from tests.make_quarantine import work_done

NOW = datetime(2026, 6, 1, 8, tzinfo=UTC)
PLANTS = ("anubias-barteri", "leptochilus-pteropus", "cryptocoryne-wendtii", "aquarius-grisebachii")
PESTS = ("bladder_snail", "ramshorn_snail", "pond_snail")
AGE, EVERY_H = 50, 6
MADE_ON = "2026-04-01"
Journal = dict[str, Any]


def journal(n: int) -> Journal:
    """What somebody wrote down of one lot: the same for the same number, whoever asks."""
    chance = random.Random(n)  # noqa: S311  # the same for the same number
    strength = {"value": round(chance.uniform(3, 9), 2), "basis": "naocl_ww"}
    find = {"pest": chance.choice(PESTS), "stage": chance.choice(("egg", "adult")), "live": 1}
    return {
        "number": n,
        "plant": chance.choice(PLANTS),
        "quantity": chance.randint(8, 60),
        "celsius": [round(chance.uniform(22, 26), 1) for _ in range(4)],
        "litres": round(chance.uniform(1, 40), 1),
        "strength": strength,
        "find_on": chance.choice((None, None, 1, 4, 9)),
        "find": {**find, "dead": 0, "removed": True},
        "looks": sorted(chance.sample(range(30, AGE), 2)),
    }


class Unheld:
    """No contract: other tests hold the answers against it."""

    def hold(self, *_: object) -> None:
        """Nothing to hold."""


def standing_still() -> None:
    """One moment for all, ids and serials in sequence: nothing is left to clock or chance."""
    for module in (clock, benches):
        vars(module)["datetime"] = SimpleNamespace(now=NOW.astimezone, combine=datetime.combine)
    numbers, chance = count(1), random.Random(0)  # noqa: S311  # serials in sequence are wanted here
    start = int(NOW.timestamp() * 1000) << 80 | 7 << 76 | 2 << 62
    sequence = SimpleNamespace(uuid7=lambda: UUID(int=start + next(numbers)))
    vars(ids).update(uuid_utils=sequence, secrets=SimpleNamespace(randbits=chance.getrandbits))


def answers(url: str, home: Path, journals: Sequence[Journal]) -> Iterator[tuple[str, bytes]]:
    """Carry out each journal; every answer by its name."""
    tokens = prepare(url, home)
    settings = settings_for(url, home)
    database = open_database(settings)
    api = Api(create_app(settings, database, wake=lambda: None), Unheld(), tokens)  # type: ignore[arg-type]
    bench = Bench(api, AGE)
    for written in journals:
        lot = lived(bench, written)
        for name, answer in relied_on(bench, lot, written):
            yield f"{written['number']} {name}", answer
        work_done(database)
        yield f"{written['number']} lot", api.auditor.get(f"/lots/{lot}").get_data()
    yield "head", api.auditor.get("/audit/check").get_data()
    database.dispose()


def lived(bench: Bench, written: Journal) -> str:
    """The lot of a journal, brought up to its decision; gives its id."""
    number, quantity = written["number"], written["quantity"]
    tub = bench.tub(f"J{number}", litres=max(written["litres"], 20))
    lot = str(bench.lot(written["plant"], quantity)["id"])
    bench.look(0.05, lot_id=lot, sample_size=quantity)
    bench.treat("quarantine-only", tub, [lot], 0.1, [1])
    warmth = written["celsius"]
    readings = [
        {"at": bench.when(hour / 24)["at"], "value": warmth[hour // EVERY_H % 4], "unit": "Cel"}
        for hour in range(0, AGE * 24 + 1, EVERY_H)
    ]
    logged = {"readings": readings, "late_reason": benches.LATE}
    bench.api.grower.made(f"/tubs/{tub}/temperatures", logged)
    bench.strain(tub, 3, AGE - 6)
    bench.look(7, tub_id=tub, method="bait")
    if written["find_on"] is not None:
        bench.look(written["find_on"], lot_id=lot, sample_size=quantity, findings=[written["find"]])
    for day in written["looks"]:
        bench.look(day, lot_id=lot, sample_size=quantity)
    return lot


def relied_on(bench: Bench, lot: str, written: Journal) -> Iterator[tuple[str, bytes]]:
    """Sheet, gates with the release day, decision, certificate, its paper, and the decision judged again."""
    api = bench.api
    yield "sheet", sheet(api.grower, bench, written)
    yield "gates", api.grower.get(f"/lots/{lot}/clearance").get_data()
    decision = decide(bench, lot)
    yield f"decision {decision.status_code}", decision.get_data()
    if decision.status_code == 201:
        serial = decision.get_json()["certificate"]["serial"]
        yield "certificate", api.auditor.get(f"/certificates/{serial}").get_data()
        yield "paper", api.auditor.get(f"/certificates/{serial}.pdf").get_data()
        yield "replay", api.auditor.get(f"/certificates/{serial}/replay").get_data()


def sheet(client: Client, bench: Bench, written: Journal) -> bytes:
    """The mixing sheet of a bleach dip with a bottle of its own strength."""
    bottle = {"batch_number": f"B{written['number']}", "strength": written["strength"], "made_on": MADE_ON}
    batch = bench.batch("bleach", 5, "L", **bottle)["id"]
    asked = {"protocol": "bleach-dip", "version": 1, "batches": {"bleach": batch}}
    answer = client.post(
        "/mixing-sheets", {**asked, "water_volume": {"value": written["litres"], "unit": "L"}}
    )
    assert answer.status_code == 200, answer.get_json()
    return answer.get_data()


def main(url: str, home: str, journals: str, answered: str) -> None:
    """Write a line for each answer: its name, the hash of its bytes, and what it says where it is text."""
    standing_still()
    with Path(answered).open("w", encoding="utf-8") as file:
        recorded = json.loads(Path(journals).read_bytes())
        for name, answer in answers(url, Path(home), recorded):
            said = "" if answer.startswith(b"%PDF") else answer.decode()
            file.write(json.dumps([name, hashlib.sha256(answer).hexdigest(), said]) + "\n")


if __name__ == "__main__":
    db._engine = new_engine
    main(*sys.argv[1:])
