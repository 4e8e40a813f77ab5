"""What the page of a lot draws and advises, from the evidence of its quarantine."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from flask_babel import gettext
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.people_queries import names_of
from service.catalogue.models import Plant
from service.console.rules_picture import Growth, Scene, Seen
from service.console.words import word
from service.lots.models import Hold, Lot
from service.quarantine.evidence import Evidence, evidence
from service.quarantine.queries import figures, policy
from service.quarantine.rules_release import project
from service.science.curve import curve
from service.science.development import latest_reached_at
from service.tubs.models import WaterChange

AFTER = timedelta(days=3)
POINTS = 60
WARMER_C = (22.0, 24.0, 26.0)
WORTH = timedelta(days=1)
CHOICES = 200  # more than anybody reads through; the start of the code narrows them


@dataclass(frozen=True)
class Advice:
    """What warmer water would save."""

    celsius: float
    sooner: timedelta


@dataclass(frozen=True)
class Drawn:
    """The scene of a lot, and what would help."""

    scene: Scene
    advice: Advice | None


def quarantine_of(session: Session, lot_id: str, now: datetime) -> Drawn | None:
    """The scene of a lot whose clock runs, None for one without a clock."""
    lot = session.get_one(Lot, lot_id)
    known = evidence(session, [lot], now, figures(policy(session)))[lot_id]
    started = known.projection.clock_started_at
    if started is None:
        return None
    ends = [known.projection.release_at, known.projection.visible_at, now]
    end = max(at for at in ends if at is not None) + AFTER
    start = min(lot.received_at, started)
    return Drawn(
        Scene(
            start=start,
            end=end,
            now=now,
            readings=[(one.at, one.celsius) for one in known.log.readings if one.at >= start],
            growth=list(_growth(known, started, end, now)),
            seen=_seen(session, known, start),
            release_at=known.projection.release_at,
        ),
        _advice(known, now),
    )


def soon_of(session: Session, lot_ids: Collection[str]) -> Mapping[str, Any]:
    """When the next look of each lot is owed, and whether it may be decided on."""
    rows = session.execute(select(Lot.id, Lot.next_look_at, Lot.decidable).where(Lot.id.in_(lot_ids))).all()
    return {row.id: row for row in rows}


def lots_to_choose(session: Session, states: Collection[str], code: str = "") -> list[dict[str, Any]]:
    """The newest lots in these states to choose from, narrowed by the start of their code."""
    names = (Lot.id, Lot.code, Lot.state, Lot.left, Lot.tub_id, Plant.id, Plant.scientific_name)
    rows = session.execute(
        select(*names, Plant.trade_names)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.state.in_(states), Lot.code.startswith(code, autoescape=True))
        .order_by(Lot.received_at.desc(), Lot.id.desc())
        .limit(CHOICES)
    )
    return [_choice(row) for row in rows]


def lots_in_tubs(session: Session, tub_ids: Collection[str]) -> dict[str, list[dict[str, Any]]]:
    """What stands in each of these tubs."""
    names = (Lot.id, Lot.code, Lot.state, Lot.left, Lot.tub_id, Plant.id, Plant.scientific_name)
    rows = session.execute(
        select(*names, Plant.trade_names)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.tub_id.in_(tub_ids))
        .order_by(Lot.code)
    )
    found: dict[str, list[dict[str, Any]]] = {tub_id: [] for tub_id in tub_ids}
    for row in rows:
        found[row.tub_id].append(_choice(row))
    return found


def lots_by_ids(session: Session, lot_ids: Collection[str]) -> dict[str, dict[str, Any]]:
    """Lots as pages list them, with what holds them; two statements however many they are."""
    names = (Lot.id, Lot.code, Lot.state, Lot.left, Lot.tub_id, Plant.id, Plant.scientific_name)
    rows = session.execute(
        select(*names, Plant.trade_names, Lot.unit_of_sale)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.id.in_(lot_ids))
    ).all()
    found = {row.id: {**_choice(row[:-1]), "unit_of_sale": row.unit_of_sale} for row in rows}
    held = select(Hold.lot_id, Hold.cause).where(Hold.lot_id.in_(lot_ids), Hold.lifted_at.is_(None))
    for lot_id, cause in session.execute(held):
        found[lot_id]["holds"].append({"cause": cause})
    return found


def _choice(row: Any) -> dict[str, Any]:
    id_, code, state, left, tub_id, plant_id, scientific_name, trade_names = row
    plant = {"id": plant_id, "scientific_name": scientific_name, "trade_name": next(iter(trade_names), None)}
    return {
        "id": id_,
        "code": code,
        "state": state,
        "quantity": {"left": left},
        "tub_id": tub_id,
        "plant": plant,
        "holds": [],
    }


def actors(session: Session) -> dict[str, str]:
    """Who acts, by id: people and tokens by their names."""
    tokens = {row.id: row.name for row in session.execute(select(Token.id, Token.name))}
    return {**tokens, **names_of(session)}


def _growth(known: Evidence, started: datetime, end: datetime, now: datetime) -> Iterator[Growth]:
    """Each pest's eggs, as far as the log goes by what was read and from then on as expected."""
    factor, log = known.wait.factor, known.log
    for pest in known.wait.awaited:
        half = known.wait.half_credit
        read = curve(log.readings, started, now, pest.development, half_credit=half)
        needed = factor * pest.development.thermal_constant_dd
        points = [(at, read.at(at) / needed) for at in _moments(started, min(now, end))]
        first, last = (
            latest_reached_at(
                log.readings,
                started,
                times,
                pest.development,
                half_credit=half,
                forecast_c=log.forecast_c,
                forecast_from=now,
            )
            for times in (1.0, factor)
        )
        if last is not None and last > now:
            points.append((last, 1.0))
        yield Growth(pest.pest, points, first, last)


def _moments(start: datetime, end: datetime) -> list[datetime]:
    return [start + (end - start) * n / POINTS for n in range(POINTS + 1)]


def _seen(session: Session, known: Evidence, start: datetime) -> list[Seen]:
    found = [
        Seen(look.at, "clean", str(word(look.method, "methods")))
        if look.clean
        else Seen(look.at, "find", _finds(look.findings))
        for look in known.looks
    ]
    for stay in known.stays:
        rows = session.scalars(
            select(WaterChange.at).where(
                WaterChange.tub_id == stay.tub_id, WaterChange.at >= max(stay.entered_at, start)
            )
        )
        found += [
            Seen(at, "water", gettext("water change"))
            for at in rows
            if not stay.left_at or at <= stay.left_at
        ]
    return sorted(found, key=lambda one: one.at)


def _finds(findings: Sequence[Any]) -> str:
    return ", ".join(
        f"{find.live} {word(find.pest, 'pests')} ({word(find.stage, 'stages')})"
        for find in findings
        if find.live
    )


def _advice(known: Evidence, now: datetime) -> Advice | None:
    """The warmest usual water that brings the release at least a day nearer."""
    release, expected = known.projection.release_at, known.log.forecast_c
    if release is None or release <= now or expected is None:
        return None
    best: Advice | None = None
    for celsius in WARMER_C:
        if celsius <= expected + 0.5:
            continue
        warmer = replace(known.log, forecast_c=celsius)
        found = project(
            known.clock,
            known.wait,
            warmer,
            known.counted,
            repacked_at=known.lot.repacked_at,
            now=now,
            nights=known.nights,
        )
        if found.release_at is not None and release - found.release_at >= WORTH:
            sooner = release - found.release_at
            best = best if best and best.sooner >= sooner else Advice(celsius, sooner)
    return best
