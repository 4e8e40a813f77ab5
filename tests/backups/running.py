"""`dipledger db` as the tests run it, and what they look at afterwards."""

import json
from collections.abc import Callable
from typing import Any

from click.testing import CliRunner, Result
from sqlalchemy import text

from service.cli import main
from service.core.db import Database
from service.core.settings import Settings
from tests.house import SECRET
from tests.unchanged import contents

Run = Callable[..., Result]


def run_in(settings: Settings) -> Run:
    environment = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": SECRET,
    }
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words], env=environment)


def done(result: Result) -> Any:
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def refused(result: Result, code: str, exit_code: int = 1) -> str:
    assert result.exit_code == exit_code, result.output
    said = json.loads(result.stdout)
    assert said["code"] == code, said
    return str(said["detail"])


def rows(settings: Settings) -> dict[str, list[Any]]:
    found = Database(settings.database_url)
    try:
        return {name: kept for name, kept in contents(found).items() if name != "signed_in"}
    finally:
        found.dispose()


def unsafe(settings: Settings) -> set[str]:
    """What `db check` finds wrong."""
    found = run_in(settings)("db", "check", "--json")
    wrong = {check["name"] for check in json.loads(found.stdout)["checks"] if not check["held"]}
    assert found.exit_code == bool(wrong)
    return wrong


# The server of the tests takes speed for safety, as no house may: the command says so.
UNSAFE = {"sqlite": set(), "postgresql": {"fsync", "full_page_writes", "synchronous_commit"}}


def nothing_is_kept(settings: Settings) -> bool:
    if settings.database_url.startswith("sqlite"):
        return not any(file.name.startswith(("b", ".d")) for file in settings.home.iterdir())
    found = Database(settings.database_url)
    with found.reading() as session:
        tables = session.scalar(text("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'"))
        functions = session.scalar(text("SELECT count(*) FROM pg_proc WHERE proname = 'refuse_change'"))
    found.dispose()
    return (tables, functions) == (0, 0)
