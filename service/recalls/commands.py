"""`dipledger erase`: forgetting a customer."""

from dataclasses import asdict

import click

from service.core.clock import utc_now
from service.core.command_line import Opened, answer, as_json_option, told
from service.journal.acts import Act
from service.recalls.erasing import erase, wipe


def erase_command(opened: Opened) -> click.Command:
    """The command; `opened` is called when it runs."""

    @click.command("erase")
    @click.argument("customer_ref")
    @as_json_option
    def run(customer_ref: str, as_json: bool) -> None:
        """Erase what the house knows of the customer with this reference.

        Use it when a customer asks to be forgotten, or his data was kept long enough. His reference leaves
        dispatches and reservations, and what he said leaves complaints and notices; what was sold of which
        lot stays, and so does the journal, which never named him. Refused while plants are promised to him, a
        complaint waits for its verdict, or an open recall has to tell him. Not reached are backups, archives
        and the shop's own books (docs/operations.md).

        \b
        Example: dipledger erase "customer 17"
        Exit codes: 0 erased, 1 nothing was changed.
        """
        now = utc_now()
        with opened() as database:
            with told(), database.writing() as session:
                done = erase(session, Act("command line", now, now), customer_ref)
            wipe(database)
        text = (
            f"Erased from {done.dispatches} dispatches, {done.reservations} reservations, {done.complaints} "
            f"complaints and {done.notices} notices."
        )
        if done.left_in_journal:
            text += (
                f" {done.left_in_journal} entries of the journal have the reference in words typed by hand."
            )
        answer(asdict(done), text, as_json=as_json)

    return run
