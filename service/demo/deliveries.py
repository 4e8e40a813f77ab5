"""Who delivers what to the demo's nursery, and when. All names are invented."""

from collections.abc import Iterator
from functools import partial

from service.demo.bench import Act, Bench

Lines = dict[str, tuple[str, int, str]]  # name of the lot in the story: plant, quantity, unit of sale
FENMARSH, REEDHOLM = "Fenmarsh Growers", "Reedholm Tropicals"
COUNTRIES = {FENMARSH: "NL", REEDHOLM: "DK"}
DELIVERIES: tuple[tuple[float, str, str, Lines], ...] = (
    (
        0,
        FENMARSH,
        "Fenmarsh Growers deliver four lots",
        {
            "anubias": ("anubias-barteri", 24, "pot"),
            "fern": ("leptochilus-pteropus", 30, "pot"),
            "sword": ("aquarius-grisebachii", 20, "pot"),
            "vallis": ("vallisneria-spiralis", 60, "pot"),
        },
    ),
    (
        2,
        REEDHOLM,
        "Reedholm Tropicals deliver four lots",
        {
            "crypt": ("cryptocoryne-wendtii", 40, "pot"),
            "moss": ("taxiphyllum-barbieri", 15, "portion"),
            "bacopa": ("bacopa-caroliniana", 25, "bunch"),
            "hygro": ("hygrophila-corymbosa", 12, "pot"),
        },
    ),
    (
        12,
        FENMARSH,
        "Fenmarsh Growers deliver two more",
        {"bolbitis": ("bolbitis-heudelotii", 18, "pot"), "marsilea": ("marsilea-crenata", 16, "pot")},
    ),
    (
        35,
        REEDHOLM,
        "the newest delivery: two lots",
        {"ludwigia": ("ludwigia-repens", 20, "pot"), "staurogyne": ("staurogyne-repens", 22, "pot")},
    ),
)


def deliveries(bench: Bench) -> Iterator[Act]:
    """The suppliers are met, then each delivery comes in."""
    suppliers: dict[str, str] = {}

    def meet(name: str, country: str) -> None:
        suppliers[name] = bench.grower.post("/suppliers", {"name": name, "country": country})["id"]

    def deliver(day: float, name: str, lines: Lines) -> None:
        bench.receive(day, suppliers[name], lines)

    for name, country in COUNTRIES.items():
        yield -0.6, "", partial(meet, name, country)
    for day, name, told, lines in DELIVERIES:
        yield day, told, partial(deliver, day, name, lines)
