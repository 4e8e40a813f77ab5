"""Intermediate stocks for doses too small to measure; every figure worked by hand."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import serial
from service.science.domain import OutOfDomain
from service.science.measuring import BENCH, KITCHEN, Device, Kind, TooSmallToMeasure, best_device
from service.science.serial import SerialPlan

approx: Any = pytest.approx


def told(plan: SerialPlan) -> list[tuple[float, str, float]]:
    return [(stage.take, stage.device.name, stage.make_up_to_ml) for stage in plan.stages]


def test_sixty_three_milligrams_of_copper_sulfate_go_through_a_stock() -> None:
    # 1 g to 100 mL holds 10 mg in a mL: 6.287 mL, 6.2 mL by the marks.
    plan = serial.plan_stock(0.06287, "mass")
    assert told(plan) == [(1.0, "0.01 g balance", 100.0)]
    assert plan.per_ml == pytest.approx(0.01)
    assert (plan.device.name, plan.dose.value) == ("10 mL syringe", approx(6.2))
    assert plan.dose.relative_error == pytest.approx(-0.0138, abs=1e-4)
    assert plan.used == 1.0


def test_thirty_microlitres_are_twelve_marks_of_a_twentieth() -> None:
    plan = serial.plan_stock(0.03, "volume")
    assert told(plan) == [(5.0, "5 mL syringe", 100.0)]
    assert (plan.device.name, plan.dose.value, plan.per_ml) == ("1 mL syringe", 0.6, 0.05)


def test_a_tenth_of_a_milligram_takes_two_stages() -> None:
    plan = serial.plan_stock(0.0001, "mass")
    assert told(plan) == [(1.0, "0.01 g balance", 100.0), (5.0, "5 mL syringe", 500.0)]
    assert [stage.kind for stage in plan.stages] == ["mass", "volume"]
    assert plan.dose.value == pytest.approx(1.0)


def test_a_solid_stock_stays_dissolved() -> None:
    plan = serial.plan_stock(0.06287, "mass", strongest_g_per_ml=0.005)
    assert told(plan) == [(1.0, "0.01 g balance", 500.0)]
    assert serial.plan_stock(0.06287, "mass", strongest_g_per_ml=0.01) == serial.plan_stock(0.06287, "mass")


def test_the_least_is_used_that_still_holds_the_dose() -> None:
    # 6 mL are more than a stock of 5 mL holds, but not more than one of 10.
    assert serial.plan_stock(5.0, "volume").used == 5.0
    assert serial.plan_stock(6.0, "volume").used == 10.0


@pytest.mark.parametrize("quantity", [1e-13, 1e-9])
def test_three_dilutions_are_the_most(quantity: float) -> None:
    with pytest.raises(OutOfDomain, match="too little even for 3 dilutions"):
        serial.plan_stock(quantity, "volume")


def test_three_stages_reach_where_two_do_not() -> None:
    plan = serial.plan_stock(1e-7, "volume")
    assert len(plan.stages) == 3
    assert plan.dose.value * plan.per_ml == pytest.approx(1e-7, rel=0.02)


def test_without_a_bench_there_is_no_stock() -> None:
    with pytest.raises(OutOfDomain):
        serial.plan_stock(0.03, "volume", KITCHEN)
    with pytest.raises(OutOfDomain):
        serial.plan_stock(0.03, "volume", [device for device in BENCH if device.kind == "mass"])


def test_a_device_that_no_one_can_fill_once_is_not_asked_for_more() -> None:
    # Half a mark within 2 % means 25 marks: 5 mL in marks of 0.2 is just enough, of 0.25 it is not.
    fine = Device("fine", "volume", "mL", Decimal("0.2"), capacity=Decimal(5))
    coarse = Device("coarse", "volume", "mL", Decimal("0.25"), capacity=Decimal(5))
    endless = Device("endless", "volume", "mL", Decimal("0.2"))
    small = Device("small", "volume", "mL", Decimal("0.05"), capacity=Decimal("4.95"))
    dosing = Device("dosing", "volume", "mL", Decimal("0.05"), capacity=Decimal(1))
    plan = serial.plan_stock(0.03, "volume", [coarse, endless, small, fine, dosing])
    assert plan.stages[0].device is fine
    for unfit in (coarse, endless, small):
        with pytest.raises(OutOfDomain):
            serial.plan_stock(0.03, "volume", [unfit, dosing])


def test_nothing_cannot_be_planned() -> None:
    with pytest.raises(OutOfDomain):
        serial.plan_stock(0, "volume")


kinds: st.SearchStrategy[Kind] = st.sampled_from(["volume", "mass"])


@given(st.floats(1e-4, 0.2), kinds)
def test_a_plan_gives_the_quantity_within_two_per_cent(quantity: float, kind: Kind) -> None:
    plan = serial.plan_stock(quantity, kind)
    assert plan.dose.value * plan.per_ml == pytest.approx(quantity, rel=0.02)
    assert plan.dose.value <= plan.stages[-1].make_up_to_ml * 1.02
    assert plan.used >= quantity


def test_what_was_too_small_to_measure_is_not_any_more() -> None:
    with pytest.raises(TooSmallToMeasure):
        best_device(0.03, "volume", BENCH)
    assert serial.plan_stock(0.03, "volume", BENCH).dose.steps >= 5
