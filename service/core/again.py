"""A request is done anew, unseen by whoever sent it, when all that was wrong was the moment.

That is so when PostgreSQL gave an act up for another's sake (serialization failure, deadlock), or when a
connection was found cut: the act is one transaction, so nothing of it is left, and the whole request runs
again, from its caller to its commit. Never after an outside effect, and never for as long as somebody would
press again himself.
"""

import random
import time

import structlog
from flask import Flask, Response, g, request
from sqlalchemy.exc import DBAPIError

from service.core import probes
from service.core.db import passing
from service.core.http import SHARED

TRIES = 20
PATIENCE_S = 10.0
PAUSES_S = (0.02, 1.0)  # the first one at most, and any; by chance, or two in each other's way stay so
log = structlog.get_logger()


class Application(Flask):
    """Flask, which tries a request again where `want` asked for it."""

    def full_dispatch_request(self) -> Response:
        """Answer a request, from its first hook to its last; for each try with a fresh `g`."""
        until = time.monotonic() + PATIENCE_S
        for left in reversed(range(TRIES)):
            g.tries_left = left if time.monotonic() < until else 0
            response = super().full_dispatch_request()
            if "again" not in g:
                break
            log.info("tried again", cause=g.again, left=left)
            probes.count_again(g.again)
            self.do_teardown_request()
            _forget()
            time.sleep(_pause(TRIES - left))
        return response


def want(error: DBAPIError) -> bool:
    """Ask for another try of this request because of what the database said; whether there will be one."""
    cause = passing(error)
    # A session that is the page's can only be had anew by the page.
    if cause is None or not g.get("tries_left") or "acted" in g or SHARED in request.environ:
        return False
    g.again = cause
    return True


def acted() -> None:
    """Say that this request has done what another try would do twice."""
    g.acted = True


def _forget() -> None:
    for name in list(g):
        if name != "started":  # how long it took is how long somebody waited
            g.pop(name)


def _pause(tried: int) -> float:
    shortest, longest = PAUSES_S
    return random.uniform(0, min(longest, shortest * 2**tried))  # noqa: S311  # nothing to guess
