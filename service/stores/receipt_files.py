"""A file of deliveries: CSV whose columns are named like the members of a receipt.

Beside the body of a receipt a row holds the code of the material and the name of the shelf.
"""

from collections.abc import Mapping

from service.core.csv_tables import Table

REQUIRED = ("material", "batch_number", "quantity", "unit")
# Where the text of a column stands in the body of one receipt.
PLACES: Mapping[str, tuple[str, ...]] = {
    "material": ("material",),
    "batch_number": ("batch_number",),
    "quantity": ("quantity", "value"),
    "unit": ("quantity", "unit"),
    "at": ("at",),
    "late_reason": ("late_reason",),
    "container_size": ("container_size", "value"),
    "container_unit": ("container_size", "unit"),
    "made_on": ("made_on",),
    "opened_on": ("opened_on",),
    "expires_on": ("expires_on",),
    "strength": ("strength", "value"),
    "strength_basis": ("strength", "basis"),
    "strength_unit": ("strength", "unit"),
    "copper_form": ("copper_form",),
    "drop_ml": ("drop_ml",),
    "shelf": ("shelf",),
    "shelf_celsius": ("shelf_celsius",),
    "cost": ("cost", "value"),
    "currency": ("cost", "currency"),
    "confirm_duplicate": ("confirm_duplicate",),
}
RECEIPTS = Table(
    ("delivery", "deliveries"),
    PLACES,
    REQUIRED,
    most_rows=200,
    numbers=frozenset({"strength", "drop_ml", "shelf_celsius"}),
    answers=frozenset({"confirm_duplicate"}),
)
