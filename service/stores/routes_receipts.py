"""Addresses of deliveries that come as a file."""

from collections.abc import Mapping, Sequence
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH
from service.core.clock import local_day
from service.core.file_forms import bad_row, csv_body
from service.core.house import house
from service.core.http import allow, answer, created, router, session
from service.core.problems import read_form
from service.journal.acts import Act
from service.journal.web import act_from, facts
from service.stores import receipts
from service.stores.receipt_files import RECEIPTS
from service.stores.receipt_schemas import ReceiptOut, ReceiptPreviewOut, ReceiptsOut
from service.stores.schemas import StockBatchIn
from service.stores.shapes import batch_views

blueprint = router("receipts", "Deliveries of dip materials that come as a CSV file.")
SHOWN = tuple(name for name in ReceiptOut().fields if name != "line")


@blueprint.route("/stock-receipts/preview", methods=["POST"])
@allow(BENCH)
@blueprint.reads(None, "text/csv")
@blueprint.response(200, ReceiptPreviewOut)
def preview_receipts() -> Response:
    """Show each row of a CSV file as it would be received, and every bad row; nothing is stored."""
    g.computes = True  # a reading session: no write lock is taken
    judged = _judged(lock=False)
    rows = _previewed(judged.deliveries)
    problems = [bad_row(reason) for reason in judged.problems]
    return answer({"ok": not problems, "rows": rows, "problems": problems})


@blueprint.route("/stock-receipts", methods=["POST"])
@allow(BENCH)
@blueprint.reads(None, "text/csv")
@blueprint.response(201, ReceiptsOut)
def receive_file() -> Response:
    """Receive every row of a CSV file: all of them or nothing."""
    judged = _judged(lock=True)
    receipts.take_in(session(), judged)
    shown = _views(judged.deliveries)
    return created({"received": len(shown), "batches": shown}, "/stock-batches")


def _judged(*, lock: bool) -> receipts.Judged:
    return receipts.judge(session(), RECEIPTS.rows(csv_body()), _read, lock=lock)


def _read(body: Mapping[str, Any]) -> tuple[Act, Mapping[str, Any]]:
    loaded = read_form(StockBatchIn(), body)
    return act_from(loaded), facts(loaded)


def _previewed(deliveries: Sequence[receipts.Delivery]) -> list[dict[str, Any]]:
    for each in deliveries:
        each.batch.balance = each.batch.received  # only shown: this batch is never kept
    return [
        {"line": each.line, **{name: view[name] for name in SHOWN}, "shelf_id": each.shelf}
        for each, view in zip(deliveries, _views(deliveries), strict=True)
    ]


def _views(deliveries: Sequence[receipts.Delivery]) -> list[dict[str, Any]]:
    today = local_day(g.now, house(session()).time_zone)
    return batch_views(session(), [(each.batch, each.material) for each in deliveries], today)
