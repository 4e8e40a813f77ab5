"""The picture of a quarantine: everything stands where its time and value say."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from service.console.rules_picture import (
    GROW,
    LEFT,
    MOST_POINTS,
    RIGHT,
    WARM,
    WIDTH,
    Growth,
    Scene,
    Seen,
    draw,
    thinned,
)

START = datetime(2026, 3, 2, tzinfo=UTC)
DAY = timedelta(days=1)
SCENE = Scene(
    start=START,
    end=START + 20 * DAY,
    now=START + 10 * DAY,
    readings=[(START, 20.0), (START + 10 * DAY, 24.0)],
    growth=[Growth("pond_snail", [(START, 0.0), (START + 10 * DAY, 1.2)], START + 4 * DAY, START + 8 * DAY)],
    seen=[Seen(START + 5 * DAY, "find", "2 adults"), Seen(START - DAY, "clean", "before it")],
    release_at=START + 15 * DAY,
)
INSIDE = WIDTH - LEFT - RIGHT


def test_time_runs_evenly_from_left_to_right() -> None:
    picture = draw(SCENE)
    assert picture.now_x == round(LEFT + INSIDE / 2, 1)
    assert picture.release_x == round(LEFT + INSIDE * 0.75, 1)
    assert picture.seen == [(round(LEFT + INSIDE / 4, 1), SCENE.seen[0])]
    assert picture.bands == [("pond_snail", round(LEFT + INSIDE / 5, 1), round(LEFT + INSIDE * 0.4, 1))]


def test_warmer_is_higher_and_grown_out_is_at_the_top() -> None:
    picture = draw(SCENE)
    (low_y, low), _, (high_y, high) = picture.degrees
    assert (low_y, low, high_y, high) == (WARM[0] + WARM[1], 19.0, WARM[0], 26.0)
    assert picture.growth[0].path.startswith(f"M{LEFT:g} {GROW[0] + GROW[1]:g}L")
    assert picture.growth[0].end_y == GROW[0]


def test_the_axis_has_few_marks_however_long_it_takes() -> None:
    assert [at for _, at in draw(SCENE).days] == [START + n * 2 * DAY for n in range(11)]
    assert len(draw(replace(SCENE, end=START + 3000 * DAY)).days) == 33


def test_what_is_not_known_is_not_drawn() -> None:
    bare = replace(
        SCENE,
        end=START,
        now=START,
        readings=[],
        seen=[],
        release_at=None,
        growth=[Growth("hydra", [], None, None)],
    )
    picture = draw(bare)
    assert (picture.warm, picture.growth, picture.bands, picture.release_x) == ("", [], [], None)
    assert [at for _, at in picture.degrees] == [17.0, 22.5, 28.0]


def test_a_band_without_an_end_is_left_out() -> None:
    assert draw(replace(SCENE, growth=[replace(SCENE.growth[0], hatched_out=None)])).bands == []


def test_thinning_keeps_the_highest_and_the_lowest() -> None:
    readings = [(START + n * timedelta(hours=1), 20.0) for n in range(1000)]
    readings[500] = (readings[500][0], 31.0)
    readings[501] = (readings[501][0], 3.0)
    found = thinned(readings)
    assert len(found) <= MOST_POINTS
    assert {3.0, 20.0, 31.0} == {celsius for _, celsius in found}
    assert [at for at, _ in found] == sorted(at for at, _ in found)
