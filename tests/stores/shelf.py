"""A shelf kept in the head: what every act on the stores must book, to hold the real ledger against."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

AMOUNTS = ("one", "third", "all", "one more", "twice")


@dataclass(frozen=True)
class Line:
    """A line of the ledger; `entry_id` is None while it is only foreseen."""

    batch_id: str
    amount: int
    reverses_id: str | None = None
    entry_id: str | None = None


@dataclass(frozen=True)
class Place:
    """Where a batch stands in the order of use: days that it keeps, then when it came."""

    keeps_days: int
    received: float


@dataclass
class Shelf:
    """The batches of one material, and every line that was answered for."""

    code: str
    places: dict[str, Place] = field(default_factory=dict)
    balances: dict[str, int] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    reversed_ids: set[str] = field(default_factory=set)

    def book(self, lines: list[Line]) -> None:
        """Take over what was answered."""
        for line in lines:
            self.balances[line.batch_id] = self.balances.get(line.batch_id, 0) + line.amount
            self.lines.append(line)
            if line.reverses_id is not None:
                assert line.reverses_id not in self.reversed_ids, "a line was reversed twice"
                self.reversed_ids.add(line.reverses_id)

    def usable(self) -> list[str]:
        """The batches that may be drawn from, in the order of use."""
        found = [one for one, place in self.places.items() if place.keeps_days >= 0 and self.balances[one]]
        return sorted(found, key=lambda one: (self.places[one].keeps_days, self.places[one].received))

    def drawing(self, needed: int) -> list[Line] | None:
        """What a draw books; None when it must be refused."""
        taken = []
        for one in self.usable():
            amount = min(needed, self.balances[one])
            if amount:
                taken.append(Line(one, -amount))
                needed -= amount
        return None if needed else taken

    def adding(self, batch_id: str, amount: int, reverses_id: str | None = None) -> list[Line] | None:
        """What a signed amount on one batch books; None when it must be refused."""
        if self.balances[batch_id] + amount < 0:
            return None
        return [Line(batch_id, amount, reverses_id)] if amount else []

    def reversing(self, line: Line) -> list[Line] | None:
        """What a reversal books; None when it must be refused."""
        if line.reverses_id is not None or line.entry_id in self.reversed_ids:
            return None
        return self.adding(line.batch_id, -line.amount, line.entry_id)


def foreseen(lines: list[Line] | None) -> list[Line] | None:
    """Lines as booked without what cannot be foreseen of them."""
    return None if lines is None else [replace(line, entry_id=None) for line in lines]


def size(how_much: str, there: int) -> int:
    """An amount around the edges of what is there."""
    sizes: dict[str, Callable[[], int]] = {
        "one": lambda: 1,
        "third": lambda: there // 3 + 1,
        "all": lambda: max(1, there),
        "one more": lambda: there + 1,
        "twice": lambda: 2 * there + 1,
    }
    return sizes[how_much]()
