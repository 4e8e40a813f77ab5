"""The words that screens use for the codes of the interface."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.console.rules_mix import grouped_credits
from service.console.said import later as _
from service.console.words_happened import HAPPENED

UNITS = {
    "Cel": "°C",
    "[degF]": "°F",
    "[gal_us]": "US gal",
    "[gal_br]": "UK gal",
    "[qt_us]": "US qt",
    "[foz_us]": "US fl oz",
    "[cup_us]": "US cup",
    "[tbs_us]": "US tbsp",
    "[tsp_us]": "US tsp",
    "[drp]": _("drops"),
    "[oz_av]": "oz",
    "[lb_av]": "lb",
    "1": "",
}
STATES = {
    "received": _("received"),
    "in_treatment": _("in treatment"),
    "in_quarantine": _("in quarantine"),
    "cleared": _("cleared"),
    "closed": _("closed"),
    "rejected": _("binned or sent back"),
}
KINDS = {
    "end_step": _("end a step"),
    "rinse": _("rinse"),
    "water_change": _("water change"),
    "inspect": _("look"),
    "decide": _("decide"),
    "order": _("order"),
    "use_up": _("use up"),
    "dispose": _("dispose of"),
    "tell_customers": _("tell customers"),
    "judge_stems": _("judge trial stems"),
    "claim_before": _("claim from the supplier"),
}
STEPS = {
    "dip": _("dip"),
    "soak": _("soak"),
    "neutralise": _("neutralise"),
    "rinse": _("rinse"),
    "hold": _("hold"),
}
GATES = {
    "protocol_done": _("Treatment carried out"),
    "hatch_out": _("Eggs hatched out"),
    "visibility": _("Young large enough to be seen"),
    "floor_days": _("Least days waited"),
    "clean_inspections": _("Clean looks at the end"),
    "freedom": _("Chance that none is left"),
    "residue": _("Nothing left of a treatment"),
    "temperature_log": _("Temperature known"),
    "no_hold": _("No hold"),
    "plants_healthy": _("Plants healthy"),
    "restricted_species": _("No list forbids the plant here"),
    "no_regulated_pest": _("No regulated pest"),
    "quantity_left": _("Plants left"),
}
METHODS = {
    "eyes": _("by eye"),
    "strain": _("water strained"),
    "bait": _("bait"),
    "bait_night": _("bait over night"),
    "sealed_cup": _("sealed cups"),
}
SCHEDULE = {
    "arrival": _("a full look at arrival"),
    "every_water_change": _("the old water at every change"),
    "before_the_end": _("a bait before the end"),
    "nights": _("baits left over night"),
    "last": _("the last looks"),
}
PESTS = {
    "bladder_snail": _("bladder snail"),
    "ramshorn_snail": _("ramshorn snail"),
    "pond_snail": _("pond snail"),
    "trumpet_snail": _("trumpet snail"),
    "gilled_snail": _("gilled snail"),
    "apple_snail": _("apple snail"),
    "planarian": _("planarian"),
    "hydra": _("hydra"),
    "nymph": _("nymph"),
}
STAGES = {
    "egg": _("egg mass"),
    "hatchling": _("hatchling"),
    "juvenile": _("young"),
    "adult": _("adult"),
}
SALE_UNITS = {
    "pot": _("pots"),
    "bunch": _("bunches"),
    "stem": _("stems"),
    "portion": _("portions"),
    "cup": _("cups"),
    "mat": _("mats"),
}
STATUSES = {
    "valid": _("stands"),
    "suspended": _("on hold"),
    "revoked": _("revoked"),
    "superseded": _("replaced"),
    "expired": _("expired"),
}
ANIMALS = {
    "shrimp": _("shrimp"),
    "water_flea": _("water fleas"),
}
LOSSES = {
    "treatment_damage": _("damaged by a treatment"),
    "melt": _("melt"),
    "broken": _("broken"),
    "taken_as_sample": _("taken as a sample"),
    "dead_on_arrival": _("dead on arrival"),
    "other": _("other"),
}
WAYS = {
    "hazardous_waste": _("hazardous waste collection"),
    "returned": _("returned to the seller"),
    "sewer": _("neutralised, into the sewer"),
    "spilled": _("spilled"),
}
LEFT_UNUSED = {
    "counted_short": _("missing when counted"),
    "counted_over": _("more than expected when counted"),
    **WAYS,
}
PROMISES = {
    "open": _("promised for a while"),
    "confirmed": _("paid"),
    "fulfilled": _("sent off"),
    "cancelled": _("cancelled"),
    "expired": _("ran out"),
    "freed": _("freed: the lot may not be sold"),
}
ROLES = {
    "owner": _("owner"),
    "manager": _("manager"),
    "grower": _("grower"),
    "seller": _("seller"),
    "auditor": _("auditor, reads only"),
}
TOKEN_ROLES = {**ROLES, "shop": _("shop")}
LEVELS = {
    "tolerates": _("stands it"),
    "caution": _("with caution"),
    "avoid": _("avoid"),
    "unknown": _("not known"),
}
GRADES = {
    "A": _("A: several trials agree"),
    "B": _("B: one sound trial"),
    "C": _("C: reports that agree"),
    "D": _("D: a single report or none"),
}
REASONS = {
    "trial-stems-needed": _(
        "How this plant takes it is in doubt: try a few stems first, or say on the sheet how many survived."
    ),
    "trial-stems-waiting": _("Its trial stems are still waiting: judge them on day 2, 7 and 14 first."),
    "plant-avoids-method": _(
        "This plant must not have it; only an owner may say otherwise, with the reason."
    ),
    "water-shared": _("Other plants stand in this water: choose a free tub, or say that they share it."),
}
PAPERS = {
    "plant_passport": _("plant passport"),
    "phytosanitary_certificate": _("phytosanitary certificate"),
    "invoice": _("invoice"),
    "other": _("another paper"),
}
GROUPS: dict[str, Any] = {
    "states": STATES,
    "kinds": KINDS,
    "steps": STEPS,
    "gates": GATES,
    "methods": METHODS,
    "schedule": SCHEDULE,
    "pests": PESTS,
    "stages": STAGES,
    "sale_units": SALE_UNITS,
    "statuses": STATUSES,
    "animals": ANIMALS,
    "losses": LOSSES,
    "ways": WAYS,
    "left_unused": LEFT_UNUSED,
    "promises": PROMISES,
    "roles": ROLES,
    "token_roles": TOKEN_ROLES,
    "levels": LEVELS,
    "grades": GRADES,
    "papers": PAPERS,
    "as_written": {},
}


def word(code: Any, group: str) -> Any:
    """The word of a code; a code without one is shown as it is, without its underscores."""
    return GROUPS[group].get(code, str(code).replace("_", " "))


def worded(codes: Iterable[str], group: str) -> str:
    """The words of several codes."""
    return ", ".join(str(word(code, group)) for code in codes)


def happened(kind: str) -> Any:
    """A kind of journal entry in words; one without words is shown as it is written."""
    return HAPPENED.get(kind, kind.replace(".", ": ").replace("_", " "))


def credited(credits: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What a treatment is credited with, in words: "egg mass: bladder snail, pond snail"."""
    found = grouped_credits(credits)
    for one in found:
        parts = [f"{word(stage, 'stages')}: {worded(pests, 'pests')}" for stage, pests in one["of"]]
        one["of"] = "; ".join(parts)
    return found


def plain(text: str) -> str:
    """A sentence of the interface with the words of the trade in place of the codes in it."""
    for code, shown in PESTS.items():
        text = text.replace(code, str(shown))
    return text


def reason_words(reason: Mapping[str, Any]) -> Any:
    """A reason in words for the bench; those that name a field of the interface say what to do here."""
    return REASONS.get(reason.get("code", ""), plain(reason["detail"]))
