"""Whatever happens in whatever order, from several connections: no batch is ever negative or unbalanced."""

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test
from sqlalchemy import func, select

from service.core import db
from service.core.db import Database
from service.core.ids import new_id
from service.core.settings import Settings
from service.journal.queries import check_chain
from service.stores.ledger import wrong_balances
from service.stores.material_schemas import MaterialIn
from service.stores.materials import add_material
from service.stores.models import Material, StockBatch, StockEntry
from service.wiring import open_database
from tests.engines import new_engine
from tests.soak import figure
from tests.stores.acting import KINDS, doing
from tests.stores.ledger import act
from tests.stores.shelf import AMOUNTS, Line, Shelf, foreseen
from tests.stores.test_materials import OWN

CONNECTIONS = 3
ROUND = 10  # acts in a row, or at once
ROUNDS, SHELVES = 25, figure(gate=8, full=240)
STEPS = ROUND * ROUNDS * SHELVES
ACTS = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(0, 40), st.sampled_from(AMOUNTS)),
    min_size=ROUND,
    max_size=ROUND,
)


@pytest.fixture
def connections(settings: Settings) -> Iterator[list[Database]]:
    """As many processes would have them: each with an engine of its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(db, "_engine", new_engine)
        found = [open_database(settings) for _ in range(CONNECTIONS)]
    yield found
    for database in found:
        database.dispose()


class Store(RuleBasedStateMachine):
    """One material on one shelf, and all who use it."""

    steps = 0

    def __init__(self, connections: Sequence[Database], pool: ThreadPoolExecutor) -> None:
        super().__init__()
        self.connections, self.pool, self.shelf = connections, pool, Shelf(f"m-{new_id()}")
        with connections[0].writing() as session:
            add_material(session, act(), MaterialIn().load({**OWN, "code": self.shelf.code}))

    @rule(acts=ACTS)
    def one_after_the_other(self, acts: list[tuple[str, int, str]]) -> None:
        """Each act books exactly what is foreseen, or is refused and books nothing."""
        for place, (kind, which, how_much) in enumerate(acts):
            one = doing(self.shelf, kind, which, how_much)
            booked = one.done(self.connections[place % CONNECTIONS])
            if kind != "receive" and self.shelf.lines:
                assert foreseen(booked) == one.foreseen
            self.shelf.book(booked or [])
        Store.steps += len(acts)

    @rule(acts=ACTS)
    def all_at_once(self, acts: list[tuple[str, int, str]]) -> None:
        """Whoever comes first, what is answered is what stands in the ledger."""
        start = threading.Barrier(CONNECTIONS)
        all_of_them = [doing(self.shelf, *one) for one in acts]

        def work(place: int) -> list[list[Line] | None]:
            start.wait()
            return [one.done(self.connections[place]) for one in all_of_them[place::CONNECTIONS]]

        for booked in self.pool.map(work, range(CONNECTIONS)):
            for lines in booked:
                self.shelf.book(lines or [])
        Store.steps += len(acts)

    @invariant()
    def balanced(self) -> None:
        """Every batch holds the sum of its lines, which is what was answered for, never below none."""
        with self.connections[-1].reading() as session:
            found = session.execute(
                select(StockBatch.id, StockBatch.balance, func.sum(StockEntry.amount))
                .join(StockEntry, StockEntry.batch_id == StockBatch.id)
                .join(Material, Material.id == StockBatch.material_id)
                .where(Material.code == self.shelf.code)
                .group_by(StockBatch.id)
            )
            sums = {batch_id: (balance, int(total)) for batch_id, balance, total in found}
        assert sums == {one: (balance, balance) for one, balance in self.shelf.balances.items()}
        assert all(balance >= 0 for balance in self.shelf.balances.values())


@pytest.mark.promise(r=4)
@pytest.mark.soak
def test_no_batch_is_ever_negative_or_unbalanced(connections: list[Database]) -> None:
    Store.steps = 0
    with ThreadPoolExecutor(CONNECTIONS) as pool:
        run_state_machine_as_test(
            partial(Store, connections, pool),  # type: ignore[arg-type]  # a class or what makes one
            settings=settings(
                max_examples=SHELVES,
                stateful_step_count=ROUNDS,
                deadline=None,
                phases=[Phase.generate],  # a race does not repeat, so it cannot be made smaller
                suppress_health_check=list(HealthCheck),
            ),
        )
    with connections[0].reading() as session:
        assert wrong_balances(session) == []
        assert check_chain(session).broken_at is None
    assert Store.steps >= STEPS
