"""What of a customer is taken out of kept answers."""

from service.recalls.rules_erasing import ERASED, without


def test_only_what_is_his_is_taken_out() -> None:
    kept = {
        "customer_ref": "customer 17",
        "what": "I saw a snail",
        "order_ref": "customer 17",
        "trace": {"customers": [{"customer_ref": "customer 17"}, {"customer_ref": "customer 18"}]},
        "note": "rang at noon",
        "state": "I saw a snail",
    }
    assert without(kept, "customer 17", {"I saw a snail"}) == {
        "customer_ref": None,
        "what": ERASED,
        "order_ref": "customer 17",
        "trace": {"customers": [{"customer_ref": None}, {"customer_ref": "customer 18"}]},
        "note": "rang at noon",
        "state": "I saw a snail",
    }
