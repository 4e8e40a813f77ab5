"""A weaker stock for a dose too small to measure: what to take, make up to, and measure then."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.science.domain import OutOfDomain, positive
from service.science.measuring import (
    DEVICES,
    GOOD_ERROR,
    Device,
    Kind,
    Measured,
    TooSmallToMeasure,
    best_device,
    measurable,
)

MAKE_UP_ML = (100.0, 500.0, 1000.0)  # what cylinders hold
LIQUID_ML = (5.0, 10.0, 50.0)
SOLID_G = (1.0, 2.0, 5.0, 10.0)
MOST_STAGES = 3


@dataclass(frozen=True)
class Stage:
    """Take mL (or g) of what is there, with this device, and make up to so many mL."""

    take: float
    kind: Kind
    device: Device
    make_up_to_ml: float


@dataclass(frozen=True)
class SerialPlan:
    """The stages one after the other, then the dose in mL of the last stock.

    `per_ml` is the mL or g of the undiluted substance in a mL of that stock.
    """

    stages: tuple[Stage, ...]
    per_ml: float
    dose: Measured
    device: Device

    @property
    def used(self) -> float:
        """mL or g of the undiluted substance that the first stage takes."""
        return self.stages[0].take


def plan_stock(
    quantity: float,
    kind: Kind,
    devices: Sequence[Device] = DEVICES,
    *,
    strongest_g_per_ml: float | None = None,
) -> SerialPlan:
    """How to give a quantity (mL of a liquid, g of a solid) too small to measure as it is.

    Fewest stages, then the least used, then the smallest vessel; every measuring is within 2 %. What is taken
    lies on a mark of its device, 25 marks up or more. `strongest_g_per_ml` keeps a solid's stock dissolved.
    OutOfDomain when three stages do not do.
    """
    positive("quantity", quantity)
    for stages in range(1, MOST_STAGES + 1):
        plans = [
            plan
            for steps in _dilutions(kind, stages, devices)
            if (plan := _plan(quantity, steps, devices, strongest_g_per_ml)) is not None
        ]
        if plans:
            return min(plans, key=lambda plan: (plan.used, sum(step.make_up_to_ml for step in plan.stages)))
    raise OutOfDomain("quantity", f"{quantity:g} is too little even for {MOST_STAGES} dilutions.")


def _dilutions(kind: Kind, stages: int, devices: Sequence[Device]) -> Iterator[tuple[Stage, ...]]:
    for first in _stages(kind, devices):
        if stages == 1:
            yield (first,)
        else:
            yield from ((first, *rest) for rest in _dilutions("volume", stages - 1, devices))


def _stages(kind: Kind, devices: Sequence[Device]) -> Iterator[Stage]:
    for take in LIQUID_ML if kind == "volume" else SOLID_G:
        device = _exact(take, kind, devices)
        if device is not None:
            yield from (Stage(take, kind, device, volume) for volume in MAKE_UP_ML if take < volume)


def _exact(take: float, kind: Kind, devices: Sequence[Device]) -> Device | None:
    fitting = [device for device in devices if device.kind == kind and _holds(device, take)]
    return min(fitting, key=lambda device: device.step_size, default=None)


def _holds(device: Device, take: float) -> bool:
    """Whether it measures this in one fill, on a mark, half a mark being 2 % at most."""
    if device.capacity is None:
        return False
    steps = measurable(take, device).steps
    on_a_mark = device.step_size * steps == Decimal(str(take))
    return on_a_mark and steps >= 25 and device.step * steps <= device.capacity


def _plan(
    quantity: float, stages: tuple[Stage, ...], devices: Sequence[Device], strongest: float | None
) -> SerialPlan | None:
    first = stages[0].take / stages[0].make_up_to_ml
    if strongest is not None and first > strongest:
        return None
    per_ml = 1.0
    for stage in stages:
        per_ml *= stage.take / stage.make_up_to_ml
    dose_ml = quantity / per_ml
    if dose_ml > stages[-1].make_up_to_ml:
        return None
    try:
        device = best_device(dose_ml, "volume", devices)
    except TooSmallToMeasure:
        return None
    dose = measurable(dose_ml, device)
    if abs(dose.relative_error) >= GOOD_ERROR:
        return None
    return SerialPlan(stages, per_ml, dose, device)
