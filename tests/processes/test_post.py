"""Events are sent by the real worker, within seconds, without anybody asking."""

from pathlib import Path

from tests.exchange.endpoints import endpoint
from tests.processes.house import House, answers, free_port, get, send, until


def test_a_shop_learns_of_a_lot_within_seconds(tmp_path: Path) -> None:
    house, port = House(tmp_path / "home", DIPLEDGER_WEBHOOK_ALLOW="127.0.0.1/32"), free_port()
    house.run("init")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with endpoint() as shop, house.started("serve", "--port", str(port)):
        until(lambda: answers(port), "the web answers")
        hook = {"name": "shop", "url": f"http://127.0.0.1:{shop.port}/in", "types": ["lot.received"]}
        assert send(port, "POST", "/api/v1/webhooks", hook, token)[0] == 201
        maker = {"name": "Fenmarsh Growers", "country": "NL"}
        _, supplier = send(port, "POST", "/api/v1/suppliers", maker, token)
        _, plants = get(port, "/api/v1/plants?limit=1", token)
        line = {"plant_id": plants["items"][0]["id"], "quantity": 4, "unit_of_sale": "pot"}
        until(lambda: get(port, "/readyz")[0] == 200, "everything runs")
        shipment = {"supplier_id": supplier["id"], "lines": [line]}
        assert send(port, "POST", "/api/v1/shipments", shipment, token)[0] == 201
        until(lambda: bool(shop.received), "the shop is told")
        assert shop.received[0].event["type"] == "lot.received"
