"""What every command of the command line has in common: how it answers, refuses and shows that it works."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from typing import IO, Any

import click
import orjson
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from service.core.db import Database
from service.core.errors import Problem
from service.core.settings import Settings, SettingsProblem, read_settings

Opened = Callable[[], AbstractContextManager[Database]]
Found = Callable[[], Settings]
Tell = Callable[[str, int, int], None]  # what is being done, how much of it, of how much
WRONG, MISSPELT, NOT_EMPTY = 1, 2, 3
as_json_option = click.option("--json", "as_json", is_flag=True, help="One JSON document instead of lines.")


class Refused(click.ClickException):
    """A command that did nothing, with why and what to do; as JSON when the command was asked for that."""

    def __init__(self, detail: str, code: str = "refused", exit_code: int = WRONG) -> None:
        super().__init__(detail)
        self.code = code
        setattr(self, "exit_code", exit_code)  # noqa: B010  # click declares it for the whole class
        asked = click.get_current_context(silent=True)
        self.as_json = asked is not None and bool(asked.params.get("as_json"))

    def show(self, file: IO[Any] | None = None) -> None:
        """Say it: people on standard error, programs on standard output."""
        if self.as_json:
            answer({"code": self.code, "detail": self.message})
        else:
            super().show(file)


def settings_told() -> Settings:
    """The settings of the house that the environment names; raises Refused when they are none."""
    try:
        return read_settings()
    except SettingsProblem as problem:
        raise Refused(str(problem), "settings") from problem


def answer(document: Any, text: str = "", *, as_json: bool = True) -> None:
    """Say the document to programs, or the text to people."""
    click.echo(orjson.dumps(document, option=orjson.OPT_INDENT_2) if as_json else text)


@contextmanager
def told(*problems: type[Exception]) -> Iterator[None]:
    """Make a refusal of ours, or one of these problems, the one sentence that a command prints."""
    try:
        yield
    except Problem as problem:
        raise Refused(problem.detail, problem.code) from None
    except problems as problem:
        raise Refused(str(problem)) from problem


@contextmanager
def bar(*, quiet: bool) -> Iterator[Tell]:
    """A bar that grows on standard error, where somebody looks at it."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=quiet or not console.is_terminal) as shown:
        task = shown.add_task("")

        def tell(what: str, done: int, of_all: int) -> None:
            shown.update(task, description=what, completed=done, total=of_all)

        yield tell


def table(rows: Mapping[str, str]) -> str:
    """Names and what is said of them, one below the other."""
    width = max(map(len, rows), default=0)
    return "\n".join(f"{name:<{width}}  {said}" for name, said in rows.items())
