"""How amounts stand on a sheet: SI first, then spoons, US measures and drops where they can be trusted."""

from decimal import Decimal
from typing import Any

from service.protocols.mixing import Mix, Portion
from service.science.amounts import Amount, convert, present
from service.science.measuring import reading

MOST_DROPS = 60  # more drops than this are miscounted; assumption
DAY, HOUR, MINUTE = 86400, 3600, 60


def amount(value: float, unit: str) -> Amount:
    """An amount rounded to six decimals, without trailing zeros."""
    return Amount(Decimal(f"{Decimal(str(round(value, 6))).normalize():f}"), unit)


def litres(volume_l: float) -> Amount:
    """A volume in litres."""
    return amount(volume_l, "L")


def seconds(duration_s: int) -> Amount:
    """A duration in the largest of days, hours, minutes that divides it, else seconds."""
    for size, unit in ((DAY, "d"), (HOUR, "h"), (MINUTE, "min")):
        if duration_s and duration_s % size == 0:
            return Amount(Decimal(duration_s // size), unit)
    return Amount(Decimal(duration_s), "s")


def words(given: Amount) -> str:
    """An amount for a sentence: "305 mL", "1.25 L"."""
    shown = present(given, "si")
    return f"{round(shown.value, 3).normalize():f} {shown.unit}"


def lines(mixed: Mix) -> list[dict[str, Any]]:
    """One line per portion, as documented."""
    return [_line(mixed, portion) for portion in mixed.portions]


def _line(mixed: Mix, portion: Portion) -> dict[str, Any]:
    figures = mixed.figures
    return {
        "material": figures.code,
        "batch_id": None if portion.batch is None else portion.batch.batch_id,
        "strength_used": _strength(mixed, portion),
        "aged": portion.batch is not None and portion.batch.aged,
        "calculated": amount(portion.calculated, figures.unit),
        "measured": amount(portion.measured.value, figures.unit),
        "also": [_as_it_is(other) for other in _also(mixed, portion)],
        "device": portion.device.name,
        "reads": _as_it_is(reading(portion.measured, portion.device)),
        "rounding_error": round(portion.measured.relative_error, 6),
    }


def _as_it_is(given: Amount) -> dict[str, Any]:
    """A value and unit that no choice of units changes: the mark on a device, another measure."""
    return {"value": float(given.value), "unit": given.unit}


def _strength(mixed: Mix, portion: Portion) -> Amount:
    if mixed.figures.form == "liquid":
        return amount(portion.per_unit, "g/L")
    return amount(portion.per_unit / 10, "%")


def _also(mixed: Mix, portion: Portion) -> list[Amount]:
    measured = Decimal(str(portion.measured.value))
    if mixed.figures.form == "liquid":
        volume = Amount(measured, "mL")
        return [_rounded(present(volume, "us")), *_drops(mixed, portion, volume)]
    also = [_rounded(convert(Amount(measured, "g"), "[oz_av]"))]
    density = mixed.figures.density_g_per_ml
    if density is not None:
        also.append(_spoons(Amount(measured / Decimal(str(density)), "mL")))
    return also


def _spoons(volume: Amount) -> Amount:
    spoons = convert(volume, "[tbs_us]")
    return _rounded(spoons if spoons.value >= 1 else convert(volume, "[tsp_us]"))


def _drops(mixed: Mix, portion: Portion, volume: Amount) -> list[Amount]:
    batch = portion.batch
    if batch is None or batch.drop_ml is None:
        return []
    if mixed.figures.substance == "copper" and (batch.g_per_l is None or batch.copper_form is None):
        return []
    drops = convert(volume, "[drp]", drop_ml=Decimal(str(batch.drop_ml)))
    return [Amount(round(drops.value, 1), "[drp]")] if drops.value <= MOST_DROPS else []


def _rounded(given: Amount) -> Amount:
    return Amount(Decimal(f"{round(given.value, 3).normalize():f}"), given.unit)
