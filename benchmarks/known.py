"""The lists, the console's pages, the consumption report and the science, each beside its floor."""

import time
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks import consuming, ledger, pages, reading, science
from benchmarks.pairs import compare
from benchmarks.run import CLOCKS, Limit, Run
from service.core.db import Database

PAGE = {"sqlite": Limit("P1", 2.5, 3.0), "postgresql": Limit("P2", 2.0, 2.5)}
HELD = {"sqlite": Limit("P5", 0.5, 0.6), "postgresql": Limit("P5", 0.75, 0.9)}
FLAT = Limit("P7", 1.3, 1.6)
REPORT = Limit("L1", 2.0, 3.0)
FASTER = Limit("L1", 30, 20, least=True, unit="times")
CONSOLE = Limit("U1", 10.0, 10.0)  # what the console promises at 10,000 lots


def lists(run: Run) -> None:
    """P1, P2, P5, P7: pages of lots, and a lot that was not changed."""
    for kind in CLOCKS:
        _page(run, kind)
    _flat(run)


def _page(run: Run, kind: str) -> None:
    clock = CLOCKS[kind]
    with TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url:
        house = reading.house(Path(folder), url)
        product, held = reading.product(*house), reading.not_changed(*house)
        floor = reading.floor(*house[:2], product)

        def same() -> bool:
            return reading.same(product(), floor())

        what = f"page of 50 lots, whole service, {kind}, against its raw floor"
        run.ratio(PAGE[kind], what, floor, product, clock, same=same)
        told = f"a lot not changed (304), {kind}, against the floor of a page"
        run.ratio(HELD[kind], told, floor, held, clock, same=same)
        house[1].dispose()


def _flat(run: Run) -> None:
    sizes = reading.FULL if run.full else reading.SHORT
    with TemporaryDirectory() as small, TemporaryDirectory() as large:
        houses = [
            reading.house(Path(folder), lots=lots) for folder, lots in zip((small, large), sizes, strict=True)
        ]
        few, many = (reading.places(*house) for house in houses)
        what = f"first, middle and last page of {sizes[1]:,} lots, SQLite, against those of {sizes[0]:,}"
        run.ratio(FLAT, what, few, many, time.process_time, same=lambda: few() == many())
        for _, database, _ in houses:
            database.dispose()


def console(run: Run) -> None:
    """U1: every page of the console against the very queries it asks."""
    for kind in CLOCKS:
        with TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url:
            settings, database, _ = reading.house(Path(folder), url)
            client = pages.signed_in(settings, database)
            for name, address in pages.addresses(client, database):
                _one_page(run, database, name, pages.product(client, address))
            database.dispose()


def _one_page(run: Run, database: Database, name: str, product: pages.Job) -> None:
    product()  # templates are compiled once
    kind, asked = database.engine.dialect.name, pages.queries_of(database, product)
    clock, bare, floor = CLOCKS[kind], pages.bare(database, asked), pages.sent(database, asked)
    what = (
        f"page {name}, {reading.LOTS:,} lots, {kind}, against its {len(asked.texts)} queries as the service"
        " sends them"
    )
    on_driver = compare(bare, product, clock).median
    least = compare(floor, pages.nothing(), clock).median
    told = f"{what} (on the bare driver: {on_driver:.3g}; a view that does nothing: {least:.2g})"
    run.ratio(CONSOLE, told, floor, product, clock, same=lambda: bare() == floor())


def report(run: Run) -> None:
    """L1: the consumption report against bare SQL over the rollup, and against the ledger added up."""
    lines = ledger.FULL if run.full else ledger.SHORT
    for kind, clock in CLOCKS.items():
        with ledger.house(kind, lines) as house:
            product, floor = consuming.product(house.database), consuming.floor(house.driver)
            aggregate = consuming.aggregate(house.driver)
            what = f"consumption over {lines:,} ledger lines, service function, {kind}, against "
            run.ratio(
                REPORT,
                f"{what}bare SQL over the rollup",
                floor,
                product,
                clock,
                same=lambda: consuming.same(product(), floor(), aggregate()),  # noqa: B023  # asked at once
            )
            faster = consuming.seconds(aggregate, clock) / consuming.seconds(product, clock, rounds=20)
            run.figure(FASTER, f"{what}the ledger added up without index", faster)


def arrays(run: Run) -> None:
    """S1 to S4: the arrays of the science against the plain loop."""
    for case in science.cases():
        what = f"{case.what}, arrays against the plain loop"
        run.ratio(Limit(case.id, 0.5, 1.0), what, case.loop, case.at_once, time.process_time, same=case.same)
