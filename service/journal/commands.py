"""`dipledger journal ...`: what happened, when, by whom."""

from dataclasses import asdict

import click

from service.core.command_line import Opened, Refused, answer, as_json_option
from service.journal.queries import check_chain

HELP = """The journal: what happened, when, by whom.

Every act is an entry in it, chained to the one before by its hash. It is never changed; a mistake is put
right by another entry.
"""


def journal_commands(opened: Opened) -> click.Group:
    """The commands; `opened` is called when one of them runs."""
    group = click.Group("journal", help=HELP)

    @group.command("check")
    @as_json_option
    def check(as_json: bool) -> None:
        """Prove that nobody altered the journal, and print its head.

        Use it after a backup was put back, before an audit, and each month: keep the head in another place
        (on paper, in a mail to yourself). The chain shows an entry that was edited, taken out or put in;
        only a head kept elsewhere shows that all of it was written anew, or cut off at the end.

        \b
        Example: dipledger journal check
        Exit codes: 0 intact, 1 altered.
        """
        with opened() as database, database.reading() as session:
            found = check_chain(session)
        if found.broken_at is not None:
            raise Refused(f"The chain is broken at entry {found.broken_at}.", "altered")
        text = f"{found.entries} entries, intact. Head {found.head}"
        answer({"intact": True, **asdict(found)}, text, as_json=as_json)

    return group
