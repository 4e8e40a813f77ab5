"""`dipledger journal ...`: what happened, when, by whom."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import click
from sqlalchemy.orm import Session

from service.core.command_line import Opened, Refused, answer, as_json_option
from service.journal.queries import check_chain

a_file = click.Path(exists=True, dir_okay=False, path_type=Path)
HELP = """The journal: what happened, when, by whom.

Every act is an entry in it, chained to the one before by its hash. It is never changed; a mistake is put
right by another entry.
"""


# Holds a whole chain against heads that were kept: how many there are, and what is wrong with which.
Heads = Callable[[Session, Path], tuple[int, list[str]]]


def journal_commands(opened: Opened, heads: Heads) -> click.Group:
    """The commands; `opened` and `heads` are called when one of them runs."""
    group = click.Group("journal", help=HELP)

    @group.command("check")
    @click.option("--heads", "file", type=a_file, help="Hold it against the signed heads of this file.")
    @as_json_option
    def check(file: Path | None, as_json: bool) -> None:
        """Prove that nobody altered the journal, and print its head.

        Use it after a backup was put back, before an audit, and each month. The chain shows an entry that was
        edited, taken out or put in. That all of it was written anew, or cut off at the end, only a head kept
        elsewhere shows: the house appends one each night, signed, to journal-heads.jsonl. Copy that file to
        another machine, and check against the copy.

        \b
        Examples: dipledger journal check
                  dipledger journal check --heads /safe/journal-heads.jsonl
        Exit codes: 0 intact, 1 altered.
        """
        with opened() as database, database.reading() as session:
            found = check_chain(session)
            if found.broken_at is not None:
                raise Refused(f"The chain is broken at entry {found.broken_at}.", "altered")
            held, wrong = (0, []) if file is None else heads(session, file)
        if wrong:
            raise Refused(f"{len(wrong)} of {held} heads are not borne out. {wrong[0]}", "altered")
        text = f"{found.entries} entries, intact."
        text += "" if file is None else f" {held} heads, all borne out."
        answer(
            {"intact": True, **asdict(found), "heads": held},
            f"{text} Head {found.head}",
            as_json=as_json,
        )

    return group
