"""What a person can really measure: devices as data, rounding to their marks, the best one for an amount."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Literal

from service.science.amounts import Amount, convert
from service.science.domain import OutOfDomain, positive
from service.science.units import DROP

Kind = Literal["volume", "mass"]
GOOD_ERROR = 0.02
READABLE = Decimal("0.000001")


class TooSmallToMeasure(OutOfDomain):
    """Fewer steps than the finest device can be trusted with: make a weaker stock solution first."""


@dataclass(frozen=True)
class Device:
    """A measuring device: the distance of its marks and how much it holds, in its own unit.

    Amounts below `smallest_steps` marks are not to be measured with it. `drop_ml` is needed for drops only.
    """

    name: str
    kind: Kind
    unit: str
    step: Decimal
    smallest_steps: int = 5
    capacity: Decimal | None = None
    drop_ml: Decimal | None = None

    @property
    def step_size(self) -> Decimal:
        """One step in mL or g."""
        base = "mL" if self.kind == "volume" else "g"
        return convert(Amount(self.step, self.unit), base, drop_ml=self.drop_ml).value


@dataclass(frozen=True)
class Measured:
    """What will be measured in mL or g, in how many steps, and its signed relative rounding error."""

    value: float
    steps: int
    relative_error: float


def _devices(kind: Kind, *rows: tuple[str, str, str, str]) -> tuple[Device, ...]:
    return tuple(
        Device(name, kind, unit, Decimal(step), capacity=Decimal(holds)) for name, unit, step, holds in rows
    )


# Steps are common practice, no source; capacities of jug and balances, and 5 steps as the least, are assumed.
BENCH = _devices(
    "volume",
    ("1 mL syringe", "mL", "0.05", "1"),
    ("5 mL syringe", "mL", "0.2", "5"),
    ("10 mL syringe", "mL", "0.2", "10"),
    ("60 mL syringe", "mL", "1", "60"),
    ("100 mL cylinder", "mL", "1", "100"),
    ("500 mL cylinder", "mL", "5", "500"),
    ("1 L cylinder", "mL", "10", "1000"),
    ("jug with half-litre marks", "L", "0.5", "5"),
) + _devices(
    "mass",
    ("0.01 g balance", "g", "0.01", "200"),
    ("0.1 g balance", "g", "0.1", "2000"),
    ("1 g balance", "g", "1", "10000"),
)
KITCHEN = tuple(
    Device(name, "volume", unit, step, capacity=step)
    for name, unit, step in (
        ("¼ teaspoon", "[tsp_us]", Decimal("0.25")),
        ("½ teaspoon", "[tsp_us]", Decimal("0.5")),
        ("teaspoon", "[tsp_us]", Decimal(1)),
        ("tablespoon", "[tbs_us]", Decimal(1)),
        ("¼ cup", "[cup_us]", Decimal("0.25")),
        ("⅓ cup", "[cup_us]", Decimal(1) / 3),
        ("½ cup", "[cup_us]", Decimal("0.5")),
        ("cup", "[cup_us]", Decimal(1)),
    )
)
DEVICES = BENCH + KITCHEN


def dropper(drop_ml: Decimal) -> Device:
    """A dropper bottle whose drop was calibrated, in mL; OutOfDomain when that is not above zero."""
    positive("drop_ml", drop_ml)
    return Device("dropper", "volume", DROP, Decimal(1), drop_ml=drop_ml)


def measurable(amount_ml_or_g: float, device: Device) -> Measured:
    """The amount rounded half up to the steps of the device; OutOfDomain when it is not above zero."""
    positive("amount_ml_or_g", amount_ml_or_g)
    wanted = Decimal(str(amount_ml_or_g))
    steps = int((wanted / device.step_size).to_integral_value(ROUND_HALF_UP))
    value = device.step_size * steps
    return Measured(float(value), steps, float(value / wanted - 1))


def reading(measured: Measured, device: Device) -> Amount:
    """What the device shows, in its own unit, to six decimals."""
    shown = (device.step * measured.steps).quantize(READABLE)
    return Amount(Decimal(f"{shown.normalize():f}"), device.unit)


def best_device(quantity: float, kind: Kind, devices: Sequence[Device]) -> Device:
    """The device to measure mL or g with.

    One that rounds by less than 2 %, in the fewest fills, then the smallest error; if none does, the smallest
    error. TooSmallToMeasure below five steps of the finest, OutOfDomain when there is none of this kind.
    """
    positive("quantity", quantity)
    able = [device for device in devices if device.kind == kind]
    if not able:
        raise OutOfDomain("devices", f"There is no device that measures a {kind}.")
    usable = [device for device in able if device.step_size * device.smallest_steps <= Decimal(str(quantity))]
    if not usable:
        detail = "Too little to measure with any device here: make a weaker stock solution."
        raise TooSmallToMeasure("quantity", detail)
    return min(usable, key=lambda device: _rank(quantity, device))


def _rank(quantity: float, device: Device) -> tuple[bool, int, float, Decimal]:
    measured = measurable(quantity, device)
    error = abs(measured.relative_error)
    good = error < GOOD_ERROR
    return not good, _fills(measured, device) if good else 0, error, device.step_size


def _fills(measured: Measured, device: Device) -> int:
    if device.capacity is None:
        return 1
    return int((device.step * measured.steps / device.capacity).to_integral_value(ROUND_CEILING))
