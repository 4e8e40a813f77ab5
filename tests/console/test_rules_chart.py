"""Where the small pictures put their numbers: recomputed here from the edges of the drawing."""

import pytest

from service.console.rules_chart import BAR_WIDTH, BOTTOM, LEFT, TOP, WIDTH, bars, curves, ranges, stairs


def test_a_curve_goes_from_corner_to_corner() -> None:
    drawn = curves({"control": [(0, 0.0), (10, 1.0)]})
    assert drawn is not None
    assert drawn.lines[0].path == f"M{LEFT:g} {BOTTOM:g}L{WIDTH - 16:g} {TOP:g}"
    assert drawn.days[0] == (LEFT, 0)
    assert [share for _, share in drawn.shares] == [0.0, 0.5, 1.0]


@pytest.mark.parametrize(("last", "step"), [(10, 1), (20, 2), (30, 5), (120, 14), (600, 30)])
def test_an_axis_has_at_most_eleven_days_while_a_step_of_a_month_does(last: int, step: int) -> None:
    drawn = curves({"one": [(0, 0.0), (last, 1.0)]})
    assert drawn is not None
    assert [day for _, day in drawn.days[:2]] == [0, step]


def test_what_lies_beyond_a_share_stays_in_the_picture() -> None:
    drawn = curves({"one": [(0, -0.5), (1, 1.5)]})
    assert drawn is not None
    assert drawn.lines[0].path == f"M{LEFT:g} {BOTTOM:g}L{WIDTH - 16:g} {TOP:g}"


def test_a_single_point_is_no_curve() -> None:
    assert curves({"one": [(0, 1.0)]}) is None
    assert curves({}) is None


def test_stairs_go_down_at_each_death_and_stay() -> None:
    # Kaplan & Meier 1958: of ten units one dies on day 3, of the nine left three on day 7: 0.9, 0.9 x 6/9.
    assert stairs([(3, 0.9), (7, 0.6)], 14) == [(0, 1), (3, 1), (3, 0.9), (7, 0.9), (7, 0.6), (14, 0.6)]
    assert stairs([], 14) == [(0, 1), (14, 1)]


def test_the_longest_bar_fills_its_place() -> None:
    drawn = bars([("alum", 5.0), ("bleach", 20.0), ("less than nothing", -1.0)])
    assert [one.x for one in drawn] == [BAR_WIDTH / 4, BAR_WIDTH, 0.0]
    assert [one.y for one in drawn] == sorted({one.y for one in drawn})
    assert bars([]) == bars([("none", 0.0)]) == []


def test_a_range_has_its_limits_where_they_are_known() -> None:
    known, unknown = ranges([("alum", 20.0, 10.0, 40.0), ("bleach", 30.0, None, None)])
    assert (known.low, known.x, known.high) == (BAR_WIDTH / 4, BAR_WIDTH / 2, BAR_WIDTH)
    assert (unknown.low, unknown.x, unknown.high) == (None, 0.75 * BAR_WIDTH, None)
    assert ranges([]) == []
