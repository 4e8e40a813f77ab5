"""The states, stops and quantities of a lot, case by case (the table of states of the design)."""

import pytest

from service.lots.rules import (
    ENDED,
    TRANSITIONS,
    Repacking,
    RepackKind,
    State,
    allowed_moves,
    available,
    child_code,
    ended_reasons,
    lock_reasons,
    move_reasons,
    put_back_reasons,
    rejection_reasons,
    repack_count_reasons,
    repack_reasons,
    stop_reasons,
    take_reasons,
    transition_reasons,
    treated_reasons,
)

R, T, Q, C = State.RECEIVED, State.IN_TREATMENT, State.IN_QUARANTINE, State.CLEARED


def codes(reasons: list[object]) -> list[str]:
    return [reason.code for reason in reasons]  # type: ignore[attr-defined]  # any reason


def test_every_state_says_where_it_leads() -> None:
    assert set(TRANSITIONS) == set(State)
    assert {state for state, ways in TRANSITIONS.items() if not ways} == ENDED


@pytest.mark.parametrize(
    ("state", "to", "allowed"),
    [
        (R, T, True),
        (R, Q, True),
        (R, C, False),
        (T, Q, True),
        (T, R, True),
        (T, C, False),
        (Q, T, True),
        (Q, C, True),
        (Q, R, False),
        (C, Q, True),
        (C, T, False),
        (C, R, False),
        *((state, ended, True) for state in (R, T, Q, C) for ended in sorted(ENDED)),
        *((ended, state, False) for state in State for ended in sorted(ENDED)),
    ],
)
def test_the_transitions_are_those_of_the_design(*, state: State, to: State, allowed: bool) -> None:
    assert (transition_reasons(state, to) == []) is allowed


def test_a_person_may_do_everything_but_close() -> None:
    assert allowed_moves(R) == ["in_quarantine", "in_treatment", "rejected"]
    assert allowed_moves(State.CLOSED) == []


@pytest.mark.parametrize(
    ("state", "to", "code", "needed"),
    [
        (R, "received", None, None),
        (Q, "in_quarantine", None, None),
        (C, "cleared", None, None),
        (C, "in_quarantine", None, None),
        (Q, "in_treatment", "use-another-address", "POST /treatments"),
        (Q, "cleared", "use-another-address", "POST /lots/{id}/clearance"),
        (C, "rejected", "use-another-address", "POST /lots/{id}/rejection"),
        (R, "held", "use-another-address", "POST /lots/{id}/holds"),
        (R, "in_quarantine", "use-another-address", "POST /treatments/{id}/finish"),
        (T, "received", "use-another-address", "POST /treatments/{id}/abandon"),
        (T, "in_treatment", "lot-in-treatment", None),
        (Q, "closed", "closed-by-the-service", None),
        (State.CLOSED, "closed", "lot-ended", None),
        (State.REJECTED, "in_quarantine", "lot-ended", None),
    ],
)
def test_a_move_names_the_address_that_does_it(
    state: State, to: str, code: str | None, needed: str | None
) -> None:
    reasons = move_reasons(state, to)
    assert codes([*reasons]) == ([code] if code else [])
    if reasons:
        assert reasons[0].needed == needed


def test_only_living_lots_outside_treatment_are_free() -> None:
    assert [s for s in State if ended_reasons(s)] == [State.CLOSED, State.REJECTED]
    assert [s for s in State if treated_reasons(s)] == [T]


def test_holds_and_the_regulated_lock_are_each_named() -> None:
    assert stop_reasons([], regulated_lock=False) == []
    assert codes([*stop_reasons(["doubt", "papers"], regulated_lock=True)]) == [
        "held",
        "held",
        "regulated-lock",
    ]
    assert lock_reasons(regulated_lock=False) == []


@pytest.mark.parametrize(("quantity", "fits"), [(1, True), (6, True), (7, False)])
def test_what_is_reserved_cannot_be_taken(*, quantity: int, fits: bool) -> None:
    assert available(10, 4) == 6
    reasons = take_reasons(quantity, left=10, reserved=4)
    assert (reasons == []) is fits
    assert all((reason.needed, reason.have) == (quantity, 6) for reason in reasons)


def test_no_more_comes_back_than_was_sold() -> None:
    assert put_back_reasons(3, 3) == []
    assert codes([*put_back_reasons(4, 3)]) == ["more-than-sold"]


def test_a_rejection_is_of_everything() -> None:
    assert rejection_reasons(5, 5) == []
    assert codes([*rejection_reasons(4, 5)]) == ["not-all-that-is-left"]


@pytest.mark.parametrize(
    ("kind", "state", "before", "after", "code"),
    [
        (RepackKind.RECOUNT, R, 40, 38, None),
        (RepackKind.RECOUNT, T, 40, 38, None),
        (RepackKind.RECOUNT, C, 40, 38, None),
        (RepackKind.RECOUNT, C, 40, 41, "lot-cleared"),
        (RepackKind.RECOUNT, T, 40, 41, "lot-in-treatment"),
        (RepackKind.RECOUNT, State.CLOSED, 1, 0, "lot-ended"),
        (RepackKind.DIVIDE, Q, 10, 30, None),
        (RepackKind.DIVIDE, C, 10, 30, "lot-cleared"),
        (RepackKind.DIVIDE, T, 10, 30, "lot-in-treatment"),
        (RepackKind.TRIM, State.REJECTED, 1, 1, "lot-ended"),
    ],
)
def test_units_nobody_looked_at_never_go_on_sale(
    kind: RepackKind, state: State, before: int, after: int, code: str | None
) -> None:
    assert codes([*repack_reasons(Repacking(kind, before, after), state)]) == ([code] if code else [])


def test_sealed_cups_are_opened_before_they_are_repacked() -> None:
    assert codes([*repack_reasons(Repacking(RepackKind.DEPOT, 4, 4), Q, sealed=True)]) == ["sealed-cups"]
    assert codes([*repack_reasons(Repacking(RepackKind.RECOUNT, 4, 3), Q, sealed=True)]) == []


@pytest.mark.parametrize(
    ("before", "after", "unit_changes", "reserved", "code"),
    [
        (10, 30, False, 0, None),
        (4, 12, False, 3, None),
        (11, 30, False, 0, "not-enough-left"),
        (4, 12, True, 0, "not-all-that-is-left"),
        (10, 60, True, 0, None),
        (10, 60, True, 1, "reserved"),
        (10, 2, False, 3, "reserved"),
        (10, 3, False, 3, None),
    ],
)
def test_a_repacking_fits_what_is_left(
    *, before: int, after: int, unit_changes: bool, reserved: int, code: str | None
) -> None:
    asked = Repacking(RepackKind.DIVIDE, before, after, unit_changes=unit_changes)
    reasons = repack_count_reasons(asked, left=10, reserved=reserved)
    assert codes([*reasons]) == ([code] if code else [])


def test_children_are_numbered_after_their_parent() -> None:
    assert child_code("26-031-02", 0) == "26-031-02-1"
    assert child_code("26-031-02-1", 1) == "26-031-02-1-2"
