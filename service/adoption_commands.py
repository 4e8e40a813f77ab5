"""`dipledger reference ...`: the published figures that the program comes with, and which the house uses."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, get_args

import click

from service.adoption import PARTS, adopt_reference
from service.core.clock import utc_now
from service.core.command_line import Opened, Refused, answer, as_json_option, told
from service.journal.acts import Act
from service.reference.loader import load, shipped
from service.reference.problem import ReferenceProblem
from service.reference.words import Grade

HELP = """Reference data: the published figures of pests, plants, materials, protocols and policies.

Each has a source and a grade: published (read in a paper, standard or official list), practice (usual in the
trade, no source), memory (published, not read again), assumption (ours; replace it by your own records).
"""
OTHERS = ("detection", "restrictions", "incompatibilities", "cautions")
Row = dict[str, str]


def reference_commands(opened: Opened) -> click.Group:
    """The commands; `opened` is called when one of them runs."""
    group = click.Group("reference", help=HELP)

    @group.command("list")
    @click.argument("part", required=False, type=click.Choice([*PARTS, *OTHERS]))
    @click.option("--grade", type=click.Choice(get_args(Grade)), help="Only figures of this grade.")
    @as_json_option
    def list_(part: str | None, grade: str | None, as_json: bool) -> None:
        """List what the program comes with: every group of figures with its grade and source.

        Use it to see what a release day rests on, and which figures you should replace by your own.

        \b
        Examples: dipledger reference list pests
                  dipledger reference list --grade assumption --json
        """
        parts = [part] if part else [*PARTS, *OTHERS]
        rows = [row for name in parts for row in _rows(getattr(shipped(), name), name)]
        found = [row for row in rows if grade in {None, row["grade"]}]
        lines = [f"{row['grade']:<10}  {row['of']}: {row['source']}" for row in found]
        text = "\n".join([*lines, f"{len(found)} groups of figures. Version {shipped().version}"])
        answer({"version": shipped().version, "items": found}, text, as_json=as_json)

    @group.command("check")
    @as_json_option
    def check(as_json: bool) -> None:
        """Read every file of the reference data, and say whether the house uses all of it.

        Use it after changing a file, or when a new version was installed. Nothing is changed.

        \b
        Example: dipledger reference check
        Exit codes: 0 all is in use, 1 a file is wrong or something is not taken over ('reference adopt').
        """
        with told(ReferenceProblem):
            version = load().version
        missing = {name: count for name, count in _adopted(opened, keep=False).items() if count}
        if missing:
            said = ", ".join(f"{count} of {name}" for name, count in missing.items())
            raise Refused(f"Not taken over yet: {said}. Run 'dipledger reference adopt'.", "not-adopted")
        answer({"held": True, "version": version}, f"All of version {version} is in use.", as_json=as_json)

    @group.command("adopt")
    @as_json_option
    def adopt(as_json: bool) -> None:
        """Take over what is new in the reference data; what the house changed itself stays.

        'dipledger init' and 'dipledger db upgrade' do it too. A changed figure becomes a new row: what was
        decided by the old one keeps it.

        \b
        Example: dipledger reference adopt
        """
        adopted = _adopted(opened, keep=True)
        lines = [f"{name}: {count} taken over" for name, count in adopted.items()]
        answer({"version": shipped().version, "adopted": adopted}, "\n".join(lines), as_json=as_json)

    return group


def _adopted(opened: Opened, *, keep: bool) -> dict[str, int]:
    """How much of each part is taken over; when it is not kept, how much would be."""
    now = utc_now()
    with opened() as database, database.writer() as session, told():
        found = adopt_reference(session, Act("command line", now, now))
        if keep:
            session.commit()
    return found


def _rows(value: Any, of: str) -> Iterator[Row]:
    """Every group of figures below `value`, by its place."""
    grade = getattr(value, "grade", None)
    if grade is not None:
        yield {"of": of, "grade": grade, "source": value.source}
    for name, item in _parts(value):
        yield from _rows(item, f"{of}.{name}")


def _parts(value: Any) -> Iterator[tuple[str, Any]]:
    if is_dataclass(value):
        yield from ((field.name, getattr(value, field.name)) for field in fields(value))
    elif isinstance(value, Mapping):
        yield from ((str(name), item) for name, item in value.items())
    elif isinstance(value, tuple):
        yield from ((_name(item, n), item) for n, item in enumerate(value))


def _name(item: Any, n: int) -> str:
    return str(getattr(item, "code", None) or getattr(item, "scientific_name", None) or n)
