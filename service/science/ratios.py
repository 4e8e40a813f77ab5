"""Dilutions in parts by volume, always said in full: so many parts of stock and so many of water."""

import re
from dataclasses import dataclass

from service.science.domain import OutOfDomain, not_negative, positive

EXPLICIT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*\+\s*(\d+(?:\.\d+)?)\s*", re.ASCII)
COLON = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[:/]\s*(\d+(?:\.\d+)?)\s*", re.ASCII)


@dataclass(frozen=True)
class Dilution:
    """Parts of stock and of water, volumes taken as additive; OutOfDomain without any stock."""

    parts_stock: float
    parts_water: float

    def __post_init__(self) -> None:
        positive("parts_stock", self.parts_stock)
        not_negative("parts_water", self.parts_water)

    @property
    def stock_share(self) -> float:
        """The stock's share of the whole."""
        return self.parts_stock / (self.parts_stock + self.parts_water)


def read_dilution(text: str) -> Dilution:
    """The dilution of a text such as "1+19".

    OutOfDomain for all else. "1:20" is refused with both its readings: the trade's 1 + 20 and the health
    tables' 1 in 20, which is 1 + 19.
    """
    said = EXPLICIT.fullmatch(text)
    if said:
        return Dilution(float(said[1]), float(said[2]))
    ratio = COLON.fullmatch(text)
    if ratio:
        raise OutOfDomain("text", _two_readings(float(ratio[1]), float(ratio[2])))
    raise OutOfDomain("text", f"Write parts of stock + parts of water, like 1+19, not {text!r}.")


def difference(first: Dilution, second: Dilution) -> float:
    """How much stronger or weaker the second is than the first, as a share of the first."""
    return second.stock_share / first.stock_share - 1


def stock_and_water_ml(dilution: Dilution, total_ml: float) -> tuple[float, float]:
    """Millilitres of stock and of water that make the total."""
    positive("total_ml", total_ml)
    stock_ml = total_ml * dilution.stock_share
    return stock_ml, total_ml - stock_ml


def diluted_mg_per_l(stock_g_per_l: float, dilution: Dilution) -> float:
    """mg/L of a stock diluted so."""
    positive("stock_g_per_l", stock_g_per_l)
    return 1000 * stock_g_per_l * dilution.stock_share


def dilution_to(target_mg_per_l: float, stock_g_per_l: float, *, parts_stock: float = 1.0) -> Dilution:
    """The dilution of a stock to a target; OutOfDomain when the stock is weaker than the target."""
    positive("target_mg_per_l", target_mg_per_l)
    positive("stock_g_per_l", stock_g_per_l)
    if target_mg_per_l > 1000 * stock_g_per_l:
        raise OutOfDomain("target_mg_per_l", "The stock is weaker than the target.")
    return Dilution(parts_stock, parts_stock * (1000 * stock_g_per_l / target_mg_per_l - 1))


def parts_stock_with(parts_water: float, target_mg_per_l: float, stock_g_per_l: float) -> Dilution:
    """The dilution to a target in a fixed number of parts of water; OutOfDomain for a stock too weak."""
    positive("parts_water", parts_water)
    whole = dilution_to(target_mg_per_l, stock_g_per_l)
    if whole.parts_water == 0:
        raise OutOfDomain("target_mg_per_l", "The stock is no stronger than the target.")
    return Dilution(parts_water / whole.parts_water, parts_water)


def _two_readings(stock: float, other: float) -> str:
    if not 0 < stock < other:
        return f"{stock:g}:{other:g} is not clear. Write parts of stock + parts of water, like 1+19."
    whole, added = Dilution(stock, other - stock), Dilution(stock, other)
    return (
        f"{stock:g}:{other:g} can mean {stock:g}+{other - stock:g} ({stock:g} part in {other:g}) or "
        f"{stock:g}+{other:g} ({difference(whole, added):+.1%}). Write which one."
    )
