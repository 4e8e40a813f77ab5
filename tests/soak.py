"""How long a test of endurance runs: a short figure in every run, the full one in `make soak`."""

import os


def figure(*, gate: int, full: int) -> int:
    """`gate` in `make test`, `full` in `make soak`."""
    return full if os.environ.get("DIPLEDGER_SOAK") else gate
