"""The stored rollup added up by the database, so that a report over years reads few rows of it."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import BigInteger, cast, func, select
from sqlalchemy.orm import Session

from service.reports.models import ConsumptionDay
from service.reports.rules import By, Sums, as_use
from service.reports.spans import Span

Part = date | str | None
PARTS: Mapping[By, Any] = {
    By.PROTOCOL: ConsumptionDay.protocol,
    By.DAY: ConsumptionDay.day,
    By.WEEK: ConsumptionDay.day,
    By.MONTH: ConsumptionDay.day,
}
MAY_BE_UNKNOWN = (
    ConsumptionDay.cost_micro,
    ConsumptionDay.active_mg,
    ConsumptionDay.discharged_mg,
    ConsumptionDay.left_mg,
)
ADDED: tuple[Any, ...] = (
    func.count(),
    func.min(ConsumptionDay.currency),
    func.max(ConsumptionDay.currency),
    *(cast(func.sum(column), BigInteger) for column in (ConsumptionDay.used, *MAY_BE_UNKNOWN)),
    *(func.count(column) for column in MAY_BE_UNKNOWN),
)


def rolled_up(
    session: Session, span: Span, by: By, without: Collection[date]
) -> Iterator[tuple[Part, str, Sums]]:
    """Day or protocol ("code/number") as `by` needs, material, and what a report counts of them, in parts.

    Added up they are what `rules.as_use` of every row adds up to; days in `without` are left out.
    """
    part = PARTS.get(by)
    grouping = [ConsumptionDay.material_id, ConsumptionDay.reason, *([] if part is None else [part])]
    statement = select(*ADDED, *grouping).group_by(*grouping)
    if span.since is not None:
        statement = statement.where(ConsumptionDay.day >= span.since)
    if span.until is not None:
        statement = statement.where(ConsumptionDay.day <= span.until)
    if without:
        statement = statement.where(ConsumptionDay.day.not_in(without))
    for row in session.execute(statement):
        material_id, reason, *key = row[len(ADDED) :]
        yield key[0] if key else None, material_id, as_use(reason, _sums(row[: len(ADDED)]))


def _sums(added: Sequence[Any]) -> Sums:
    """The sums of a group; none where a part is unknown or the money is of two currencies."""
    count, first, last, used, *rest = added
    known = [total if have == count else None for total, have in zip(rest[:4], rest[4:], strict=True)]
    cost, active, discharged, left = known
    if cost is None or first != last:
        return Sums(used, None, None, active, discharged, left)
    return Sums(used, cost, first, active, discharged, left)
