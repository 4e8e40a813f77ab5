"""Rounding to what a person can measure; steps are common practice, no source; figures worked by hand."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import measuring
from service.science.amounts import Amount
from service.science.domain import OutOfDomain
from service.science.measuring import BENCH, DEVICES, KITCHEN, Device, TooSmallToMeasure

BY_NAME = {device.name: device for device in DEVICES}


@pytest.mark.parametrize(
    ("wanted", "device", "value", "steps", "error"),
    [
        (305.2, "500 mL cylinder", 305, 61, -0.0007),
        (447.9, "500 mL cylinder", 450, 90, 0.0047),
        (456.5, "500 mL cylinder", 455, 91, -0.0033),
        (1.111, "1 mL syringe", 1.10, 22, -0.0099),
        (0.778, "1 mL syringe", 0.80, 16, 0.0283),
        (0.06287, "0.01 g balance", 0.06, 6, -0.0456),
        (189.27, "¼ cup", 177.44, 3, -0.0625),  # ¾ cup for 0.8 cup
        (189.27, "tablespoon", 192.23, 13, 0.0156),
        (0.175, "1 mL syringe", 0.20, 4, 0.1429),  # half a step goes up
        (0.01, "1 mL syringe", 0.0, 0, -1.0),
    ],
)
def test_amounts_are_rounded_half_up_to_the_marks(
    wanted: float, device: str, value: float, steps: int, error: float
) -> None:
    found = measuring.measurable(wanted, BY_NAME[device])
    assert found.value == pytest.approx(value, rel=1e-4)
    assert found.steps == steps
    assert found.relative_error == pytest.approx(error, abs=1e-4)


@pytest.mark.parametrize(
    ("quantity", "name"),
    [
        (305.2, "500 mL cylinder"),
        (447.9, "500 mL cylinder"),
        (1.111, "1 mL syringe"),  # two fills, as the 5 mL syringe would be 8 % off
        (16.0, "60 mL syringe"),
        (500, "500 mL cylinder"),
        (2500, "jug with half-litre marks"),
        (3200, "1 L cylinder"),  # four fills, as the jug would be 6 % off
        (0.27, "1 mL syringe"),  # none is within 2 %: the nearest
    ],
)
def test_the_device_is_within_two_per_cent_in_the_fewest_fills(quantity: float, name: str) -> None:
    assert measuring.best_device(quantity, "volume", BENCH).name == name


@pytest.mark.parametrize(("quantity", "name"), [(42.0, "0.01 g balance"), (0.06287, "0.01 g balance")])
def test_solids_go_on_a_balance(quantity: float, name: str) -> None:
    assert measuring.best_device(quantity, "mass", DEVICES).name == name


def test_below_five_steps_of_the_finest_a_weaker_stock_is_needed() -> None:
    with pytest.raises(TooSmallToMeasure, match="weaker stock"):
        measuring.best_device(0.249, "volume", DEVICES)
    assert measuring.best_device(0.25, "volume", DEVICES).name == "1 mL syringe"


def test_without_a_device_of_the_kind_there_is_no_best_one() -> None:
    with pytest.raises(OutOfDomain, match="measures a mass"):
        measuring.best_device(1, "mass", KITCHEN)


@pytest.mark.parametrize("quantity", [0, -1, float("inf")])
def test_only_something_can_be_measured(quantity: float) -> None:
    with pytest.raises(OutOfDomain):
        measuring.best_device(quantity, "volume", DEVICES)
    with pytest.raises(OutOfDomain):
        measuring.measurable(quantity, DEVICES[0])


def test_a_device_shows_its_own_unit() -> None:
    cup = BY_NAME["⅓ cup"]
    assert measuring.reading(measuring.measurable(236.6, cup), cup) == Amount(Decimal(1), "[cup_us]")
    jug = BY_NAME["jug with half-litre marks"]
    assert str(measuring.reading(measuring.measurable(2500, jug), jug).value) == "2.5"
    syringe = BY_NAME["60 mL syringe"]
    assert str(measuring.reading(measuring.measurable(50, syringe), syringe).value) == "50"


def test_drops_are_counted_when_the_bottle_is_calibrated() -> None:
    bottle = measuring.dropper(Decimal("0.05"))
    counted = measuring.measurable(1.111, bottle)
    assert measuring.reading(counted, bottle) == Amount(Decimal(22), "[drp]")
    assert measuring.best_device(1.111, "volume", [bottle]) is bottle
    with pytest.raises(OutOfDomain):
        measuring.dropper(Decimal(0))


@given(st.floats(0.25, 5000), st.sampled_from([device for device in DEVICES if device.kind == "volume"]))
def test_rounding_moves_an_amount_by_half_a_step_at_most(quantity: float, device: Device) -> None:
    found = measuring.measurable(quantity, device)
    assert abs(found.value - quantity) <= float(device.step_size) / 2 * (1 + 1e-9)
