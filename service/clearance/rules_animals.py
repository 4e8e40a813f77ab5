"""Whether shrimp or water fleas live in water that plants soaked in: what shows that nothing clings to them.

Five shrimp or ten water fleas alive after 72 hours are common practice, no source (figures of the policy).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.core.reasons import Reason

NOT_TESTED = "Not tested for shrimp: the water was not tried on shrimp or water fleas."


class Animal(StrEnum):
    """What is put into the water."""

    SHRIMP = "shrimp"
    WATER_FLEA = "water_flea"


NAMES = {Animal.SHRIMP: "shrimp", Animal.WATER_FLEA: "water fleas"}


@dataclass(frozen=True)
class AnimalTest:
    """So many animals were put into soak water of the plants, and so many of them lived to the end."""

    animal: str
    animals: int
    alive: int
    started_at: datetime
    ended_at: datetime

    @property
    def hours(self) -> float:
        """How long they were in it."""
        return (self.ended_at - self.started_at).total_seconds() / 3600

    @property
    def in_words(self) -> str:
        """What happened."""
        name = NAMES[Animal(self.animal)]
        return f"{self.alive} of {self.animals} {name} were alive after {self.hours:.0f} hours"


@dataclass(frozen=True)
class Asked:
    """How many animals for how long a policy asks for."""

    shrimp: int = 5
    water_fleas: int = 10
    alive_h: float = 72

    def least(self, animal: str) -> int:
        """The number of animals of this kind."""
        return self.shrimp if animal == Animal.SHRIMP else self.water_fleas


def form_reasons(test: AnimalTest) -> list[Reason]:
    """What is wrong with a test as it was entered."""
    reasons = []
    if test.alive > test.animals:
        detail = f"Only {test.animals} were put in."
        reasons.append(Reason("more-than-there-is", detail, test.animals, test.alive, "#/alive"))
    if test.started_at >= test.ended_at:
        reasons.append(Reason("validation", "It began before it ended.", pointer="#/started_at"))
    return reasons


def counting(tests: Sequence[AnimalTest], since: datetime, at: datetime) -> AnimalTest | None:
    """The newest test that ended by a moment and began after whatever may cling was last poured."""
    found = [test for test in tests if test.started_at >= since and test.ended_at <= at]
    return max(found, key=lambda test: test.ended_at, default=None)


def died_in(test: AnimalTest | None) -> str | None:
    """What a test says against the plants, None when it says nothing."""
    if test is None or test.alive == test.animals:
        return None
    return f"{test.in_words} in water that the plants had soaked in."


def is_passed(test: AnimalTest, asked: Asked) -> bool:
    """Whether enough animals lived long enough, all of them."""
    enough = test.animals >= asked.least(test.animal) and test.hours >= asked.alive_h
    return enough and test.alive == test.animals


def told(test: AnimalTest | None, asked: Asked) -> str:
    """What the statement says: what was tested, or that it was not."""
    if test is None:
        return NOT_TESTED
    if is_passed(test, asked):
        day = f"{test.ended_at:%Y-%m-%d}"
        return f"Tested for shrimp: {test.in_words} in water that the plants had soaked in ({day})."
    if test.alive < test.animals:
        return f"Tested for shrimp, and not passed: {test.in_words}."
    least = f"{asked.least(test.animal)} for {asked.alive_h:.0f} hours"
    return (
        f"Not tested for shrimp long enough or with enough of them: {test.in_words}; asked for are {least}."
    )
