"""What confirmed escapes teach: what customers found in cleared plants is seen less surely."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from service.quarantine.rules_prior import Record
from service.reference.detection import Detection, DetectionRow
from service.science.freedom import never_seen_after_escapes


@dataclass(frozen=True)
class Tally:
    """Of one pest: lots in which looks found it, and lots in which only customers did."""

    found: int
    escaped: int


def learnt(detection: Detection, tallies: Mapping[str, Tally]) -> Detection:
    """The sensitivities with the never-seen share of every stage of these pests raised by what escaped."""
    return replace(detection, rows=tuple(part for row in detection.rows for part in _parts(row, tallies)))


def with_escapes(record: Record, *, looked_at: int, unseen: int) -> Record:
    """A supplier's record with the lots that came with a pest and whose customers only found it.

    `looked_at` of them stand in the record as clean, `unseen` were not looked at when they came.
    """
    missed = min(float(looked_at), record.clean)
    return Record(record.infested + missed + unseen, record.clean - missed)


def _parts(row: DetectionRow, tallies: Mapping[str, Tally]) -> Iterator[DetectionRow]:
    escaped = [pest for pest in row.pests if pest in tallies]
    others = tuple(pest for pest in row.pests if pest not in tallies)
    if others:
        yield replace(row, pests=others)
    for pest in escaped:
        tally = tallies[pest]
        share = never_seen_after_escapes(row.never_seen_share, tally.found, tally.escaped)
        yield replace(row, pests=(pest,), never_seen_share=share)
