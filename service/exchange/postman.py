"""The postman: owes webhooks their events, takes turns at endpoints, sends, never in a transaction."""

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

import orjson

from service.core.db import Database
from service.exchange import deliveries
from service.exchange.deliveries import Parcel, Turn
from service.exchange.rules import envelope
from service.exchange.sending import Outcome, send
from service.exchange.signing import signed

AT_ONCE = 6  # endpoints; a slow one does not keep the others waiting
TURN_S = 20.0  # then another endpoint has its turn; with one more attempt still shorter than the lease
MOST = 50  # parcels read at once
Clock = Callable[[], datetime]


def go_round(database: Database, now: Clock) -> int:
    """Owe what the journal has got, then give every endpoint with something due its turn; how many were sent.

    May run in several workers at once: a lease makes one of them the postman of an endpoint.
    """
    with database.reading() as session:
        if not deliveries.anything_to_do(session, now()):
            return 0
    more = True
    while more:
        with database.writing() as session:
            more = deliveries.owe_events(session, now())
    sent, until = 0, time.monotonic() + TURN_S
    while time.monotonic() < until and (turns := _turns(database, now)):
        with ThreadPoolExecutor(len(turns)) as pool:
            sent += sum(pool.map(lambda turn: _carry(database, turn, now), turns))
    return sent


def _turns(database: Database, now: Clock) -> list[Turn]:
    turns: list[Turn] = []
    with database.writing() as session:
        while len(turns) < AT_ONCE and (turn := deliveries.take_turn(session, now())) is not None:
            turns.append(turn)
    return turns


def _carry(database: Database, turn: Turn, now: Clock) -> int:
    until, sent = time.monotonic() + TURN_S, 0
    try:
        while True:
            with database.reading() as session:
                due = deliveries.parcels(session, turn, now(), MOST)
            for parcel in due:
                if time.monotonic() >= until:
                    return sent
                outcome = _send(turn, parcel, now())
                sent += 1
                with database.writing() as session:
                    if not deliveries.settle(session, turn, parcel, outcome, now()):
                        return sent
            if not due:
                return sent
    finally:
        with database.writing() as session:
            deliveries.end_turn(session, turn)


def _send(turn: Turn, parcel: Parcel, at: datetime) -> Outcome:
    body = orjson.dumps(envelope(parcel.event, turn.post.source))
    return send(turn.url, signed(turn.secrets, parcel.event.id, at, body), body, turn.post.line)
