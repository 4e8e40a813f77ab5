"""The words that screens use for the codes of the interface."""

from typing import Any

from flask_babel import lazy_gettext as _

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
    "no_regulated_pest": _("No regulated pest"),
    "quantity_left": _("Plants left"),
}
METHODS = {
    "eyes": _("by eye"),
    "strain": _("water strained"),
    "bait": _("bait"),
    "bait_night": _("bait over night"),
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
ROLES = {
    "owner": _("owner"),
    "manager": _("manager"),
    "grower": _("grower"),
    "seller": _("seller"),
    "auditor": _("auditor, reads only"),
}
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
GROUPS: dict[str, Any] = {
    "states": STATES,
    "kinds": KINDS,
    "steps": STEPS,
    "gates": GATES,
    "methods": METHODS,
    "pests": PESTS,
    "stages": STAGES,
    "sale_units": SALE_UNITS,
    "statuses": STATUSES,
    "losses": LOSSES,
    "ways": WAYS,
    "roles": ROLES,
    "levels": LEVELS,
    "grades": GRADES,
}


def word(code: Any, group: str) -> Any:
    """The word of a code; a code without one is shown as it is, without its underscores."""
    return GROUPS[group].get(code, str(code).replace("_", " "))
