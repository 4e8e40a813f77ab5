"""R30: the same journals give the same bytes on either database, again, and in whatever order sets come."""

import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from service.clearance.rules import RULES_VERSION
from service.clearance.signing import make_key_file
from service.reference.loader import shipped
from tests.house import Templates
from tests.promises.planted import ROOT
from tests.promises.replayed import journal
from tests.soak import figure

JOURNALS = figure(gate=4, full=500)
RUNS = [("sqlite", "1"), ("postgresql", "2"), ("sqlite", "3"), ("postgresql", "4")][: figure(gate=2, full=4)]
Answer = tuple[str, str, str]  # what it is, the hash of its bytes, what it says


def seeded(seed: str, *words: str) -> "subprocess.Popen[bytes]":
    """Python in a process of its own whose sets come in another order."""
    outside = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "COV"))}
    command = [sys.executable, *words]
    return subprocess.Popen(
        command,
        cwd=ROOT,
        env={**outside, "PYTHONHASHSEED": seed},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def said(process: "subprocess.Popen[bytes]") -> bytes:
    out, problem = process.communicate()
    assert process.returncode == 0, problem.decode()[-2000:]
    return out


@pytest.fixture(scope="module")
def answers(templates: Templates, tmp_path_factory: pytest.TempPathFactory) -> list[list[Answer]]:
    """What each run answered; two run beside each other."""
    folder = tmp_path_factory.mktemp("replayed")
    (folder / "journals.json").write_text(json.dumps([journal(n) for n in range(JOURNALS)]), "utf-8")
    key = folder / "signing-key.json"
    make_key_file(key)  # signatures are the same for the same key (RFC 8032)
    for pair in (RUNS[:2], RUNS[2:]):
        with ExitStack() as held:
            running = []
            for kind, seed in pair:
                home = folder / seed
                home.mkdir()
                shutil.copy(key, home)
                url = held.enter_context(templates.empty(kind, f"replayed{os.getpid()}x{seed}", home))
                told = [url, str(home), str(folder / "journals.json"), str(folder / f"{seed}.txt")]
                running.append(seeded(seed, "-m", "tests.promises.replayed", *told))
            for process in running:
                said(process)
    return [read(folder / f"{seed}.txt") for _, seed in RUNS]


def read(file: Path) -> list[Answer]:
    return [tuple(json.loads(line)) for line in file.read_text("utf-8").splitlines()]


def of(answers: list[Answer], name: str) -> list[Any]:
    """The documents of one name, of all journals."""
    return [json.loads(said) for what, _, said in answers if what.split(" ", 1)[1:] == [name]]


@pytest.mark.promise(r=30)
@pytest.mark.soak
def test_every_run_answers_the_same_bytes(answers: list[list[Answer]]) -> None:
    first, *others = answers
    for other in others:
        assert [one for one, two in zip(first, other, strict=True) if one != two] == []
    names = Counter(what.split(" ", 1)[-1] for what, _, _ in first)
    assert names["sheet"] == names["gates"] == names["lot"] == JOURNALS
    assert names["decision 201"] == names["paper"] == names["certificate"] == names["replay"] > 0
    assert names["decision 409"] == JOURNALS - names["paper"] > 0


@pytest.mark.promise(r=30)
def test_each_answer_says_by_which_rules_and_figures(answers: list[list[Answer]]) -> None:
    for again in of(answers[0], "replay"):
        assert (again["outcome"], again["rules_version"]) == ("same", RULES_VERSION)
        assert again["reference_version"] == shipped().version
    assert {sheet["reference_version"] for sheet in of(answers[0], "sheet")} == {shipped().version}


@pytest.mark.promise(r=30)
def test_the_runs_do_differ_in_the_order_of_sets() -> None:
    program = "print(list({'hatch_out', 'freedom', 'no_hold', 'residue', 'visibility', 'floor_days'}))"
    orders = {said(seeded(seed, "-c", program)) for _, seed in RUNS}
    assert len(orders) == len(RUNS)
