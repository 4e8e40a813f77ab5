"""How fast one token may ask, so that a program that runs wild leaves the others their share.

Kept by each web process for itself: what is shared by processes would cost every request a trip to a server.
"""

from threading import Lock

WEIGHT = 10  # what a report or another large calculation counts as; our own choice
ROUNDING_S = 1e-9  # sums of floats: who waited exactly as told is not sent away again


def admitted(due: float, now: float, per_minute: int, weight: int) -> tuple[float, float]:
    """(until when the caller has used his share, how many seconds he has to wait; 0: let in).

    The generic cell rate algorithm in its virtual-scheduling form (ITU-T I.371, annex A): `due` (s) is when
    all that was let in so far would have come at an even pace, and a caller may be a minute ahead of it. A
    request counts as `weight`; refused ones count nothing.
    """
    then = max(due, now) + weight * 60 / per_minute
    early = then - now - 60
    return (then, 0.0) if early <= ROUNDING_S else (due, early)


class Pace:
    """Until when each caller has used his share; as many entries as there are live tokens."""

    def __init__(self) -> None:
        self._due: dict[str, float] = {}
        self._lock = Lock()

    def wait(self, caller_id: str, now: float, per_minute: int, weight: int = 1) -> float:
        """How many seconds a caller has to wait at `now` (s, of a clock that is never set back); 0: none."""
        with self._lock:
            due, wait = admitted(self._due.get(caller_id, 0.0), now, per_minute, weight)
            self._due[caller_id] = due
            return wait
