"""How the story ends: who is cleared, what is sold, and why the others must wait."""

from typing import Any

from rich.console import Console
from rich.table import Table

from service.demo.bench import Bench
from service.demo.client import Refusal

SOLD = {"anubias": 9, "fern": 12}


def decide(bench: Bench, out: Console) -> None:
    """Ask for the clearance of every lot that waits; print certificate or reasons."""
    for name, lot in bench.lots.items():
        if bench.grower.get(f"/lots/{lot['id']}")["state"] != "in_quarantine":
            continue
        try:
            certificate = bench.clients["manager"].decide(lot["id"])["certificate"]
            out.print(f"[green]cleared[/] {name} ({lot['code']}): certificate {certificate['serial']}")
        except Refusal as refusal:
            out.print(f"[yellow]not yet[/] {name} ({lot['code']}):")
            for reason in refusal.body["reasons"]:
                out.print(f"    {reason['detail']}", markup=False)


def sell(bench: Bench, out: Console) -> None:
    """Sell a part of the first cleared lots; more than is left is refused."""
    for n, (name, quantity) in enumerate(SOLD.items(), 1):
        _dispatch(bench, f"W-{1000 + n}", name, quantity)
        out.print(f"sold {quantity} of {name}")
    try:
        _dispatch(bench, "W-1009", "anubias", 1000)
    except Refusal as refusal:
        out.print(f"1000 more of anubias: refused. {refusal.body['detail']}", markup=False)


def board(bench: Bench) -> Table:
    """Every lot with its state, what is left, and its release day."""
    table = Table("lot", "plant", "state", "left", "release day", title="Lots")
    for item in sorted(bench.clients["seller"].get("/lots?limit=200")["items"], key=lambda lot: lot["code"]):
        left = f"{item['quantity']['left']} {item['unit_of_sale']}"
        day = item["release_day"] or "-"
        table.add_row(item["code"], item["plant"]["trade_name"] or "", item["state"], left, str(day))
    return table


def stock(bench: Bench) -> Table:
    """What is left of every batch, and when to order."""
    table = Table("material", "left", "usable", "order by", title="Store")
    rows = {row["material"]: row for row in bench.clients["manager"].get("/reports/reorder")["rows"]}
    for batch in bench.grower.get("/stock-batches?limit=200")["items"]:
        order: dict[str, Any] = rows.get(batch["material"], {})
        left = f"{batch['balance']['value']} {batch['balance']['unit']}"
        table.add_row(
            batch["material"], left, "yes" if batch["usable"] else "no", str(order.get("order_by") or "-")
        )
    return table


def _dispatch(bench: Bench, order: str, name: str, quantity: int) -> None:
    lines = [{"lot_id": bench.lots[name]["id"], "quantity": quantity}]
    body = {"order_ref": order, "customer_ref": f"customer of {order}", "lines": lines}
    bench.clients["shop"].post("/dispatches", body)
