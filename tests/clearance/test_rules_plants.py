"""The gates of the plants themselves: not still dying, and on no list that binds where the house is."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from scipy.stats import CensoredData, ecdf

from service.clearance.rules import plants_healthy, restricted_species
from service.clearance.rules_plants import Died, Health, Listed, lost_share

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
TWO_WEEKS = timedelta(days=14)
UNION = {"jurisdiction": "EU", "list": "Union list", "date": "2016"}
VERMONT = {"jurisdiction": "US-VT", "list": "Noxious weeds", "date": "2012"}
LISTED = Listed("Cabomba caroliniana", [UNION, VERMONT], None, None)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def test_the_share_lost_is_one_less_the_product_limit_estimate() -> None:
    """Against scipy.stats.ecdf, which is the estimate of Kaplan and Meier for censored data."""
    died = [Died(day(1), 3, 20), Died(day(4), 2, 12), Died(day(6), 1, 10)]  # five were split off on day 2
    lives = CensoredData(uncensored=[1] * 3 + [4] * 2 + [6], right=[2] * 5 + [9] * 9)
    expected = ecdf(lives).cdf.evaluate(9)
    assert lost_share(Health(died, 0.2, TWO_WEEKS), day(9)) == pytest.approx(expected)


def test_a_lot_that_loses_more_than_allowed_waits_until_it_holds() -> None:
    health = Health([Died(day(20), 2, 20), Died(day(22), 3, 18)], 0.2, TWO_WEEKS)
    shut = plants_healthy(health, day(25))
    assert (shut.ok, shut.have, shut.when) == (False, "25% lost", day(34))
    assert shut.reason == "The plants are still dying: 25% lost in 14 days. Wait until they hold."
    assert shut.needed == "at most 20% lost to melt, treatment or other causes in 14 days"
    assert not plants_healthy(health, day(33.99)).ok
    assert plants_healthy(health, day(34)).ok


def test_what_is_allowed_itself_is_enough_and_later_losses_do_not_count_yet() -> None:
    health = Health([Died(day(20), 4, 20), Died(day(26), 9, 16)], 0.2, TWO_WEEKS)
    assert plants_healthy(health, day(25)).ok
    assert not plants_healthy(replace(health, lost_share_at_most=0.19), day(25)).ok


def test_a_policy_that_says_nothing_of_it_asks_nothing() -> None:
    gate = plants_healthy(Health([Died(day(20), 19, 20)], None, TWO_WEEKS), day(25))
    assert (gate.ok, gate.needed) == (True, "not asked by this version of the policy")


@pytest.mark.parametrize(
    ("country", "subdivision", "lists"),
    [
        ("DE", None, ["Union list,"]),
        ("US", "US-VT", ["Noxious weeds (in US-VT),"]),
        ("US", None, ["Noxious weeds (in US-VT),"]),  # the part of the country is not known
    ],
)
def test_a_list_that_binds_here_shuts_the_gate(country: str, subdivision: str, lists: list[str]) -> None:
    gate = restricted_species(replace(LISTED, country=country, subdivision=subdivision))
    assert (gate.ok, gate.have) == (False, country)
    assert gate.reason is not None
    assert all(name in gate.reason for name in lists)
    assert gate.reason.count("Check your local list.") == 1


@pytest.mark.parametrize(("country", "subdivision"), [("GB", None), ("US", "US-TX")])
def test_a_list_that_binds_elsewhere_is_told(country: str, subdivision: str | None) -> None:
    gate = restricted_species(replace(LISTED, country=country, subdivision=subdivision))
    assert gate.ok
    assert "Union list, as of 2016. Check your local list." in str(gate.have)
    assert "settings" not in str(gate.have)


def test_where_the_house_does_not_say_where_it_is_lists_are_told_and_nothing_is_shut() -> None:
    gate = restricted_species(LISTED)
    assert gate.ok
    assert "Noxious weeds (in US-VT), as of 2012. Check your local list." in str(gate.have)
    assert str(gate.have).endswith("The settings do not say in which country the house is.")


def test_a_plant_on_no_list_is_not_asked_about() -> None:
    gate = restricted_species(replace(LISTED, lists=[], country="DE"))
    assert (gate.ok, gate.have) == (True, "on none that is known")
