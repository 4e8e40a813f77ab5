"""Feeds files to all that reads files of rows: `python -m tests.fuzz.csv_reader -runs=1000 FOLDER`."""

import csv
import io
from collections.abc import Callable, Sequence
from contextlib import suppress

from service.catalogue.plant_files import PLANTS
from service.core import csv_files, csv_tables
from service.core.csv_files import rows
from service.core.errors import Invalid
from service.intake.shipment_files import SHIPMENTS
from service.stores.receipt_files import RECEIPTS
from service.tubs import logs
from service.tubs.logs import read_log
from tests.fuzz.starting import is_planted, led_by, run

SEEDS = (
    b"at,value\n2026-03-02T09:00:00Z,21.5\n",
    b'at;value\r\n2026-03-02T09:00:00Z;"21,5"\r\n',
    b"\xef\xbb\xbfcode,scientific_name\nanubias-barteri,Anubias barteri\n",
    b"quantity,unit,opened\n1.5,L,yes\n",
)


def naive(content: bytes) -> list[float]:
    """As it would be written without thinking: what the programs must see fail."""
    return [float(row[1]) for row in csv.reader(io.StringIO(content.decode("utf-8-sig", "replace")))]


READERS: Sequence[Callable[[bytes], object]] = (
    lambda content: list(rows(content, ",")),
    lambda content: list(rows(content, ";")),
    lambda content: list(rows(content, "\t")),
    lambda content: read_log(content, decimal_mark=".", delimiter=","),
    lambda content: read_log(content, decimal_mark=",", delimiter=None),
    PLANTS.rows,
    SHIPMENTS.rows,
    RECEIPTS.rows,
)


def read_by(readers: Sequence[Callable[[bytes], object]]) -> Callable[[bytes], None]:
    """Rows, or a refusal; any other exception is a find."""

    def one_input(content: bytes) -> None:
        for read in readers:
            with suppress(Invalid):
                read(content)

    return one_input


if __name__ == "__main__":
    led_by(csv_files, csv_tables, logs)
    run(read_by([naive] if is_planted() else READERS), SEEDS)
