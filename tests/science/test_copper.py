"""Copper caps by form: assumed figures, no source, kept by decision."""

import pytest

from service.science.copper import CopperCap, copper_cap
from service.science.domain import OutOfDomain


def test_ionic_copper_warns_above_its_usual_dose_and_blocks_at_one_mg_per_l() -> None:
    assert copper_cap("ionic") == CopperCap(0.6, 1.0)


def test_amine_blocks_where_ionic_does_and_chelates_later() -> None:
    assert copper_cap("amine") == CopperCap(None, 1.0)
    assert copper_cap("chelate") == CopperCap(None, 2.5)


@pytest.mark.parametrize("form", ["", "Ionic", "unknown"])
def test_copper_of_an_unrecorded_form_has_no_cap_and_is_refused(form: str) -> None:
    with pytest.raises(OutOfDomain, match="ionic, amine, chelate"):
        copper_cap(form)
