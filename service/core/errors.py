"""The refusals that actions and queries raise; `core.problems` turns them into answers."""

from collections.abc import Sequence

from service.core.reasons import Reason


class Problem(Exception):
    """Base of every refusal; `code` names the problem type, the message is its detail."""

    def __init__(self, code: str, detail: str, reasons: Sequence[Reason] = ()) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.reasons = tuple(reasons)


class NotFound(Problem):
    """There is no such thing (404)."""

    def __init__(self, what: str) -> None:
        super().__init__("not-found", f"There is no such {what}.")


class Invalid(Problem):
    """The body is well formed but a value in it cannot be right (422); reasons carry pointers."""

    @classmethod
    def at(cls, pointer: str, detail: str, code: str = "validation") -> "Invalid":
        """One wrong value at a JSON Pointer (URI fragment form, '#/lines/0/quantity')."""
        return cls(code, detail, [Reason(code, detail, pointer=pointer)])


class Refused(Problem):
    """The state of things forbids it (409); says what state, why, and what is allowed instead."""

    def __init__(
        self,
        code: str,
        detail: str,
        reasons: Sequence[Reason] = (),
        *,
        current_state: str | None = None,
        allowed: Sequence[str] = (),
    ) -> None:
        super().__init__(code, detail, reasons or [Reason(code, detail)])
        self.current_state = current_state
        self.allowed = tuple(allowed)

    @classmethod
    def unless_empty(cls, code: str, reasons: Sequence[Reason], **state: str | Sequence[str]) -> None:
        """Raise when `reasons` is not empty; the first reason becomes the detail."""
        if reasons:
            detail = " ".join(reason.detail for reason in reasons)
            raise cls(code, detail, reasons, **state)  # type: ignore[arg-type]  # keyword names are checked by __init__


class Forbidden(Problem):
    """This caller may not do that (403)."""

    def __init__(self, detail: str) -> None:
        super().__init__("forbidden", detail)


class PreconditionFailed(Problem):
    """The caller acted on an older version than the present one (412)."""

    def __init__(self, detail: str) -> None:
        super().__init__("precondition-failed", detail)


class PreconditionRequired(Problem):
    """The caller did not say which version he acts on (428)."""

    def __init__(self) -> None:
        super().__init__(
            "precondition-required", "Send If-Match with the ETag of the version that you have seen."
        )
