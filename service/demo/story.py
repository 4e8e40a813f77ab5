"""The story: who delivers what, what is done to it, and what goes wrong. All names are invented."""

from collections.abc import Iterator
from datetime import timedelta
from functools import partial
from typing import Any

from service.demo.bench import Act, Bench
from service.demo.client import Refusal
from service.demo.deliveries import deliveries

HOURS = 24
MINUTES = 60 / 3600
BLEACH = (0.2, 2 * MINUTES, 0.05, 0.1, 0.05)
ALUM = (0.2, 50, 0.05, 0.05)
PERMANGANATE = (0.2, 0.25, 0.1, 0.05)
PEROXIDE = (0.2, 0.1, 0.05)
TUBS = {"T1": 24, "T2": 24, "T3": 24, "T4": 24, "T5": 23, "T6": 24, "T7": 24, "T8": 22}
COLD_TUB, COLD_WEEK, COLD_CELSIUS = "T5", (14, 21), 12
LAST_DAY = 42
HALF_A_WEEK = 3.5


def egg(count: int) -> dict[str, Any]:
    """Egg masses of a bladder snail, picked off."""
    return {"pest": "bladder_snail", "stage": "egg", "live": count, "dead": 0, "removed": True}


def adult(pest: str, count: int) -> dict[str, Any]:
    """Live adults, picked off."""
    return {"pest": pest, "stage": "adult", "live": count, "dead": 0, "removed": True}


def acts(bench: Bench) -> list[Act]:
    """Every act of the six weeks in order: (day, what is told, what is done)."""
    told = [
        *_set_up(bench),
        *deliveries(bench),
        *_dips(bench),
        *_copper_course(bench),
        *_surprises(bench),
        *_rounds(bench),
        *_last_looks(bench),
    ]
    return sorted(told, key=lambda act: act[0])


def _set_up(bench: Bench) -> Iterator[Act]:
    owner = bench.clients["owner"]
    house = {"time_zone": "Europe/Lisbon", "locale": "en_GB", "units": "si"}
    house["issuer_name"] = "Willowmere Water Plants"
    yield -0.9, "Willowmere Water Plants opens its books", lambda: owner.patch("/settings", house)
    yield -0.8, "", bench.learn
    for code, celsius in TUBS.items():
        yield -0.7, f"tub {code} is filled", partial(bench.tub, code, 40, celsius)
    made = (bench.start - timedelta(days=1)).date().isoformat()
    strength = {"value": 6.0, "basis": "naocl_ww"}
    yield (
        -0.5,
        "bleach, 6 % by weight",
        partial(bench.stock, -0.5, "bleach", 2, "L", strength=strength, made_on=made),
    )
    yield -0.5, "alum", partial(bench.stock, -0.5, "potassium-alum", 2, "kg")
    yield -0.5, "copper stock, 1 g/L", partial(bench.stock, -0.5, "copper-stock", 0.5, "L")
    yield -0.5, "thiosulfate", partial(bench.stock, -0.5, "thiosulfate", 500, "g")
    yield -0.5, "permanganate, 1 %", partial(bench.stock, -0.5, "permanganate-stock", 1, "L")
    yield -0.5, "peroxide, 3 %", partial(bench.stock, -0.5, "hydrogen-peroxide", 3, "L")


def _dips(bench: Bench) -> Iterator[Act]:
    trial = {"trial_stems_reason": "five stems of this kind stood it here before", "survived_here": 5}
    bucket = {"water_volume": {"value": 6, "unit": "L"}}
    yield 0.1, "fern: three egg masses under the leaves", partial(bench.look, 0.1, "fern", egg(3))
    yield from _carry_out(bench, 0.2, "bleach-dip", "T1", BLEACH, "anubias", **bucket)
    yield 0.3, "vallisneria does not stand bleach: the service refuses it", partial(_refused, bench, 0.3)
    yield from _carry_out(bench, 0.4, "alum-soak", "T2", ALUM, "fern", **trial)
    yield from _carry_out(bench, 0.5, "alum-soak", "T4", ALUM, "vallis", **trial)
    yield from _carry_out(bench, 2.2, "alum-soak", "T6", ALUM, "crypt", **trial)
    yield from _carry_out(bench, 2.3, "permanganate-dip", "T5", PERMANGANATE, "moss", **trial, **bucket)
    yield from _carry_out(bench, 2.4, "bleach-dip", "T7", BLEACH, "bacopa", **bucket)
    yield from _carry_out(
        bench, 12.2, "peroxide-dip", "T8", PEROXIDE, "bolbitis", "marsilea", **trial, **bucket
    )


def _carry_out(
    bench: Bench, day: float, protocol: str, tub: str, hours: tuple[float, ...], *names: str, **more: Any
) -> Iterator[Act]:
    yield (
        day,
        f"{' and '.join(names)}: {protocol} in tub {tub}",
        partial(bench.plan, day, protocol, tub, *names, **more),
    )
    moment = day + 0.001
    for n, lasted in enumerate(hours, 1):
        yield moment, "", partial(bench.step, moment, tub, n, lasted)
        moment += lasted / HOURS + 0.0001
    yield moment, f"{' and '.join(names)}: in quarantine", partial(bench.finish, moment, tub)


def _refused(bench: Bench, day: float) -> None:
    try:
        bench.plan(day, "bleach-dip", "T4", "vallis")
    except Refusal as refusal:
        if refusal.status != 409:
            raise
        return
    raise AssertionError("Bleach on vallisneria was not refused.")


def _copper_course(bench: Bench) -> Iterator[Act]:
    trial = {"trial_stems_reason": "five stems of this kind stood it here before", "survived_here": 5}
    yield (
        0.6,
        "sword: copper course for four weeks",
        partial(bench.plan, 0.6, "copper-course", "T3", "sword", **trial),
    )
    yield 0.61, "", partial(bench.step, 0.61, "T3", 1, 0.2)

    def soak(day: float, act: str) -> None:
        bench.grower.post(f"/treatments/{bench.running['T3']}/steps/2/{act}", bench.when(day))

    yield 0.63, "", partial(soak, 0.63, "start")
    for n, day in enumerate((4, 7, 11, 14, 18, 21, 25), 1):
        yield (
            day,
            f"sword: water change {n} with its copper again",
            partial(bench.change_water, day, "T3", redose=True),
        )
        yield day + 0.05, "", partial(bench.measure, day + 0.05, "T3", "copper", 0.4)
    yield 28.7, "", partial(soak, 28.7, "finish")
    yield 28.71, "", partial(bench.step, 28.71, "T3", 3, 0.05)
    yield 28.72, "sword: course done", partial(bench.finish, 28.72, "T3")
    for plain in (30, 33, 36.5):
        yield plain, "", partial(bench.change_water, plain, "T3")
    yield 37, "sword: copper no longer to be seen", partial(bench.measure, 37, "T3", "copper", 0.02)


def _surprises(bench: Bench) -> Iterator[Act]:
    yield (
        2.05,
        "hygro: eggs of an apple snail! Locked",
        partial(bench.look, 2.05, "hygro", {**adult("apple_snail", 1), "stage": "egg"}),
    )
    yield 2.1, "hygro: destroyed as the plant health service asked", partial(_destroy, bench, 2.1)
    yield (
        14.5,
        "crypt: two small snails in the water, the clock starts anew",
        partial(bench.look, 14.5, "crypt", adult("ramshorn_snail", 2)),
    )
    hold = {"cause": "melt", "reason": "leaves melt since the move, look again on Friday", **bench.when(38)}
    yield (
        38,
        "marsilea: on hold, the leaves melt",
        lambda: bench.grower.post(f"/lots/{bench.lots['marsilea']['id']}/holds", hold),
    )
    loss = {"quantity": 3, "cause": "melt", **bench.when(20)}
    yield (
        20,
        "crypt: three pots melted",
        lambda: bench.grower.post(f"/lots/{bench.lots['crypt']['id']}/losses", loss),
    )


def _destroy(bench: Bench, day: float) -> None:
    body = {"quantity": 12, "way": "destroyed", "reason": "regulated pest", **bench.when(day)}
    bench.grower.post(f"/lots/{bench.lots['hygro']['id']}/rejection", body)


def _rounds(bench: Bench) -> Iterator[Act]:
    for week in range(6):
        last = (week + 1) * 7
        for tub, celsius in TUBS.items():
            cold = tub == COLD_TUB and (week * 7, last) == COLD_WEEK
            word = f"tub {tub}: the heater failed, {COLD_CELSIUS} °C all week" if cold else ""
            yield last, word, partial(bench.log, week * 7, last, tub, COLD_CELSIUS if cold else celsius)
    for tub, first in {"T1": 3, "T2": 6, "T4": 6, "T6": 18, "T5": 6, "T7": 6, "T8": 16, "T3": 30}.items():
        yield (
            first,
            f"tub {tub}: twice a week the old water is strained, nothing",
            partial(bench.look, first, tub, method="strain"),
        )
        day = first + HALF_A_WEEK
        while day < LAST_DAY:
            yield day, "", partial(bench.look, day, tub, method="strain")
            day += HALF_A_WEEK
        yield (
            first + 4,
            f"tub {tub}: bait over night, nothing",
            partial(bench.look, first + 4, tub, method="bait"),
        )


def _last_looks(bench: Bench) -> Iterator[Act]:
    for name in ("anubias", "fern", "vallis", "bacopa", "sword", "crypt"):
        for day in (37.5, 41):
            yield day, f"{name}: every unit looked at, nothing", partial(bench.look, day, name)
    for day in (37.6, 41.1):
        yield day, "moss: teased apart and strained, nothing", partial(bench.look, day, "T5", method="strain")
