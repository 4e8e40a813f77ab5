"""Saying in words how one lot could have reached another."""

from collections.abc import Mapping
from datetime import datetime

from service.recalls.rules_tracing import Hop, Way


def sentence(hop: Hop, names: Mapping[str, str]) -> str:
    """One step of a way as a sentence; `names` gives the codes of lots, tubs and tools by id."""
    source, target = names[hop.source], names[hop.target]
    if hop.way is Way.SPLIT:
        return f"{target} was split off {source} on {_moment(hop.since)}."
    if hop.way is Way.BAG:
        return f"{source} and {target} came in one bag, unpacked on {_moment(hop.since)}."
    here, there = names[hop.source_tub or ""], names[hop.target_tub or ""]
    if hop.way is Way.BATH:
        return (
            f"{source} (tub {here}) was dipped on {_moment(hop.since)} into a bath into which "
            f"{target} (tub {there}) was dipped on {_moment(hop.until)}."
        )
    if hop.way is Way.TOOL:
        return (
            f"{names[hop.tool or '']} was in the water of {source} (tub {here}) on {_moment(hop.since)} and, "
            f"not disinfected in between, in that of {target} (tub {there}) on {_moment(hop.until)}."
        )
    tubs = f"tub {here}" if here == there else f"tubs {here} and {there}, one water system"
    return f"{source} and {target} were in one water ({tubs}) from {_moment(hop.since)} on."


def _moment(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"
