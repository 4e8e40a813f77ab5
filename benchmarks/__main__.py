"""`make bench`: build data, prove that floor and product give the same answer, measure, print one table."""

import platform
import sys
import tempfile
from pathlib import Path

import orjson
from rich.console import Console
from rich.table import Table

from benchmarks import reading
from benchmarks.pairs import compare, steady

GOAL, FAIL_ABOVE = 2.5, 3.0
ATTEMPTS = 3


def main() -> int:
    """Measure the reading of a page; gives 1 when it misses its limit, 2 when the machine was too noisy."""
    out = Console()
    with tempfile.TemporaryDirectory() as folder:
        settings, database, secret = reading.house(Path(folder))
        product = reading.product(settings, database, secret)
        page = product()
        floor = reading.floor(settings, orjson.loads(page)["next"])
        if not reading.same(page, floor()):
            out.print("floor and product differ: nothing was measured")
            return 1
        if not any(steady(compare(floor, floor)) for _ in range(ATTEMPTS)):
            out.print("INCONCLUSIVE: the floor against itself was not steady on this machine")
            return 2
        ratio = compare(floor, product)
    table = Table(
        "id",
        "what",
        "product / floor",
        "goal",
        "fail above",
        title=f"{platform.machine()}, {sys.version[:6]}",
    )
    found = f"{ratio.median:.2f} ({ratio.low:.2f} to {ratio.high:.2f})"
    table.add_row("P1", "page of 50 lots, whole service, CPU, SQLite", found, f"<= {GOAL}", str(FAIL_ABOVE))
    out.print(table)
    return 1 if ratio.low > FAIL_ABOVE else 0


sys.exit(main())
