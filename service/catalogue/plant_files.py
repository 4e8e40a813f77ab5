"""Plants that come as a file: all of them or nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.actions import add_plant
from service.catalogue.models import Plant
from service.core.csv_tables import Row, Table
from service.core.errors import Invalid, Problem
from service.core.reasons import Reason
from service.journal.acts import Act

REQUIRED = ("code", "scientific_name", "growth_form", "look_class")
OTHERS = ("trade_names", "synonyms")
PLANTS = Table(
    ("plant", "plants"),
    {name: (name,) for name in (*REQUIRED, *OTHERS)},
    REQUIRED,
    most_rows=1_000,
    several=frozenset(OTHERS),
)
Reading = Callable[[Mapping[str, Any]], Mapping[str, Any]]


@dataclass
class Judged:
    """What a file would do: its good rows with their lines, and what is wrong with the others, by pointer."""

    plants: list[tuple[int, Mapping[str, Any]]] = field(default_factory=list)
    problems: list[Reason] = field(default_factory=list)


def judge(session: Session, rows: Sequence[Row], read: Reading) -> Judged:
    """Hold every row against the form of a plant, the plants there are and the rows before it.

    `read` gives the facts of a body, or raises Invalid.
    """
    codes = {str(row.body.get("code")) for row in rows}
    taken = set(session.scalars(select(Plant.code).where(Plant.code.in_(codes))))
    found = Judged()
    for row in rows:
        try:
            found.plants.append((row.line, _plant(row, read, taken)))
        except Problem as refusal:
            found.problems += [replace(r, pointer=row.pointer(r.pointer)) for r in refusal.reasons]
    return found


def add_plants(session: Session, act: Act, judged: Judged) -> list[Plant]:
    """Add every plant of a file that has no bad row; raises Invalid pointing at the bad ones."""
    if judged.problems:
        raise Invalid("validation", "Some lines are wrong; see errors.", judged.problems)
    return [add_plant(session, act, facts) for _, facts in judged.plants]


def _plant(row: Row, read: Reading, taken: set[str]) -> Mapping[str, Any]:
    if row.wrong is not None:
        raise Invalid.at("#", row.wrong)
    facts = read(row.body)
    if facts["code"] in taken:
        raise Invalid.at("#/code", f"There is already a plant with the code {facts['code']}.", "name-taken")
    taken.add(facts["code"])
    return facts
