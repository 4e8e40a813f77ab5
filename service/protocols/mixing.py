"""From a dose to amounts of real bottles that a person can measure; pure arithmetic over plain values."""

from collections.abc import Iterable, MutableMapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_FLOOR, Decimal

from service.core.reasons import Reason
from service.protocols.figures import Figures
from service.science.copper import CAPS, copper_cap
from service.science.measuring import (
    BENCH,
    Device,
    Measured,
    TooSmallToMeasure,
    best_device,
    measurable,
)
from service.stores.rules import BatchToday

FINEST = {
    kind: min((device for device in BENCH if device.kind == kind), key=lambda device: device.step_size)
    for kind in ("volume", "mass")
}
NEGLIGIBLE = 0.005  # of the target: what is missing below it is no shortage


@dataclass(frozen=True)
class Portion:
    """What is taken of one batch: mL or g, as calculated and as it can be measured.

    `per_unit` is mg of the substance in one mL or g. `batch` is None for what is not in stock.
    """

    batch: BatchToday | None
    per_unit: float
    calculated: float
    measured: Measured
    device: Device

    @property
    def active_mg(self) -> float:
        """Substance in what is measured, mg."""
        return self.measured.value * self.per_unit

    @property
    def base_units(self) -> int:
        """What leaves the stock, in whole microlitres or milligrams."""
        return round(self.measured.value * 1000)


@dataclass(frozen=True)
class Mix:
    """The portions of one material in one bath, what is short (mL or g), and what stands against it."""

    figures: Figures
    target_mg_per_l: float
    volume_l: float
    portions: tuple[Portion, ...] = ()
    missing: float = 0.0
    blocks: tuple[Reason, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def result_mg_per_l(self) -> float:
        """What the bath will hold by what is measured."""
        return sum(portion.active_mg for portion in self.portions) / self.volume_l

    @property
    def error(self) -> float:
        """Relative departure of the result from the target."""
        return self.result_mg_per_l / self.target_mg_per_l - 1


def mix(
    figures: Figures,
    *,
    target_mg_per_l: float,
    volume_l: float,
    batches: Iterable[BatchToday],
    left: MutableMapping[str, int],
    neutralising: bool = False,
) -> Mix:
    """Take a material from its usable batches, in their order, until the dose of the bath is met.

    `left` is what each batch still holds (base units) and is lessened by what is taken. A neutraliser may be
    over-dosed: it is never too small to measure, and no rounding of it stands against the sheet.
    """
    usable = [batch for batch in batches if batch.usable and per_unit(batch)]
    forms = {batch.copper_form for batch in usable}
    whole = Mix(
        figures, target_mg_per_l, volume_l, blocks=tuple(cap_reasons(figures, target_mg_per_l, forms))
    )
    taking = _Taking(figures, target_mg_per_l * volume_l, neutralising)
    try:
        taking.take(usable, left)
    except TooSmallToMeasure as problem:
        reason = Reason("too-small-to-measure", f"{figures.name}: {problem}", figures.name, None)
        return replace(whole, blocks=(*whole.blocks, reason))
    if not taking.portions:
        detail = f"There is no usable {figures.name} on record, so its strength is not known."
        return replace(whole, blocks=(*whole.blocks, Reason("no-strength", detail)))
    mixed = replace(whole, portions=tuple(taking.portions), missing=taking.missing)
    return _judged(mixed, forms, neutralising=neutralising)


def per_unit(batch: BatchToday) -> float | None:
    """Milligrams of the substance in one mL or g of a batch; None when its strength is not known."""
    if batch.base_unit == "uL":
        return batch.g_per_l
    return None if batch.content_fraction is None else 1000 * batch.content_fraction


def cap_reasons(figures: Figures, mg_per_l: float, forms: Iterable[str | None]) -> list[Reason]:
    """Why so much of a substance may not go into a bath; copper by the form it comes in."""
    block = figures.block_above_mg_per_l
    if figures.substance == "copper":
        block = min(copper_cap(form).block_mg_per_l for form in _forms(figures, forms))
    if block is None or mg_per_l <= block * (1 + 1e-9):
        return []
    detail = f"{mg_per_l:g} mg/L of {figures.substance} is more than may ever be mixed ({block:g} mg/L)."
    return [Reason("over-cap", detail, needed=block, have=mg_per_l)]


def _forms(figures: Figures, forms: Iterable[str | None]) -> set[str]:
    # A form that is not on record counts as ionic, the most poisonous one.
    named = {form or figures.copper_form or "ionic" for form in forms} or {figures.copper_form or "ionic"}
    return {form if form in CAPS else "ionic" for form in named}


def _warn_above(figures: Figures, forms: Iterable[str | None]) -> float | None:
    if figures.substance != "copper":
        return figures.warn_above_mg_per_l
    warns = (copper_cap(form).warn_mg_per_l for form in _forms(figures, forms))
    return min((warn for warn in warns if warn is not None), default=None)


def _judged(mixed: Mix, forms: Iterable[str | None], *, neutralising: bool) -> Mix:
    figures, warnings, blocks = mixed.figures, [], list(mixed.blocks)
    warn = _warn_above(figures, forms)
    if warn is not None and mixed.target_mg_per_l > warn:
        warnings.append(f"{mixed.target_mg_per_l:g} mg/L of {figures.substance} is above {warn:g} mg/L.")
    error = abs(mixed.error)
    if error > figures.rounding_block and not neutralising:
        detail = f"{figures.name} cannot be measured closer than {error:.0%}: make a weaker stock solution."
        blocks.append(Reason("rounding-too-coarse", detail, figures.rounding_block, round(error, 4)))
    elif error > figures.rounding_warn:
        warnings.append(f"{figures.name}: the bath departs {mixed.error:+.1%} from its target by rounding.")
    return replace(mixed, warnings=tuple(warnings), blocks=tuple(blocks))


@dataclass
class _Taking:
    """One walk along the batches of a material."""

    figures: Figures
    wanted_mg: float
    neutralising: bool

    def __post_init__(self) -> None:
        self.portions: list[Portion] = []
        self.missing = 0.0

    def take(self, usable: Sequence[BatchToday], left: MutableMapping[str, int]) -> None:
        """Fill `portions`; what no batch holds becomes a portion without batch, and `missing`.

        TooSmallToMeasure when the whole dose is below the marks of every device.
        """
        open_mg, strength = self.wanted_mg, self.figures.nominal_per_unit
        for batch in usable:
            strength = per_unit(batch) or strength or 0.0
            wanted, have = open_mg / strength, left[batch.batch_id] / 1000
            if self._still_open(open_mg, wanted) is None:
                return
            device = self._device(min(wanted, have))
            if device is None:
                continue  # the dregs of a bottle
            portion = self._portion(batch, strength, (wanted, have), device)
            self.portions.append(portion)
            left[batch.batch_id] -= portion.base_units
            open_mg -= open_mg if have >= wanted else portion.active_mg
        device = self._still_open(open_mg, open_mg / strength) if strength else None
        if strength and device is not None:
            quantity = self.missing = open_mg / strength
            measured = self._measured(quantity, device)
            self.portions.append(Portion(None, strength, quantity, measured, device))

    def _still_open(self, open_mg: float, wanted: float) -> Device | None:
        """What to measure the rest of the dose with; None when it is met, as near as can be measured."""
        if open_mg <= NEGLIGIBLE * self.wanted_mg:
            return None
        device = self._device(wanted)
        if device is None and not self.portions:
            detail = "Too little to measure with any device: make a weaker stock solution."
            raise TooSmallToMeasure("quantity", detail)
        return device

    def _portion(
        self, batch: BatchToday, strength: float, amounts: tuple[float, float], device: Device
    ) -> Portion:
        wanted, have = amounts
        calculated = min(wanted, have)
        measured = self._measured(calculated, device)
        if measured.value > have:
            measured = _marks_within(have, calculated, device)
        return Portion(batch, strength, calculated, measured, device)

    def _device(self, quantity: float) -> Device | None:
        if quantity <= 0:
            return None
        try:
            return best_device(quantity, self.figures.kind, BENCH)
        except TooSmallToMeasure:
            return FINEST[self.figures.kind] if self.neutralising else None

    def _measured(self, quantity: float, device: Device) -> Measured:
        measured = measurable(quantity, device)
        if measured.steps >= device.smallest_steps:
            return measured
        least = device.step_size * device.smallest_steps
        return Measured(float(least), device.smallest_steps, float(least) / quantity - 1)


def _marks_within(have: float, calculated: float, device: Device) -> Measured:
    steps = int((Decimal(str(have)) / device.step_size).to_integral_value(ROUND_FLOOR))
    value = float(device.step_size * steps)
    return Measured(value, steps, value / calculated - 1)
