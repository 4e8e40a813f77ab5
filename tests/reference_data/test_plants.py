"""Plants, what they tolerate, and where they are restricted."""

import re
from typing import get_args

import pytest

from service.reference.loader import shipped
from service.reference.plants import Plant
from service.reference.restrictions import restrictions_of
from service.reference.words import Method

PLANTS = shipped().plants
RESTRICTIONS = shipped().restrictions


def jurisdictions(*names: str) -> set[str]:
    return {listed.jurisdiction for listed in restrictions_of(names, RESTRICTIONS)}


def test_the_usual_plants_of_the_trade_are_there() -> None:
    assert len(PLANTS) >= 36
    assert {"anubias-barteri", "leptochilus-pteropus", "vallisneria-spiralis"} <= PLANTS.keys()


@pytest.mark.parametrize("plant", PLANTS.values(), ids=lambda plant: plant.code)
def test_a_plant_has_a_word_on_every_method(plant: Plant) -> None:
    assert set(plant.tolerances) == set(get_args(Method))
    assert plant.tolerances["quarantine_only"].takes == "tolerates"


@pytest.mark.parametrize("plant", PLANTS.values(), ids=lambda plant: plant.code)
def test_a_plant_is_coded_by_its_accepted_name(plant: Plant) -> None:
    assert plant.code == plant.scientific_name.lower().replace(" ", "-")
    assert re.fullmatch(r"[A-Z][a-z]+( [a-z]+)?", plant.scientific_name)
    assert plant.trade_names


def test_no_name_belongs_to_two_plants() -> None:
    names = [name for plant in PLANTS.values() for name in (plant.scientific_name, *plant.synonyms)]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("code", "method", "takes", "grade"),
    [
        # George, Joseph & Korath 2015: explants survived 15 % commercial bleach for 10 min
        ("anubias-barteri", "bleach_dip", "tolerates", "published"),
        # Mal et al. 2002: 1 mg/L copper sulfate stops growth
        ("elodea-canadensis", "copper_course", "avoid", "published"),
        # Al-Hamdani & Blair 2004: declines only at 2.5-3.0 mg/L copper
        ("salvinia-minima", "copper_course", "tolerates", "published"),
        # keepers' consensus: common practice, no source
        ("vallisneria-spiralis", "bleach_dip", "avoid", "practice"),
        ("pogostemon-stellatus", "bleach_dip", "avoid", "practice"),
        ("cryptocoryne-wendtii", "bleach_dip", "caution", "practice"),
        ("pistia-stratiotes", "carbonated_water", "unknown", "assumption"),
    ],
)
def test_tolerances_are_those_of_the_source(code: str, method: Method, takes: str, grade: str) -> None:
    tolerance = PLANTS[code].tolerances[method]
    assert (tolerance.method, tolerance.takes, tolerance.grade) == (method, takes, grade)


def test_a_note_goes_with_the_method_it_speaks_of() -> None:
    assert "Killed by 2 min" in str(PLANTS["pogostemon-stellatus"].tolerances["bleach_dip"].note)
    assert PLANTS["pogostemon-stellatus"].tolerances["alum_soak"].note is None


@pytest.mark.parametrize("code", [c for c, p in PLANTS.items() if p.growth_form in {"moss", "liverwort"}])
def test_no_moss_or_liverwort_is_put_into_copper(code: str) -> None:
    assert PLANTS[code].tolerances["copper_course"].takes == "avoid"
    assert PLANTS[code].look_class == "moss_fine"


@pytest.mark.parametrize(
    ("name", "where"),
    [
        # 7 CFR 360.200(a), Vermont class A, Implementing Regulations (EU) 2016/1141, 2017/1263, 2019/1262
        ("Hygrophila polysperma", {"US", "US-VT"}),
        ("Limnophila sessiliflora", {"US"}),
        ("Hydrilla verticillata", {"US", "US-VT"}),
        ("Cabomba caroliniana", {"EU", "US-VT"}),
        ("Myriophyllum heterophyllum", {"EU", "US-VT"}),
        ("Salvinia molesta", {"EU", "US", "US-VT"}),
        ("Salvinia adnata", {"EU", "US", "US-VT"}),
        ("Egeria densa", {"US-VT"}),
        ("Eichhornia azurea", {"US"}),
        ("Anubias barteri", set()),
        ("Hygrophila corymbosa", set()),
    ],
)
def test_a_plant_is_restricted_where_the_list_names_it(name: str, where: set[str]) -> None:
    assert jurisdictions(name) == where


@pytest.mark.parametrize(
    "written",
    [
        "hygrophila POLYSPERMA",
        "Hygrophila  polysperma",
        "Hygrophila × polysperma",
        "Hygrophila x polysperma",
        "Hygrophila polysperma var. rosanervig",
    ],
)
def test_case_hybrid_mark_and_variety_do_not_hide_a_listed_plant(written: str) -> None:
    # 7 CFR 360.200: a scientific name includes all subordinate taxa
    assert jurisdictions(written) == {"US", "US-VT"}


def test_a_longer_epithet_is_another_plant() -> None:
    assert jurisdictions("Hygrophila polyspermatica") == set()


def test_a_plant_is_restricted_under_its_old_names_too() -> None:
    assert jurisdictions("Unlisted name", "Egeria densa") == {"US-VT"}
    assert {listed.jurisdiction for listed in PLANTS["elodea-densa"].restricted} == {"US-VT"}
    assert {listed.jurisdiction for listed in PLANTS["pontederia-crassipes"].restricted} == {"EU"}
    assert PLANTS["anubias-barteri"].restricted == ()


def test_the_federal_list_has_its_nineteen_aquatic_weeds() -> None:
    # 7 CFR 360.200(a), counted
    assert sum(listed.jurisdiction == "US" for listed in RESTRICTIONS) == 19


def test_union_listings_say_their_year() -> None:
    # EPPO Reporting Service 2022/178: additions of 2016, 2017, 2019 and 2022
    years = {listed.date for listed in RESTRICTIONS if listed.jurisdiction == "EU"}
    assert years == {"2016", "2017", "2019", "2022"}
