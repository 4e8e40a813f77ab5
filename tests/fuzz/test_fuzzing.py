"""Files and the water of a mixing sheet, as libFuzzer would have them: no find, but of what is planted."""

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.soak import figure

pytestmark = pytest.mark.skipif(find_spec("atheris") is None, reason="atheris has no build for this machine")
RUNS = {"csv_reader": figure(gate=20_000, full=2_000_000), "mixing_sheet": figure(gate=1_000, full=100_000)}


def fuzzed(program: str, runs: int, folder: Path, *more: str) -> subprocess.CompletedProcess[str]:
    """Run a program from its seeds on; libFuzzer ends with something else than 0 at the first find."""
    command = [sys.executable, "-m", f"tests.fuzz.{program}", f"-runs={runs}", "-seed=1", "-max_len=400"]
    command += [f"-artifact_prefix={folder}/", *more, str(folder)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.promise(r=26)
@pytest.mark.soak
def test_no_file_is_anything_but_rows_or_a_refusal(tmp_path: Path) -> None:
    done = fuzzed("csv_reader", RUNS["csv_reader"], tmp_path)
    assert done.returncode == 0, done.stderr[-3000:]
    assert f"Done {RUNS['csv_reader']} runs" in done.stderr


@pytest.mark.promise(r=20)
@pytest.mark.soak
def test_no_water_makes_a_sheet_fail_or_say_less_than_nothing(tmp_path: Path) -> None:
    done = fuzzed("mixing_sheet", RUNS["mixing_sheet"], tmp_path)
    assert done.returncode == 0, done.stderr[-3000:]
    assert f"Done {RUNS['mixing_sheet']} runs" in done.stderr


@pytest.mark.promise(r=28)
@pytest.mark.soak
@pytest.mark.parametrize("program", ["csv_reader", *["mixing_sheet"] * figure(gate=0, full=1)])
def test_what_is_planted_is_found(program: str, tmp_path: Path) -> None:
    assert fuzzed(program, 5_000, tmp_path, "--planted").returncode != 0
