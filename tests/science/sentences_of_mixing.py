"""What refusals say about amounts, strengths and mixing: the call, the parameter it names, the sentence."""

from collections.abc import Callable
from decimal import Decimal

from service.science import (
    alum,
    amounts,
    chlorine,
    copper,
    errors,
    measuring,
    neutralising,
    ratios,
    serial,
    solutions,
    strengths,
    substances,
)
from service.science.amounts import Amount

OF_MIXING: list[tuple[Callable[[], object], str, str]] = [
    (
        lambda: alum.aluminium_mg_per_l(1, "rock"),
        "form",
        f"form must be one of {', '.join(alum.FORMS)}, not 'rock'.",
    ),
    (lambda: Amount(Decimal("NaN"), "g"), "value", "An amount must be a finite number, not NaN."),
    (lambda: amounts.litres(Amount(Decimal(1), "g")), "unit", "g is a mass, L is a volume."),
    (
        lambda: amounts.dimension("pinch"),
        "unit",
        f"Unknown unit 'pinch'. Use one of: {' '.join(amounts.UNITS)}.",
    ),
    (
        lambda: amounts.litres(Amount(Decimal(1), "[drp]")),
        "drop_ml",
        "Drops need the calibrated volume of one drop of this bottle.",
    ),
    (
        lambda: chlorine.hypochlorite_remaining(125, [(365, 30)]),
        "segments",
        "More than half of the strength is lost by now: test it, or discard it.",
    ),
    (
        lambda: chlorine.hypochlorite_remaining(20, []),
        "g_per_l_at_filling",
        "Ageing is known from 25 to 160 g/L of chlorine, not for 20.",
    ),
    (
        lambda: chlorine.hypochlorite_remaining(60, [(1, 9)]),
        "celsius",
        "Ageing is known from 10 to 60 °C, not at 9 °C.",
    ),
    (
        lambda: copper.copper_cap("nano"),
        "form",
        "The copper's form must be one of ionic, amine, chelate, not 'nano'.",
    ),
    (
        lambda: copper.blind_limit_mg_per_l(0.5, 0),
        "fraction",
        "Nothing is changed or lost: blind doses pile up without end.",
    ),
    (
        lambda: copper.pond_sulfate_mg_per_l(49.0),
        "alkalinity_mg_per_l",
        "Below an alkalinity of 50 mg/L no copper sulfate is used, not at 49.0.",
    ),
    (
        lambda: errors.rounding_verdict("vinegar", 0),
        "substance",
        "No rounding limits are on record for 'vinegar'.",
    ),
    (lambda: errors.cap_mg_per_l("vinegar"), "substance", "No cap is on record for 'vinegar'."),
    (
        lambda: measuring.best_device(5, "mass", [measuring.BENCH[0]]),
        "devices",
        "There is no device that measures a mass.",
    ),
    (
        lambda: measuring.best_device(0.001, "volume", measuring.BENCH),
        "quantity",
        "Too little to measure with any device here: make a weaker stock solution.",
    ),
    (
        lambda: neutralising.neutraliser_g("sodium_sulfite", 5001, 1, "disposal"),
        "free_chlorine_mg_per_l",
        "Above 5000 mg/L of chlorine neutralising gets too hot: dilute first.",
    ),
    (
        lambda: neutralising.neutraliser_g("ascorbic_acid", 101, 1, "disposal"),
        "agent",
        "Above 100 mg/L of chlorine this agent sets chlorine gas free: "
        "use thiosulfate with bicarbonate, sodium ascorbate or sodium sulfite.",
    ),
    (
        lambda: ratios.read_dilution("a cup"),
        "text",
        "Write parts of stock + parts of water, like 1+19, not 'a cup'.",
    ),
    (lambda: ratios.dilution_to(2000, 1), "target_mg_per_l", "The stock is weaker than the target."),
    (
        lambda: ratios.parts_stock_with(19, 1000, 1),
        "target_mg_per_l",
        "The stock is no stronger than the target.",
    ),
    (
        lambda: serial.plan_stock(1e-9, "mass"),
        "quantity",
        f"1e-09 is too little even for {serial.MOST_STAGES} dilutions.",
    ),
    (
        lambda: solutions.stock_volume_ml(2000, 1, 1),
        "target_mg_per_l",
        "The stock is weaker than the target.",
    ),
    (
        lambda: solutions.added_stock_volume_ml(1000, 1, 1),
        "target_mg_per_l",
        "The stock is no stronger than the target.",
    ),
    (
        lambda: solutions.dilution_result_mg_per_l(1, 1001, 1),
        "stock_ml",
        "There is more stock than the total volume.",
    ),
    (
        lambda: solutions.rinses_until(1000, 10, 0.1, 0.001),
        "carry_over_l",
        "20 rinses are not enough: carry less over or neutralise.",
    ),
    (
        lambda: strengths.from_percent_by_mass(5, None),
        "density_g_per_ml",
        "density_g_per_ml is needed: per cent by mass says nothing of a litre without it.",
    ),
    (
        lambda: substances.substance("vinegar"),
        "substance",
        f"substance must be one of {', '.join(substances.SUBSTANCES)}, not 'vinegar'.",
    ),
    (
        lambda: substances.element_share("chlorine"),
        "substance",
        "A dose of chlorine is counted as it is, not by an element.",
    ),
    (
        lambda: substances.equivalent_g(1, "potassium_alum", "copper_sulfate"),
        "wanted",
        "copper_sulfate does not hold what counts in potassium_alum.",
    ),
]
