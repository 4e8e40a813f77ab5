"""A trial's report as PDF for the nursery's own files: method, data, figures and cautions."""

import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, ListFlowable, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from service.trials.report_figures import figures

Rows = Sequence[Sequence[str]]
OWN_FILES = (
    "For the nursery's own files. It is no official document and no plant-health statement; it proves "
    "nothing to others. Product labels, local law and licensed practice come before anything written here."
)
STYLES = getSampleStyleSheet()
SMALL = 8


def trial_pdf(
    trial: Mapping[str, Any], result: Mapping[str, Any], told: Sequence[Mapping[str, Any]], at: datetime
) -> bytes:
    """The report of a trial (`views.trial_view`), its result (`results.result_view`) and its observations."""
    file = io.BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=A4,
        title=f"Trial: {trial['name']}",
        author="Dipledger",
        leftMargin=18 * mm,
        rightMargin=18 * mm,
    )
    parts = [
        _text(f"Trial: {trial['name']}", "Title"),
        _text(trial["question"]),
        _text(f"Reported {at:%Y-%m-%d %H:%M} UTC. {OWN_FILES}"),
        *_section(
            "What it says", _listed(result["verdict"] or ["Nothing was observed that says anything yet."])
        ),
        *_section("What it cannot say", _listed(result["cannot_say"])),
        *_method(trial),
        *_section("Kills", [_table(_kills(result))]),
        *_section("Arms compared", [_table(_comparisons(result))]),
        *figures(result),
        *_section("Plants", [_table(_plants(result))]),
        *_section("Methods side by side", [_table(_methods(result)), *_cautions(result)]),
        *_section("Data", [_table(_data(told))]),
        *_section("Photos", [_table(_photos(told))]),
    ]
    document.build(parts)
    return file.getvalue()


def _text(words: str, style: str = "BodyText") -> Paragraph:
    return Paragraph(escape(words), STYLES[style])


def _section(title: str, parts: Sequence[Flowable]) -> list[Flowable]:
    return [Spacer(1, 4 * mm), _text(title, "Heading2"), *parts]


def _listed(lines: Sequence[str]) -> list[Flowable]:
    return [ListFlowable([_text(line) for line in lines], bulletType="bullet")]


def _table(rows: Rows) -> Table:
    cells = [[Paragraph(escape(cell), STYLES["BodyText"]) for cell in row] for row in rows]
    table = Table(cells, repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.25, colors.grey),
                ("BACKGROUND", (0, 0), (-1, 0), colors.whitesmoke),
                ("FONTSIZE", (0, 0), (-1, -1), SMALL),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ]
        )
    )
    return table


def _method(trial: Mapping[str, Any]) -> list[Flowable]:
    arms = [
        f"{arm['code']}: "
        + (f"{arm['protocol']}, version {arm['version']}" if arm["protocol"] else "untreated control")
        for arm in trial["arms"]
    ]
    tubs = ", ".join(f"{tub['label']} = {tub['tub_code']} ({tub['arm']})" for tub in trial["tubs"])
    lines = [
        f"Begun {trial['starts_at']:%Y-%m-%d}, looked at to day {trial['days']}; "
        f"{'planned blind' if trial['blind'] else 'not blind'}; "
        f"{trial['units_per_arm']} units of a source an arm.",
        f"Tubs and units were dealt by seed {trial['seed']} (order of the SHA-256 of seed, what, number).",
        f"Tubs: {tubs}.",
        f"Condition: {trial['score_words']}",
        "Kills are corrected by the control (Henderson and Tilton 1955; Abbott 1925 for equal starts). "
        "Intervals are Wilson's and Koopman's, widened where tubs of one arm differ; comparisons Fisher's, "
        "by Holm; plants by Kaplan and Meier, a sold or taken plant is no dead one.",
    ]
    if trial["conclusion"]:
        lines.append(f"Conclusion: {trial['conclusion']}")
    return _section("Method", _listed([*arms, *lines]))


def _kills(result: Mapping[str, Any]) -> Rows:
    head = ["pest, stage", "arm", "tubs", "before", "after", "kill", "corrected"]
    return [
        head,
        *(
            [
                f"{row['pest']} {row['stage']}",
                row["arm"],
                str(row["tubs"]),
                str(row["before"]),
                str(row["after"]),
                _interval(row["kill"]),
                "–" if row["corrected_kill"] is None else _interval(row["corrected_kill"]),
            ]
            for row in result["kills"]
        ),
    ]


def _comparisons(result: Mapping[str, Any]) -> Rows:
    return [
        ["pest, stage", "arms", "difference of kills", "P", "P by Holm", "better"],
        *(
            [
                f"{row['pest']} {row['stage']}",
                f"{row['first']} – {row['second']}",
                _interval(row["difference"]),
                f"{row['chance']:.2g}",
                f"{row['chance_by_holm']:.2g}",
                row["better"] or "–",
            ]
            for row in result["comparisons"]
        ),
    ]


def _plants(result: Mapping[str, Any]) -> Rows:
    return [
        ["plant", "arm", "watched", "dead", "taken", "alive at the end", "tolerance"],
        *(
            [
                row["plant"],
                row["arm"],
                str(row["watched"]),
                str(row["dead"]),
                str(row["taken"]),
                _interval(row["survival"]),
                "–" if row["tolerance"] is None else row["tolerance"]["level"],
            ]
            for row in result["plants"]
        ),
    ]


def _methods(result: Mapping[str, Any]) -> Rows:
    return [
        ["arm", "steps", "lasts", "minutes a unit", "material a unit"],
        *(
            [
                row["arm"],
                str(row["steps"]),
                f"{row['lasts_days']:.2f} d",
                f"{row['minutes_per_unit']:.1f}",
                _money(row["cost_per_unit"]),
            ]
            for row in result["methods"]
        ),
    ]


def _money(cost: Mapping[str, str] | None) -> str:
    return "not known" if cost is None else f"{cost['value']} {cost['currency']}"


def _cautions(result: Mapping[str, Any]) -> list[Flowable]:
    lines = [
        f"{row['arm']}: {words}"
        for row in result["methods"]
        for words in [
            *row["cautions"],
            *row["protective_wear"],
            *([row["disposal"]] if row["disposal"] else []),
        ]
    ]
    return _section("Cautions", _listed(lines or ["No chemical was used."]))


def _data(told: Sequence[Mapping[str, Any]]) -> Rows:
    rows = [["day", "label", "what", "seen"]]
    for one in told:
        for count in one["counts"]:
            seen = ", ".join(
                f"{value} {name}" for name, value in count.items() if isinstance(value, int) and value
            )
            rows.append(
                [str(one["day"]), count["label"], f"{count['pest']} {count['stage']}", seen or "none"]
            )
        for row in one["conditions"]:
            scores = "/".join(str(row[name]) for name in ("leaves", "roots", "melt", "new_growth"))
            seen = row["fate"] if row["leaves"] is None else f"{row['fate']}, {scores}"
            rows.append([str(one["day"]), row["label"], f"{row['grown']} leaves", seen])
    return rows


def _photos(told: Sequence[Mapping[str, Any]]) -> Rows:
    shown = [(str(one["day"]), photo) for one in told for photo in one["photos"]]
    rows = [[day, photo["label"] or "all", photo["file"], photo["sha256"]] for day, photo in shown]
    rows += [
        [str(one["day"]), photo["label"] or "all", "kept by the service", photo["sha256"]]
        for one in told
        for photo in one.get("kept_photos", ())
        if photo["voided_at"] is None
    ]
    return [["day", "label", "file", "SHA-256"], *rows]


def _interval(found: Mapping[str, Any]) -> str:
    told = f"{found['estimate']:.0%}"
    return told if found["low"] is None else f"{told} ({found['low']:.0%} to {found['high']:.0%})"
