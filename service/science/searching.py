"""The first whole number for which something holds that, once true, stays true."""

from collections.abc import Callable


def first_that_holds(holds: Callable[[int], bool], *, low: int, high: int) -> int:
    """The smallest number above `low` for which it holds: it does at `high`, and for all above one."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def doubled_until(holds: Callable[[int], bool], last: int) -> int:
    """The first of 1, 2, 4, ... for which it holds, at most `last`: sums stay as short as their answer."""
    number = 1
    while number < last and not holds(number):
        number *= 2
    return min(number, last)
