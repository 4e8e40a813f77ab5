"""Why something is not allowed: a plain value that rules return, answers carry and screens show."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """One reason against an act: a stable `code`, a sentence, and what was needed and found."""

    code: str
    detail: str
    needed: str | int | float | None = None
    have: str | int | float | None = None
    pointer: str | None = None
