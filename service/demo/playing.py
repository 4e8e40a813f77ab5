"""`dipledger demo`: six weeks of an invented nursery, played through the interface."""

import time

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from service.demo import ending
from service.demo.bench import Bench
from service.demo.client import Client
from service.demo.house import PASSWORD, PEOPLE, started
from service.demo.story import acts


@click.command()
@click.option("--once", is_flag=True, help="End after the last line instead of staying up.")
@click.option("--port", default=8000, show_default=True, help="Where its service listens.")
def demo(once: bool, port: int) -> None:  # noqa: FBT001  # click passes options by name
    """Play six weeks of an invented nursery, and leave its console open to look at.

    Use it to see what all this is before you make a house of your own. It makes its own house anew in
    var/demo, and touches no other.

    \b
    Example: dipledger demo --port 8010
    Exit codes: 0 played, 1 its service did not start.
    """
    out = Console()
    out.print("Starting the service in var/demo ...")
    with started(port) as clients:
        bench = Bench(clients)
        _play(bench, out)
        ending.decide(bench, out)
        ending.sell(bench, out)
        _let_the_worker_finish(clients["seller"])
        out.print(ending.board(bench), ending.stock(bench))
        _stay(clients, out, once=once)


def _play(bench: Bench, out: Console) -> None:
    story = acts(bench)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=out) as progress:
        task = progress.add_task("six weeks", total=len(story))
        for day, told, act in story:
            act()
            if told:
                progress.console.print(f"day {day:5.1f}  {told}", markup=False)
            progress.advance(task)


def _let_the_worker_finish(client: Client) -> None:
    # Release days are computed by the worker; it needs a moment after the last act.
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        waiting = [lot for lot in client.get("/lots?limit=200")["items"] if lot["release_day_stale"]]
        if not any(lot["state"] == "in_quarantine" for lot in waiting):
            return
        time.sleep(0.5)


def _stay(clients: dict[str, Client], out: Console, *, once: bool) -> None:
    address = clients["owner"].address
    if once:
        out.print("Done.")
        return
    out.print(f"The console: {address}/ (sign in as {' or '.join(PEOPLE)}, password: {PASSWORD})")
    out.print(f"The interface: {address}/docs, tokens in var/demo/tokens.txt. Ctrl+C ends it.")
    try:
        while True:
            time.sleep(1)
    except KeyboardInterrupt:
        out.print("Stopping.")
