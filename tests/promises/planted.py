"""Bugs as somebody could write them, each with the test that has to notice it."""

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Bug:
    """In a file of the service `was` becomes `becomes`; `caught_by` (of tests/) has to fail."""

    file: str
    was: str
    becomes: str
    caught_by: str

    def planted(self, tree: Path) -> str:
        """Write the file with the bug into a copy of the tree; gives what stood there."""
        file = tree / self.file
        right = file.read_text("utf-8")
        file.write_text(right.replace(self.was, self.becomes), "utf-8")
        return right


HABITS, DOOR = "core/test_habits.py", "console/test_door.py"
RELEASE, LOOKS = "quarantine/test_rules_release.py", "quarantine/test_rules_looks.py"
ALTERED = "promises/test_r15_kept_heads.py::test_a_head_is_taken_for_what_was_signed_and_nothing_else"
SOLD = "sales/test_rules.py::test_only_cleared_unheld_certified_lots_are_sold"
PEOPLE = "accounts/test_rules_people.py"
CHUNKS = "backups/test_chunks.py"
CLOCK = "quarantine/test_rules.py"
SHELF = "stores/test_whatever_happens.py::test_no_batch_is_ever_negative_or_unbalanced"
BUGS = (
    Bug(
        "service/clearance/rules_decision.py",
        "return [gate for gate in gates if not gate.ok and gate.code not in overridden]",
        "return []",
        "clearance/test_rules_decision.py::test_overrides_open_what_is_shut_but_never_the_lock",
    ),
    Bug(
        "service/clearance/rules_decision.py",
        "if not same_person:",
        "if same_person:",
        "clearance/test_rules_decision.py::test_who_proposed_does_not_confirm",
    ),
    Bug(
        "service/clearance/rules_status.py",
        "min(expires_at, max(looks) + again_after)",
        "max(expires_at, max(looks) + again_after)",
        "clearance/test_rules_status.py::test_a_lot_is_good_until_the_first_of_certificate_and_last_look",
    ),
    Bug(
        "service/clearance/rules_status.py",
        "if good_until <= now:",
        "if good_until < now:",
        "clearance/test_rules_status.py::test_the_status_of_a_certificate_is_that_of_the_day",
    ),
    Bug(
        "service/clearance/rules_checking.py",
        "ip_network((found, 64), strict=False)",
        "ip_network((found, 128), strict=False)",
        "clearance/test_rules_checking.py::test_a_place_is_an_address_or_the_part_that_a_user_cannot_choose",
    ),
    Bug(
        "service/quarantine/rules_release.py",
        "[look for look in counted if look >= started]",
        "list(counted)",
        f"{RELEASE}::test_looks_before_the_clock_started_do_not_count",
    ),
    Bug(
        "service/quarantine/rules_release.py",
        "max(hatched, visible, floor)",
        "max(hatched, visible)",
        f"{RELEASE}::test_the_floor_in_days_holds_whatever_the_temperature",
    ),
    Bug(
        "service/quarantine/rules_looks.py",
        "sample >= units_needed(lot_size, plan)",
        "sample > 0",
        f"{LOOKS}::test_a_look_counts_when_it_takes_in_enough",
    ),
    Bug("service/sales/rules.py", 'if state != "cleared":', 'if state == "rejected":', SOLD),
    Bug(
        "service/sales/rules.py",
        "elif good is None or good.expires_at <= at:",
        "elif good is None:",
        SOLD,
    ),
    Bug(
        "service/sales/rules_reservations.py",
        "part = min(quantity, offer.free)",
        "part = quantity",
        "sales/test_rules_reservations.py::test_no_lot_gives_more_than_it_has_and_none_is_passed_over",
    ),
    Bug(
        "service/recalls/rules.py",
        "        if customer.told_at is None\n",
        "        if customer.told_at\n",
        "recalls/test_rules.py::test_every_look_and_notice_owed_is_named",
    ),
    Bug(
        "service/recalls/rules_erasing.py",
        "return without(value, reference, texts)",
        "return value",
        "recalls/test_rules_erasing.py::test_only_what_is_his_is_taken_out",
    ),
    Bug(
        "service/exchange/rules_address.py",
        "return all(\n",
        "return any(\n",
        "exchange/test_sending.py::test_one_private_address_among_public_ones_is_enough_to_refuse",
    ),
    Bug(
        "service/exchange/rules_address.py",
        "return address.is_global and not address.is_multicast and not special",
        "return not address.is_private",
        "exchange/test_rules_address.py::test_an_address_that_is_not_of_the_public_network",
    ),
    Bug(
        "service/accounts/rules_people.py",
        "return now - seen_at < IDLE and now - created_at < ABSOLUTE",
        "return now - seen_at < IDLE",
        f"{PEOPLE}::test_a_session_ends_when_idle_and_after_a_week",
    ),
    Bug(
        "service/accounts/rules_people.py",
        "if run < FREE_FAILURES:",
        "if run < 10 * FREE_FAILURES:",
        f"{PEOPLE}::test_each_further_failure_doubles_the_wait_up_to_an_hour",
    ),
    Bug(
        "service/journal/rules.py",
        "if now - at > PROMPT and not late_reason:",
        "if now - at > PROMPT and late_reason:",
        "journal/test_chain.py::test_when_something_may_be_entered",
    ),
    Bug(
        "worker/owed.py",
        "local_day(last - NIGHT, zone) < local_day(now - NIGHT, zone)",
        "local_day(last - NIGHT, zone) != local_day(now - NIGHT, zone)",
        "promises/test_r13_once_a_day.py::test_the_night_is_owed_once_for_each_day_on_which_something_ran",
    ),
    Bug(
        "service/core/durability.py",
        'frozenset({"2", "3"})',
        'frozenset({"1", "2", "3"})',
        "promises/test_r2_safe_databases.py::test_what_does_not_is_named_with_what_it_must_be",
    ),
    Bug(
        "service/core/bodies.py",
        "if len(members) != len(pairs):",
        "if not members:",
        f"{HABITS}::test_a_body_that_is_not_strict_json_is_refused",
    ),
    Bug(
        "service/core/idempotency.py",
        "if earlier.fingerprint != fingerprint:",
        "if not earlier.fingerprint:",
        f"{HABITS}::test_the_same_key_with_another_body_is_refused",
    ),
    Bug(
        "service/core/requests.py",
        'if found.role not in getattr(_view(), "roles", frozenset()):',
        "if not found.role:",
        f"{HABITS}::test_a_role_that_may_not_is_refused_before_its_body_is_read",
    ),
    Bug(
        "service/core/jobs.py",
        "OwedJob.lease_until <= now",
        "OwedJob.lease_until > now",
        "worker/test_owed.py::test_the_work_of_a_dead_worker_is_given_back_when_its_lease_runs_out",
    ),
    Bug("service/reports/heads.py", "and held == said else None", "else None", ALTERED),
    Bug(
        "service/core/lane.py",
        '        cursor.execute("BEGIN IMMEDIATE")',
        '        cursor.execute("BEGIN")',
        "promises/test_r5_no_oversell.py::test_as_many_units_are_sold_as_there_are",
    ),
    Bug("service/backups/chunks.py", "bytes([last])", "bytes(1)", f"{CHUNKS}::test_any_cut_is_noticed"),
    Bug(
        "service/backups/chunks.py",
        'number.to_bytes(11, "big")',
        "bytes(11)",
        f"{CHUNKS}::test_a_chunk_taken_out_put_twice_or_exchanged_is_noticed",
    ),
    # Six as they creep into a ledger and a clock: each is seen only by who tries long enough.
    Bug("service/stores/rules.py", "amount = min(needed, batch.balance)", "amount = needed", SHELF),
    Bug("service/stores/rules.py", "        needed -= amount\n", "        needed -= amount + 1\n", SHELF),
    Bug("service/stores/actions.py", "batch, -entry.amount, cause", "batch, entry.amount, cause", SHELF),
    Bug(
        "service/quarantine/rules.py",
        "*facts.finds, *facts.contacts]",
        "*facts.finds[:1], *facts.contacts]",
        f"{CLOCK}::test_the_clock_starts_at_the_latest_of_receipt_find_contact_and_killing_step",
    ),
    Bug(
        "service/quarantine/rules.py",
        "        if find.shared_until >= _running_since(last, facts, find.at):\n",
        "        if find.shared_until > find.at:\n",
        f"{CLOCK}::test_finds_next_door_are_judged_in_their_order",
    ),
    Bug(
        "service/quarantine/rules_looks.py",
        "look - found[-1] >= apart",
        "look > found[-1]",
        f"{LOOKS}::test_a_policy_may_ask_for_more_looks",
    ),
)
