"""Taking in a whole file of deliveries: all of it or nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.csv_tables import Row
from service.core.errors import Invalid, Problem, Refused
from service.core.house import house
from service.core.reasons import Reason
from service.journal.acts import Act
from service.stores import queries
from service.stores.batches import keep, prepared
from service.stores.models import Material, StockBatch
from service.stores.rules_receipts import DUPLICATE, duplicate_number
from service.stores.shelves import all_shelves, put

NAMED = frozenset({"material", "shelf"})  # a file says them by name, beside the body of a receipt
Reading = Callable[[Mapping[str, Any]], tuple[Act, Mapping[str, Any]]]


@dataclass(frozen=True)
class Delivery:
    """One row as it would be received: its batch is not kept yet."""

    line: int
    act: Act
    material: Material
    batch: StockBatch
    shelf: str | None


@dataclass
class Judged:
    """What a file would do: its good rows, and what is wrong with each of the others, by pointer."""

    deliveries: list[Delivery] = field(default_factory=list)
    problems: list[Reason] = field(default_factory=list)


def judge(session: Session, rows: Sequence[Row], read: Reading, *, lock: bool = False) -> Judged:
    """Hold every row against the rules of a receipt, and against the rows before it; nothing is kept.

    `read` gives the act and the facts of a body, or raises Invalid. `lock` locks the materials.
    """
    store = _Store(session, rows, lock=lock)
    found = Judged()
    for row in rows:
        try:
            found.deliveries.append(store.delivery(row, read))
        except Problem as refusal:
            found.problems += [replace(r, pointer=row.pointer(r.pointer)) for r in refusal.reasons]
    return found


def take_in(session: Session, judged: Judged) -> list[StockBatch]:
    """Keep every delivery of a file that has no bad row.

    Invalid or, when nothing but numbers that came before stands against it, Refused; both point at lines.
    """
    wrong = [reason for reason in judged.problems if reason.code != DUPLICATE]
    if wrong:
        raise Invalid("validation", "Some lines are wrong; see errors.", judged.problems)
    Refused.unless_empty(DUPLICATE, judged.problems, allowed=["confirm_duplicate"])
    for each in judged.deliveries:
        keep(session, each.act, each.material, each.batch)
        if each.shelf is not None:
            put(session, each.act, each.batch, each.shelf)
    return [each.batch for each in judged.deliveries]


class _Store:
    """The shelves, and the materials that a file names, each with the batch numbers it has so far."""

    def __init__(self, session: Session, rows: Sequence[Row], *, lock: bool) -> None:
        self._session = session
        self._zone = house(session).time_zone
        codes = {str(row.body.get("material")) for row in rows}
        found = queries.materials_by_code(session, codes, lock=lock)
        self._shelves: dict[str, str] = {shelf.name: shelf.id for shelf in session.execute(all_shelves())}
        self._materials = {material.code: material for material in found}
        self._numbers: dict[str, list[tuple[str, date]]] = {
            material.id: queries.batch_numbers(session, material.id) for material in found
        }

    def delivery(self, row: Row, read: Reading) -> Delivery:
        """A row as it would be received after the rows before it; raises what stands against it."""
        if row.wrong is not None:
            raise Invalid.at("#", row.wrong)
        code = row.body.get("material")
        act, facts = read({name: row.body[name] for name in row.body if name not in NAMED})
        material = self._materials.get(str(code))
        if material is None:
            detail = f"There is no material {code}; GET /materials lists their codes."
            raise Invalid.at("#/material", detail if code else "Name the material by its code.")
        shelf = self._shelf(row.body.get("shelf"))
        known = self._numbers[material.id]
        duplicate = [] if facts["confirm_duplicate"] else duplicate_number(facts["batch_number"], known)
        known.append((facts["batch_number"], local_day(act.at, self._zone)))
        batch = prepared(self._session, act, material, facts)
        Refused.unless_empty(DUPLICATE, duplicate)
        return Delivery(row.line, act, material, batch, shelf)

    def _shelf(self, name: str | None) -> str | None:
        if name is None:
            return None
        if name not in self._shelves:
            raise Invalid.at("#/shelf", f"There is no shelf {name}; GET /shelves lists their names.")
        return self._shelves[name]
