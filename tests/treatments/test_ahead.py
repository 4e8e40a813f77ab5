"""What is still to come: steps, water changes, doses."""

from datetime import timedelta

import pytest

from service.core.db import Database
from service.treatments.queries import (
    doses_to_come,
    residue_of_lot,
    residue_of_tub,
    running_steps,
    steps_to_start,
    water_changes_due,
)
from tests.api import Api
from tests.make_lots import tub
from tests.make_treatments import (
    carried_out,
    changed,
    course,
    day,
    lot,
    planned,
    shelf,
    started,
    washed,
)


def test_a_running_step_is_due_at_its_target_and_the_next_one_when_it_is_done(
    api: Api, database: Database
) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "alum-soak", place, [own])
    with database.reading() as session:
        assert running_steps(session) == []
        [first] = steps_to_start(session)
    assert (first.n, first.kind, first.due_at, first.lot_ids) == (1, "rinse", day(0.1), (own,))
    ended = washed(api, treatment)
    with database.reading() as session:
        [second] = steps_to_start(session)
    assert (second.n, second.due_at) == (2, day(ended))
    started(api, treatment, 2, ended)
    with database.reading() as session:
        assert steps_to_start(session) == []
        [running] = running_steps(session)
    assert (running.treatment_id, running.n, running.kind, running.tub_id) == (treatment, 2, "soak", place)
    assert running.title == "Soak in alum"
    assert running.due_at == day(ended) + timedelta(days=2)


def test_water_is_due_for_courses_and_for_lots_in_quarantine(api: Api, database: Database) -> None:
    shelf(api)
    first, second, empty = tub(database, "T1"), tub(database, "T2"), tub(database, "T3")
    own, waiting = lot(api), lot(api)
    treatment = course(api, first, [own])
    carried_out(api, "quarantine-only", second, [waiting])
    changed(api, second, 2)
    changed(api, empty, 2)
    with database.reading() as session:
        due = {one.tub_id: one for one in water_changes_due(session, day(5))}
    assert set(due) == {first, second}
    assert due[first].redose is True
    assert due[first].treatment_id == treatment
    assert due[first].due_at == day(0.1 + 5 / 1440) + timedelta(days=3)
    assert (due[second].redose, due[second].treatment_id) == (False, None)
    assert due[second].lot_ids == (waiting,)
    assert due[second].due_at == day(2) + timedelta(days=4)


def test_the_doses_of_a_course_are_known_ahead(api: Api, database: Database) -> None:
    shelf(api)
    course(api, tub(database, "T1"), [lot(api)])
    with database.reading() as session:
        doses = doses_to_come(session, day(1))
    # 28 days in steps of 3 and 4 days: changes on days 3, 7, 10, 14, 17, 21, 24; the soak is over on day 28.
    assert [dose.material_code for dose in doses] == ["copper-stock"] * 7
    # Three days at 0.15 a day leave 0.255 mg/L, a full change 2 % of it: 40 L x (0.4 - 0.005) = 15.8 mg.
    assert doses[0].base_units == pytest.approx(15_800, rel=0.01)
    assert doses[0].at == day(0.1 + 5 / 1440) + timedelta(days=3)


def test_open_steps_will_need_their_material(api: Api, database: Database) -> None:
    shelf(api)
    planned(api, "alum-soak", tub(database, "T1"), [lot(api)])
    with database.reading() as session:
        [dose] = doses_to_come(session, day(0.05))
        [late] = doses_to_come(session, day(1))
    assert (dose.material_code, dose.base_units) == ("potassium-alum", 140_000)
    # Five minutes of washing come first; what should have begun by now begins now.
    assert (dose.at, late.at) == (day(0.1 + 5 / 1440), day(1 + 5 / 1440))


def test_a_course_that_has_not_begun_is_known_with_all_its_doses(api: Api, database: Database) -> None:
    shelf(api)
    treatment = planned(api, "copper-course", tub(database, "T1"), [lot(api)], 0.1)
    with database.reading() as session:
        doses = doses_to_come(session, day(0.05))
    # The first dose of 40 L x 0.4 mg/L of a stock of 1 g/L, then seven re-doses in 28 days.
    assert doses[0].base_units == 16_000
    assert [dose.base_units for dose in doses[1:]] == pytest.approx([15_800] * 7, rel=0.01)
    assert {dose.treatment_id for dose in doses} == {treatment}
    assert doses[1].at - doses[0].at == timedelta(days=3)


def test_a_redose_leaves_copper_until_the_water_is_changed_plainly(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    course(api, place, [own])
    changed(api, place, 3, redose=True)
    with database.reading() as session:
        assert [(r.substance, r.rinses) for r in residue_of_lot(session, own, day(4))] == [("copper", 0)]
        assert [(r.substance, r.rinses) for r in residue_of_tub(session, place, day(4))] == [("copper", 0)]
        assert residue_of_tub(session, place, day(0.05)) == []
    changed(api, place, 5)
    with database.reading() as session:
        assert [(r.substance, r.rinses) for r in residue_of_lot(session, own, day(6))] == [("copper", 1)]
