"""`dipledger check` and `dipledger rebuild`: is what is kept beside the facts what the facts give?"""

import sys
from collections.abc import Iterator
from dataclasses import asdict

import click

from service.clearance.standing import look_again
from service.core.clock import utc_now
from service.core.command_line import WRONG, Opened, answer, as_json_option, bar
from service.core.db import snapshot
from service.journal.actions import record
from service.journal.acts import Act
from service.quarantine.actions import every_key, lots_at, project_tub
from service.reports import actions
from service.reports.proofs import Proof, prove
from service.reports.queries import everything


def check_command(opened: Opened) -> click.Command:
    """`dipledger check`; `opened` is called when it runs."""

    @click.command("check")
    @as_json_option
    def check(as_json: bool) -> None:
        """Prove balances, rollup, projections and certificates.

        Use it after a backup was put back, after an upgrade, or when a figure looks odd; the worker does
        the same each night. It changes nothing. When rollup, projection or standing fail, 'dipledger
        rebuild' computes them anew; when the ledger fails, put a backup back and look for who touched the
        database.

        \b
        Example: dipledger check --json
        Exit codes: 0 all holds, 1 a proof fails.
        """
        now = utc_now()
        with opened() as database, snapshot(database) as session:
            proofs = prove(session, now)
        held = not any(proof.wrong for proof in proofs)
        document = {"held": held, "checked_at": now, "proofs": [asdict(proof) for proof in proofs]}
        answer(document, "\n".join(_lines(proofs)), as_json=as_json)
        sys.exit(0 if held else WRONG)

    return check


def rebuild_command(opened: Opened) -> click.Command:
    """`dipledger rebuild`; `opened` is called when it runs."""

    @click.command("rebuild")
    @as_json_option
    def rebuild(as_json: bool) -> None:
        """Compute the rollup of consumption, every projection, and how long lots are good, from the facts.

        Use it when 'dipledger check' says that one of them fails. People may go on working. What was counted,
        poured, seen or decided is not touched; that it was done is written into the journal.

        \b
        Example: dipledger rebuild && dipledger check
        Exit codes: 0 done.
        """
        now = utc_now()
        with opened() as database, bar(quiet=as_json) as tell:
            with database.reading() as session:
                months, keys = list(everything(session).months()), every_key(session)
            rows = 0
            for done, month in enumerate(months):  # one by one, so that nobody who writes waits long
                tell("consumption", done, len(months))
                with database.writing() as session:
                    rows += actions.rebuild(session, month)
            for done, key in enumerate(keys):
                tell("tubs", done, len(keys))
                with database.writing() as session:
                    project_tub(session, {"key": key}, now)
                with database.writing() as session:
                    look_again(session, lots_at(session, [key]), now)
            with database.writing() as session:
                record(
                    session, Act("command line", now, now), "house.rebuilt", [], after={"rollup_rows": rows}
                )
        text = f"{rows} rows of consumption and the lots of {len(keys)} tubs computed anew."
        answer({"rollup_rows": rows, "tubs": len(keys)}, text, as_json=as_json)

    return rebuild


def _lines(proofs: list[Proof]) -> Iterator[str]:
    for proof in proofs:
        figures = f"{proof.checked} checked, {len(proof.wrong)} wrong"
        yield f"{'fails' if proof.wrong else 'holds'}  {proof.name}: {figures}. {proof.says}"
        yield from (f"       wrong: {which}" for which in proof.wrong)
