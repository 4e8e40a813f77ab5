"""`make bench`: build data, prove that floor and product give the same answer, measure, print one table.

`--full` takes the full figures where building them takes minutes; names of groups measure only these.
The results stay in `build/benchmarks.json`.
"""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from rich.console import Console

from benchmarks import (
    acts,
    exports,
    files,
    growth,
    keeping,
    known,
    nights,
    resting,
    scaling,
    tracing,
    waking,
    wire,
    writers,
)
from benchmarks.run import Run

GROUPS: Mapping[str, Callable[[Run], None]] = {
    "lists": known.lists,
    "wire": wire.measured,
    "resting": resting.measured,
    "console": known.console,
    "acts": acts.measured,
    "writers": writers.measured,
    "files": files.measured,
    "exports": exports.measured,
    "report": known.report,
    "keeping": keeping.measured,
    "nights": nights.measured,
    "tracing": tracing.measured,
    "waking": waking.measured,
    "scaling": scaling.measured,
    "growth": growth.measured,
    "science": known.arrays,
}
RESULTS = Path("build/benchmarks.json")
WIDE = 240  # a file has no edge


def main(arguments: list[str]) -> int:
    """Measure; gives 1 when a figure misses its limit, 2 on a machine too noisy to say."""
    out = Console() if sys.stdout.isatty() else Console(width=WIDE)
    run = Run(out, full="--full" in arguments)
    for name in [name for name in arguments if name in GROUPS] or GROUPS:
        GROUPS[name](run)
    run.kept(RESULTS)
    return run.shown()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
