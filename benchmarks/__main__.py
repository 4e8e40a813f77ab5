"""`make bench`: build data, prove that floor and product give the same answer, measure, print one table.

`--full` takes the full figures where building them takes minutes.
"""

import platform
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table

from benchmarks import consuming, ledger, pages, reading, science
from benchmarks.pairs import Ratio, compare, steady
from service.core.db import Database

# Goal, and what no run may be above as ratios to the floor of the same run.
PAGE = {"sqlite": ("P1", 2.5, 3.0), "postgresql": ("P2", 2.0, 2.5)}
HELD = {"sqlite": (0.5, 0.6), "postgresql": (0.75, 0.9)}
FLAT = (1.3, 1.6)
REPORT_GOAL, REPORT_FAIL_ABOVE = 2.0, 3.0
FASTER_GOAL, FASTER_FAIL_BELOW = 30, 20
PAGES_GOAL, PAGES_FAIL_ABOVE = 10.0, 10.0  # what the console promises at 10,000 lots
ATTEMPTS = 3
# PostgreSQL does its work in a process of its own: only the clock on the wall sees it.
CLOCKS = {"sqlite": time.process_time, "postgresql": time.perf_counter}


def main() -> int:
    """Measure page, report and science; gives 1 when one misses its limit, 2 on a machine too noisy."""
    out = Console()
    table = Table(
        "id",
        "what",
        "measured / compared with",
        "goal",
        "fail above",
        title=f"{platform.machine()}, {sys.version[:6]}",
    )
    full = "--full" in sys.argv[1:]
    verdicts = [
        *(verdict for kind in CLOCKS for verdict in _page(out, table, kind)),
        _flat(table, full=full),
        *(verdict for kind in CLOCKS for verdict in _console(out, table, kind)),
        *(_report(out, table, kind, full=full) for kind in CLOCKS),
        *(_at_once(out, table, case) for case in science.cases()),
    ]
    out.print(table)
    return max(verdicts)


def _page(out: Console, table: Table, kind: str) -> list[int]:
    clock, (name, *limits), held_limits = CLOCKS[kind], PAGE[kind], HELD[kind]
    with tempfile.TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url:
        house = reading.house(Path(folder), url)
        product, held = reading.product(*house), reading.not_changed(*house)
        floor = reading.floor(*house[:2], product)
        if not reading.same(product(), floor()):
            out.print(f"{name}: floor and product differ: nothing was measured")
            return [1]
        if not any(steady(compare(floor, floor, clock)) for _ in range(ATTEMPTS)):
            out.print(f"{name}: INCONCLUSIVE: the floor against itself was not steady on this machine")
            return [2]
        ratios = compare(floor, product, clock), compare(floor, held, clock)
        house[1].dispose()
    what = f"page of 50 lots, whole service, {kind}, against its raw floor"
    told = f"a lot not changed (304), {kind}, against the floor of a page"
    return [
        _row(table, name, what, ratios[0], limits),
        _row(table, "P5", told, ratios[1], held_limits),
    ]


def _flat(table: Table, *, full: bool) -> int:
    sizes = reading.FULL if full else reading.SHORT
    with tempfile.TemporaryDirectory() as small, tempfile.TemporaryDirectory() as large:
        houses = [
            reading.house(Path(folder), lots=lots) for folder, lots in zip((small, large), sizes, strict=True)
        ]
        ratio = compare(*(reading.places(*house) for house in houses))
        for _, database, _ in houses:
            database.dispose()
    what = f"first, middle and last page of {sizes[1]:,} lots, SQLite, against those of {sizes[0]:,}"
    return _row(table, "P7", what, ratio, FLAT)


def _row(table: Table, name: str, what: str, ratio: Ratio, limits: Sequence[float]) -> int:
    goal, fail_above = limits
    table.add_row(name, what, _shown(ratio), f"<= {goal:g}", f"{fail_above:g}")
    return 1 if ratio.low > fail_above else 0


def _console(out: Console, table: Table, kind: str) -> list[int]:
    with tempfile.TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url:
        settings, database, _ = reading.house(Path(folder), url)
        client = pages.signed_in(settings, database)
        verdicts = [
            _one_page(out, table, database, name, pages.product(client, address))
            for name, address in pages.addresses(client, database)
        ]
        database.dispose()
        return verdicts


def _one_page(out: Console, table: Table, database: Database, name: str, product: pages.Job) -> int:
    product()  # templates are compiled once
    kind, asked = database.engine.dialect.name, pages.queries_of(database, product)
    clock, bare, floor = CLOCKS[kind], pages.bare(database, asked), pages.sent(database, asked)
    if bare() != floor():
        out.print(f"C1 {name} on {kind}: the floors give different rows: nothing was measured")
        return 1
    if not any(steady(compare(floor, floor, clock)) for _ in range(ATTEMPTS)):
        out.print(f"C1 {name} on {kind}: INCONCLUSIVE: the floor against itself was not steady")
        return 2
    ratio, on_driver = compare(floor, product, clock), compare(bare, product, clock).median
    least = compare(floor, pages.nothing(), clock).median
    what = (
        f"page {name}, {reading.LOTS:,} lots, {kind}, against its {len(asked.texts)} queries as the service"
        f" sends them (on the bare driver: {on_driver:.3g}; a view that does nothing: {least:.2g})"
    )
    table.add_row("C1", what, _shown(ratio), f"<= {PAGES_GOAL:g}", f"{PAGES_FAIL_ABOVE:g}")
    return 1 if ratio.low > PAGES_FAIL_ABOVE else 0


def _report(out: Console, table: Table, kind: str, *, full: bool) -> int:
    lines, clock = ledger.FULL if full else ledger.SHORT, CLOCKS[kind]
    with ledger.house(kind, lines) as house:
        product = consuming.product(house.database)
        floor, aggregate = consuming.floor(house.driver), consuming.aggregate(house.driver)
        if not consuming.same(product(), floor(), aggregate()):
            out.print(f"L1 on {kind}: report, floor and aggregate differ: nothing was measured")
            return 1
        if not any(steady(compare(floor, floor, clock)) for _ in range(ATTEMPTS)):
            out.print(f"L1 on {kind}: INCONCLUSIVE: the floor against itself was not steady on this machine")
            return 2
        ratio = compare(floor, product, clock)
        faster = consuming.seconds(aggregate, clock) / consuming.seconds(product, clock, rounds=20)
    what = f"consumption over {lines:,} ledger lines, service function, {kind}, against "
    limits = (f"<= {REPORT_GOAL}", str(REPORT_FAIL_ABOVE))
    table.add_row("L1", f"{what}bare SQL over the rollup", _shown(ratio), *limits)
    table.add_row(
        "L1",
        f"{what}the ledger added up without index: times faster",
        f"{faster:.3g}",
        f">= {FASTER_GOAL}",
        f"below {FASTER_FAIL_BELOW}",
    )
    return 1 if ratio.low > REPORT_FAIL_ABOVE or faster < FASTER_FAIL_BELOW else 0


def _at_once(out: Console, table: Table, case: science.Case) -> int:
    if not case.same():
        out.print(f"{case.id}: loop and arrays differ: nothing was measured")
        return 1
    ratio = compare(case.loop, case.at_once)
    table.add_row(case.id, f"{case.what}, arrays against the plain loop", _shown(ratio), "< 0.5", "1.0")
    return 1 if ratio.low > 1 else 0


def _shown(ratio: Ratio) -> str:
    return f"{ratio.median:.3g} ({ratio.low:.3g} to {ratio.high:.3g})"


sys.exit(main())
