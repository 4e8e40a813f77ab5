"""Written treatments for tests."""

from copy import deepcopy
from typing import Any

from tests.api import Api

REST = {"n": 1, "kind": "rinse", "title": "Wash", "duration": {"target_s": 60, "min_s": 30, "max_s": 600}}


def dip(
    code: str, material: str, substance: str, dose: float, unit: str = "mg/L", **changes: Any
) -> dict[str, Any]:
    """A wash and a dip of a minute in one material."""
    bath = {
        "n": 2,
        "kind": "dip",
        "title": "Dip",
        "duration": {"target_s": 60, "min_s": 30, "max_s": 600},
        "material": material,
        "dose": {"value": dose, "unit": unit},
    }
    target = {"substance": substance, "value": dose * (1000 if unit == "g/L" else 1), "unit": "mg/L"}
    return {
        "code": code,
        "method": "salt_dip",
        "name": f"Test of {material}",
        "substance": substance,
        "target": target,
        "steps": [deepcopy(REST), bath],
        "cautions": ["Open a window."],
        "disposal": "As local rules say.",
        **changes,
    }


def written(api: Api, body: dict[str, Any]) -> Any:
    """A protocol of the nursery's own."""
    return api.manager.made("/protocols", body)


def sheet(api: Api, code: str, litres: float | dict[str, Any], number: int = 1, **more: Any) -> Any:
    """The mixing sheet of a protocol version."""
    volume = litres if isinstance(litres, dict) else {"value": litres, "unit": "L"}
    body = {"protocol": code, "version": number, "water_volume": volume, **more}
    return api.grower.made("/mixing-sheets", body)


def amounts_of(made: Any, n: int = 2) -> Any:
    """The amounts of one step of a sheet."""
    return made["steps"][n - 1]["amounts"]
