"""What may be written down of how the units of a trial stand."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.core.reasons import Reason
from service.trials.rules_known import Known, Place, unnamed, wrong

SCORES = ("leaves", "roots", "melt", "new_growth")
SCALE = {
    5: "as on a healthy plant of its kind: firm, whole, in colour; no melt; new leaves or roots",
    4: "slight: up to a tenth marked, soft or lost; growth has paused",
    3: "plain: up to a third; some new growth or none",
    2: "bad: up to two thirds; no new growth",
    1: "more than two thirds, or nothing alive but the growing point or rhizome",
}
ALIVE = "alive"
Row = Mapping[str, Any]


def condition_reasons(
    day: int, rows: Sequence[Row], places: Mapping[str, Place], known: Known
) -> Iterator[Reason]:
    """What is wrong with conditions: label, scores, judged twice, or a fate that another look denies."""
    today = {label: dict(fates.get(day, {})) for label, fates in known.fates.items()}
    for n, row in enumerate(rows):
        at, label = f"#/conditions/{n}", row["label"]
        own = today.setdefault(label, {})
        if row["grown"] in own:
            yield wrong(at, f"{label} was judged for {row['grown']} leaves on day {day}.", "observed-twice")
        elif set(own.values()) - {row["fate"]}:
            detail = (
                f"{label} is one unit: it cannot be {row['fate']} and {next(iter(own.values()))} on one day."
            )
            yield wrong(f"{at}/fate", detail, "fates-differ")
        own[row["grown"]] = row["fate"]
        yield from _condition(at, row, places)
        yield from _denied(f"{at}/fate", day, row, known)


def _condition(at: str, row: Row, places: Mapping[str, Place]) -> Iterator[Reason]:
    yield from unnamed(at, row["label"], places)
    if row["label"] in places and not places[row["label"]].is_unit:
        yield wrong(f"{at}/label", "Condition is judged unit by unit, not by tub.", "not-a-unit")
    missing = [name for name in SCORES if (row[name] is None) != (row["fate"] == "dead")]
    if missing:
        detail = "A dead unit has no score." if row["fate"] == "dead" else "Give all four scores, 5 to 1."
        yield wrong(f"{at}/{missing[0]}", detail, "score-missing")


def _denied(pointer: str, day: int, row: Row, known: Known) -> Iterator[Reason]:
    """Dead or taken units stay so: against the looks before this day, and against those after it."""
    label = row["label"]
    for other, fates in sorted(known.fates.get(label, {}).items()):
        fate = next(iter(fates.values()))
        earlier, later = (fate, row["fate"]) if other < day else (row["fate"], fate)
        if other != day and earlier not in {ALIVE, later}:
            yield wrong(pointer, f"{label} was {fate} on day {other}.", "gone-before")
            return
