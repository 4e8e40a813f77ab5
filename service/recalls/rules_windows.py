"""Stretches of time from one moment up to another, not included."""

from datetime import datetime

Window = tuple[datetime, datetime]


def hull(*windows: Window | None) -> Window:
    """The shortest stretch that holds all of these (None: nothing); raises ValueError when there is none."""
    found = [window for window in windows if window is not None]
    return min(since for since, _ in found), max(until for _, until in found)


def overlap(one: Window, other: Window) -> Window | None:
    """What two stretches have in common; None when nothing."""
    since, until = max(one[0], other[0]), min(one[1], other[1])
    return (since, until) if since < until else None


def rest(known: Window | None, wanted: Window) -> Window | None:
    """What `known` (None: nothing) lacks of a hull of both, as one stretch; None when it lacks nothing."""
    if known is None:
        return wanted
    earlier, later = wanted[0] < known[0], wanted[1] > known[1]
    if earlier and later:
        return wanted
    if earlier:
        return wanted[0], known[0]
    return (known[1], wanted[1]) if later else None
