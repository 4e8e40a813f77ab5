"""People who sign in: which passwords will do, and how long to wait after failures."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from service.core.reasons import Reason

LEAST_LENGTH, LONGEST_LENGTH = 12, 256
LEAST_SIGNS = 5  # different ones; fewer is a pattern, not a password
# OWASP ASVS 5.0, 6.2: refuse what the context gives away. The rest of the list is from memory.
GUESSED = (
    "dipledger",
    "password",
    "passwort",
    "nursery",
    "aquarium",
    "letmein",
    "qwerty",
    "123456",
    "abcdef",
)
FREE_FAILURES = 5
WINDOW = timedelta(minutes=15)
LONGEST_WAIT = timedelta(minutes=60)
ADDRESS_FAILURES = 20
IDLE = timedelta(hours=12)  # a tablet at the bench stays signed in for a working day
ABSOLUTE = timedelta(days=7)
KEPT = timedelta(days=1)  # failures older than this say nothing any more
TOTP_STEP_S = 30  # RFC 6238, section 5.2


def password_reasons(password: str, name: str) -> list[Reason]:
    """Why a password will not do; empty when it will. No rule about kinds of signs (ASVS 5.0, 6.2.5)."""
    if len(password) < LEAST_LENGTH:
        return [_weak(f"Use {LEAST_LENGTH} signs or more; four or five words do well.")]
    if len(password) > LONGEST_LENGTH:
        return [_weak(f"Use {LONGEST_LENGTH} signs at most.")]
    if len(set(password)) < LEAST_SIGNS:
        return [_weak("It repeats the same few signs.")]
    rest = password.casefold()
    for word in sorted({name.casefold(), *GUESSED} - {""}, key=len, reverse=True):
        rest = rest.replace(word, "")
    if len(rest) < LEAST_LENGTH // 2:
        return [_weak("It is mostly a name or a word that everybody tries first.")]
    return []


def wait_until(failures: Sequence[datetime], now: datetime) -> datetime | None:
    """Until when no sign-in of this name is looked at, None when it is looked at now.

    Five failures within 15 minutes are free; each further one doubles the wait from one minute up to an
    hour, counted from the last. Nobody is locked out for good: that would let a stranger lock out the owner.
    """
    recent = sorted(at for at in failures if at > now - KEPT)
    run = _last_run(recent)
    if run < FREE_FAILURES:
        return None
    waits = min(LONGEST_WAIT, timedelta(minutes=2 ** (run - FREE_FAILURES)))
    until = recent[-1] + waits
    return until if until > now else None


def address_wait_until(failures: Sequence[datetime], now: datetime) -> datetime | None:
    """The same for one network address, whoever it asks for: 20 failures in 15 minutes are too many."""
    recent = sorted(at for at in failures if at > now - WINDOW)
    if len(recent) < ADDRESS_FAILURES:
        return None
    return recent[-ADDRESS_FAILURES] + WINDOW


def lives(created_at: datetime, seen_at: datetime, now: datetime) -> bool:
    """True while a signed-in session may still be used."""
    return now - seen_at < IDLE and now - created_at < ABSOLUTE


def totp_step(moment: datetime) -> int:
    """The time step of a one-time password (RFC 6238)."""
    return int(moment.timestamp()) // TOTP_STEP_S


def _last_run(recent: Sequence[datetime]) -> int:
    """How many of the last failures belong together: no pause longer than the longest wait and a window."""
    run = 0
    for place in range(len(recent) - 1, -1, -1):
        if run and recent[place + 1] - recent[place] > LONGEST_WAIT + WINDOW:
            break
        run += 1
    return run


def _weak(detail: str) -> Reason:
    return Reason("weak-password", detail, pointer="#/password")
