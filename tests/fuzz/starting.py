"""What every such program does first."""

import inspect
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import ModuleType

import atheris  # type: ignore[import-untyped]  # atheris ships no types

PLANTED = "--planted"  # with a bug that the program has to find


def is_planted() -> bool:
    """Whether the program was asked to run with its bug."""
    return PLANTED in sys.argv


def led_by(*modules: ModuleType) -> None:
    """Let new branches of these modules lead the search."""
    for module in modules:
        for kind in (module, *(found for _, found in inspect.getmembers(module, inspect.isclass))):
            for _, function in inspect.getmembers(kind, inspect.isfunction):
                if function.__module__ == module.__name__:
                    atheris.instrument_func(function)


def run(one_input: Callable[[bytes], None], seeds: Sequence[bytes]) -> None:
    """Sow the seeds in the folder that the command line ends with, and try what grows from them."""
    folder = Path(sys.argv[-1])
    for n, seed in enumerate(seeds):
        (folder / f"seed-{n}").write_bytes(seed)
    atheris.Setup([argument for argument in sys.argv if argument != PLANTED], one_input)
    atheris.Fuzz()
