"""The gates of clearance: each says what was needed, what is there, when it opens, and why not yet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.catalogue.rules_places import listing
from service.clearance.rules_animals import AnimalTest, died_in
from service.clearance.rules_plants import Health, Listed, binding, held_at, lost_share
from service.clearance.rules_residue import ResidueFacts, Washed, residue_left
from service.core.reasons import Reason
from service.quarantine.rules_freedom import Freedom
from service.quarantine.rules_release import Projection, Wait

UNASKED_OF_SEALED = frozenset({"protocol_done", "hatch_out", "visibility", "floor_days", "temperature_log"})
RULES_VERSION = "5"
Shown = str | int | float | None


@dataclass(frozen=True)
class Gate:
    """One condition of clearance; `when` is the moment it opens, None when nobody knows or it is open."""

    code: str
    ok: bool
    needed: Shown
    have: Shown
    when: datetime | None = None
    reason: str | None = None


@dataclass(frozen=True)
class GateFacts:
    """What the gates of one lot are judged by."""

    projection: Projection
    wait: Wait
    finished_protocols: Sequence[str]
    open_protocols: Sequence[str]
    clean_looks: int
    residue: ResidueFacts
    washed: Washed
    hold_causes: Sequence[str]
    regulated_lock: bool
    left: int
    health: Health
    listed: Listed
    freedoms: Sequence[Freedom]
    freedom_target: float
    animals: AnimalTest | None = None


def gates(facts: GateFacts, at: datetime) -> list[Gate]:
    """Every gate of a lot, judged at a moment."""
    found = [
        protocol_done(facts.finished_protocols, facts.open_protocols),
        hatch_out(facts.projection, at),
        visibility(facts.projection, at),
        floor_days(facts.projection, facts.wait, at),
        clean_inspections(facts.projection, facts.wait, facts.clean_looks),
        freedom(facts.freedoms, facts.freedom_target, facts.projection),
        residue(facts.residue, facts.washed, at, facts.animals),
        temperature_log(facts.projection, facts.wait),
        no_hold(facts.hold_causes),
        plants_healthy(facts.health, at),
        restricted_species(facts.listed),
        no_regulated_pest(regulated_lock=facts.regulated_lock),
        quantity_left(facts.left),
    ]
    if not facts.projection.sealed:
        return found
    return [_unasked(gate.code) if gate.code in UNASKED_OF_SEALED else gate for gate in found]


def failing(found: Sequence[Gate]) -> list[Reason]:
    """The gates that are shut, as reasons of a refusal."""
    return [Reason(gate.code, gate.reason or "", gate.needed, gate.have) for gate in found if not gate.ok]


def protocol_done(finished: Sequence[str], running: Sequence[str]) -> Gate:
    """A written protocol was carried out to its end; quarantine alone is one."""
    needed, have = "a finished protocol", ", ".join(finished) or None
    if running:
        return Gate("protocol_done", False, needed, have, reason=f"{running[0]} is not finished yet.")
    if not finished:
        detail = "No protocol was carried out to its end; quarantine-only is enough."
        return Gate("protocol_done", False, needed, have, reason=detail)
    return Gate("protocol_done", True, needed, have)


def hatch_out(projection: Projection, at: datetime) -> Gate:
    """Every egg that could have been laid has hatched, by the degree-days that were read."""
    return _moment("hatch_out", projection.hatched_out_at, projection, at, "Eggs may still be there")


def visibility(projection: Projection, at: datetime) -> Gate:
    """What hatched last has grown so far that a person sees it."""
    return _moment(
        "visibility", projection.visible_at, projection, at, "Young may still be too small to be seen"
    )


def floor_days(projection: Projection, wait: Wait, at: datetime) -> Gate:
    """The days that are waited whatever the temperature."""
    started, needed = projection.clock_started_at, wait.floor.days
    if started is None:
        return Gate("floor_days", False, needed, None, reason=_why(projection))
    have = (at - started).days
    if at - started < wait.floor:
        detail = f"{have} days of quarantine; at least {needed} are needed."
        return Gate("floor_days", False, needed, have, projection.floor_at, detail)
    return Gate("floor_days", True, needed, have)


def clean_inspections(projection: Projection, wait: Wait, clean_looks: int) -> Gate:
    """The last looks, far enough apart, the last one when all could be seen, each with enough units."""
    code, apart = "clean_inspections", wait.looks.apart.days
    again = wait.looks.again_after.days
    needed = (
        f"{wait.looks.looks} clean looks at least {apart} days apart, the last when young can be seen and "
        f"not {again} days ago"
    )
    if projection.sealed:
        needed = f"every cup found sealed, not {again} days ago"
    if projection.looks_made:
        return Gate(code, True, needed, clean_looks)
    if not projection.nights_made:
        asked = f"{wait.night_baits} clean baits left overnight are owed, the last when young can be seen."
        return Gate(code, False, needed, clean_looks, projection.next_look_at, asked)
    if projection.next_look_at is None or projection.clock_started_at is None:
        return Gate(code, False, needed, clean_looks, projection.next_look_at, _why(projection))
    detail = f"A clean look with enough units is owed from {projection.next_look_at:%Y-%m-%d %H:%M} UTC on."
    return Gate(code, False, needed, clean_looks, projection.next_look_at, detail)


def freedom(found: Sequence[Freedom], target: float, projection: Projection) -> Gate:
    """For the least favourable pest: the chance that none of it is left, by all looks since the clock."""
    needed = f"a chance of {target:.0%} that none is left, for each pest"
    if projection.clock_started_at is None:
        return Gate("freedom", False, needed, None, reason=_why(projection))
    if not found:
        return Gate("freedom", True, needed, "no pest to look for")
    worst = min(found, key=lambda judged: judged.probability)
    pest = worst.pest.replace("_", " ")
    have = f"{worst.probability:.1%} ({pest})"
    if worst.probability >= target:
        return Gate("freedom", True, needed, have)
    missed = f"pests we may still have missed: {worst.units_left:.2f}"
    if worst.highest < target:
        detail = f"Waiting can't clear this lot ({pest}; {missed}): treat again or reject."
    else:
        detail = f"More clean looks are needed for {pest}; {missed}."
    return Gate("freedom", False, needed, have, reason=detail)


def residue(facts: ResidueFacts, washed: Washed, at: datetime, animals: AnimalTest | None = None) -> Gate:
    """Nothing of a treatment, ours or the supplier's, clings to the plants in harmful amounts."""
    left = residue_left(facts, washed, at)
    died = died_in(animals)
    if left is None and died is not None and animals is not None:
        detail = f"{died} Change the water and test again."
        return Gate("residue", False, "animals that live in it", animals.in_words, reason=detail)
    if left is None:
        have = "nothing known" if animals is None else animals.in_words
        return Gate("residue", True, facts.needed, have)
    return Gate("residue", False, facts.needed, left.have, left.when, left.detail)


def temperature_log(projection: Projection, wait: Wait) -> Gate:
    """The readings speak for enough of the time, without a long gap."""
    code, needed = (
        "temperature_log",
        f"{wait.coverage:.0%} of the time, no gap over {wait.longest_gap_h:.0f} h",
    )
    share, gap = projection.credited_share, projection.longest_gap_h
    if share is None or gap is None:
        return Gate(code, False, needed, None, reason=_why(projection))
    have = f"{share:.0%} of the time, longest gap {gap:.0f} h"
    if share < wait.coverage or gap > wait.longest_gap_h:
        return Gate(code, False, needed, have, reason="Too little is known of the water's temperature.")
    return Gate(code, True, needed, have)


def no_hold(causes: Sequence[str]) -> Gate:
    """No stop is open."""
    if causes:
        return Gate("no_hold", False, 0, len(causes), reason=f"On hold: {', '.join(causes)}.")
    return Gate("no_hold", True, 0, 0)


def plants_healthy(health: Health, at: datetime) -> Gate:
    """What is left is not still dying of melt, treatment or something unknown."""
    code, most = "plants_healthy", health.lost_share_at_most
    share = lost_share(health, at)
    have = f"{share:.0%} lost"
    if most is None:
        return Gate(code, True, "not asked by this version of the policy", have)
    needed = f"at most {most:.0%} lost to melt, treatment or other causes in {health.within.days} days"
    if share <= most:
        return Gate(code, True, needed, have)
    detail = f"The plants are still dying: {have} in {health.within.days} days. Wait until they hold."
    return Gate(code, False, needed, have, held_at(health, most), detail)


def restricted_species(listed: Listed) -> Gate:
    """No official list forbids the plant where the house is; a list that binds elsewhere is only told."""
    code, needed = "restricted_species", "on no list that forbids it here"
    here = binding(listed)
    if here:
        return Gate(code, False, needed, listed.country, reason=" ".join(here))
    if not listed.lists:
        return Gate(code, True, needed, "on none that is known")
    told = " ".join(listing(listed.plant, entry) for entry in listed.lists)
    unknown = " The settings do not say in which country the house is." if listed.country is None else ""
    return Gate(code, True, needed, f"{told}{unknown}")


def no_regulated_pest(*, regulated_lock: bool) -> Gate:
    """No regulated pest was found in the lot or its water; nobody may override this."""
    if regulated_lock:
        detail = "A regulated pest was found: the lot and its water are locked."
        return Gate("no_regulated_pest", False, "none", "found", reason=detail)
    return Gate("no_regulated_pest", True, "none", "none")


def quantity_left(left: int) -> Gate:
    """There is something to clear."""
    if left < 1:
        return Gate("quantity_left", False, 1, left, reason="Nothing of this lot is left.")
    return Gate("quantity_left", True, 1, left)


def _unasked(code: str) -> Gate:
    """What is not asked of cups that nothing could get into."""
    return Gate(code, True, "not asked of sealed cups", "sealed")


def _moment(code: str, moment: datetime | None, projection: Projection, at: datetime, fear: str) -> Gate:
    if moment is None:
        return Gate(code, False, "a known moment", None, reason=_why(projection))
    shown = moment.isoformat()
    if at < moment:
        detail = f"{fear} until {moment:%Y-%m-%d %H:%M} UTC."
        return Gate(code, False, shown, at.isoformat(), moment, detail)
    return Gate(code, True, shown, at.isoformat())


def _why(projection: Projection) -> str:
    return projection.reasons[0] if projection.reasons else "Not known yet."
