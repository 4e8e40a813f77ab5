"""Whatever is taken, gained and split in whatever order, no unit is lost or counted twice."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.catalogue.models import Plant, Supplier
from service.core.db import Database
from service.core.errors import Refused
from service.core.ids import new_id
from service.journal.acts import Act
from service.lots.actions import gain, lot_for_change, put_back, receive, take
from service.lots.models import Lot
from service.lots.rules import RepackKind
from service.lots.units import repack, split
from tests.api import Api
from tests.make_lots import received_lot

STEP = st.tuples(
    st.sampled_from(["sold", "lost", "split", "recount", "put_back", "reserve"]), st.integers(1, 9)
)


def a_lot(session: Session, act: Act, units: int) -> Lot:
    supplier = Supplier(name=new_id(), country="NL", created_at=act.now)
    plant = Plant(
        code=new_id(),
        scientific_name="Anubias barteri",
        trade_names=[],
        synonyms=[],
        growth_form="rosette",
        look_class="broad_leaf",
        restricted=[],
        created_at=act.now,
    )
    session.add_all([supplier, plant])
    session.flush()
    facts = {"plant_id": plant.id, "supplier_id": supplier.id, "shipment_id": new_id()}
    return receive(session, act, {"code": new_id(), "unit_of_sale": "pot", "received": units, **facts})


def do(session: Session, act: Act, lot: Lot, step: tuple[str, int]) -> Lot | None:
    what, n = step
    if what == "sold":
        take(session, act, lot, quantity=n, into="sold")
    elif what == "lost":
        take(session, act, lot, quantity=n, into="lost", kind="lot.lost")
    elif what == "split":
        return split(session, act, lot, quantity=n, tub_id=None, share_water=False, reason=None)
    elif what == "recount":
        counts = {"from_quantity": n, "to_quantity": 10 - n, "to_unit_of_sale": None, "stems_per_bunch": None}
        repack(session, act, lot, kind=RepackKind.RECOUNT, **counts)  # type: ignore[arg-type]  # by name
    elif what == "put_back":
        put_back(lot, quantity=n)
    else:
        lot.reserved = min(n, lot.left)
    session.flush()
    return None


@pytest.mark.promise(r=4)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(units=st.integers(1, 30), steps=st.lists(st.tuples(st.integers(0, 5), STEP), max_size=12))
def test_any_sequence_of_acts_keeps_the_sum(
    session: Session, units: int, steps: list[tuple[int, tuple[str, int]]]
) -> None:
    now = datetime.now(UTC)
    act = Act("tests", now, now)
    lots = [a_lot(session, act, units)]
    recounted = 0
    for which, step in steps:
        lot = lots[which % len(lots)]
        gained = lot.gained
        try:
            child = do(session, act, lot, step)
        except Refused:
            child = None
        lots += [child] if child else []
        recounted += lot.gained - gained
        for each in lots:
            gone = each.sold + each.lost + each.split_off + each.disposed
            assert each.received + each.gained == each.left + gone
            assert 0 <= each.reserved <= each.left
            assert (each.state == "closed") == (each.left == 0)
    assert sum(lot.left + lot.sold + lot.lost + lot.disposed for lot in lots) == units + recounted
    session.rollback()


def test_nothing_comes_back_that_was_not_sold_or_to_a_lot_that_ended(session: Session) -> None:
    now = datetime.now(UTC)
    act = Act("tests", now, now)
    lot = a_lot(session, act, 5)
    take(session, act, lot, quantity=3, into="sold")
    with pytest.raises(Refused, match="Only 3"):
        put_back(lot, quantity=4)
    put_back(lot, quantity=3)
    gain(lot, units=1)
    assert (lot.left, lot.sold, lot.gained) == (6, 0, 1)
    take(session, act, lot, quantity=6, into="sold")
    with pytest.raises(Refused, match="closed"):
        put_back(lot, quantity=1)


def test_many_hands_never_lose_more_than_there_was(api: Api, database: Database) -> None:
    lot = received_lot(api, quantity=10)
    path = f"/lots/{lot['id']}/losses"
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda _: api.grower.post(path, {"quantity": 3, "cause": "melt"}), range(8)))
    done = [answer.status_code for answer in answers]
    assert done.count(200) == 3
    assert set(done) <= {200, 409, 412}
    after = api.grower.seen(f"/lots/{lot['id']}")["quantity"]
    assert (after["left"], after["lost"]) == (1, 9)
    with database.writing() as session:
        assert lot_for_change(session, lot["id"]).left == 1
