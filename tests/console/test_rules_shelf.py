"""The small picture of the days to come."""

from service.console.rules_shelf import bars


def test_the_line_steps_down_to_nothing() -> None:
    found = bars([("2026-03-02", 10.0), ("2026-03-03", 5.0), ("2026-03-04", -1.0)])
    assert found.path == "M0 60L0 0L80 0L80 30L160 30L160 60L240 60L240 60Z"
    assert (found.empty_on, found.most) == ("2026-03-04", 10.0)


def test_an_empty_shelf_has_no_picture() -> None:
    assert bars([]).path == ""
    assert bars([("2026-03-02", 0.0)]).empty_on == "2026-03-02"
