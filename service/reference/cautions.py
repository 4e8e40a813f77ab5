"""Cautions: sentences that sheets, protocols and statements print."""

from dataclasses import dataclass
from typing import Literal

from service.reference.words import Sourced, Substance


@dataclass(frozen=True, kw_only=True)
class Caution(Sourced):
    """One sentence; for every substance when `substances` is empty."""

    code: str
    shown_on: tuple[Literal["sheet", "statement"], ...]
    substances: tuple[Substance, ...] = ()
    text: str
