"""Plants that a law lists: who may not trade or keep what, and where."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from service.reference.words import Sourced


@dataclass(frozen=True, kw_only=True)
class Restriction(Sourced):
    """One taxon on one list. `jurisdiction` is `EU`, an ISO 3166-1 country or an ISO 3166-2 part of one;
    `date` is when it was listed, as far as known (year or day), `list` the list's name.
    """

    scientific_name: str
    synonyms: tuple[str, ...] = ()
    jurisdiction: str
    list: str
    date: str | None = None

    def covers(self, name: str) -> bool:
        """Whether a plant of this scientific name is the listed taxon or one below it.

        Case and the hybrid mark do not matter; a listed species covers its varieties and forms.
        """
        asked = f"{_bare(name)} "
        return any(asked.startswith(f"{_bare(listed)} ") for listed in (self.scientific_name, *self.synonyms))


def restrictions_of(names: Iterable[str], restrictions: Iterable[Restriction]) -> tuple[Restriction, ...]:
    """The listings of a plant that is known by these names (accepted name and synonyms)."""
    known = tuple(names)
    return tuple(listed for listed in restrictions if any(listed.covers(name) for name in known))


def _bare(name: str) -> str:
    without_mark = re.sub(r"×|(?<=\s)x(?=\s)|^x(?=\s)", " ", name.casefold())
    return " ".join(without_mark.split())
