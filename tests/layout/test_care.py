from dataclasses import replace

import pytest

from sheetgen.layout.care import careful_protocol, counts_as_under_18
from sheetgen.model.settings import Person
from sheetgen.store.protocols import find_protocol
from tests.sheets import settings_with

# under_18 on the roster, minors in the class, whether the sheet is made for someone under 18
PEOPLE = (
    ("yes", "none", True),
    ("yes", "some", True),
    ("yes", "all", True),
    ("no", "none", False),
    ("no", "some", False),
    ("no", "all", True),
    ("", "none", False),
    ("", "some", True),
    ("", "all", True),
)


@pytest.mark.parametrize(("under_18", "minors", "expected"), PEOPLE)
def test_who_counts_as_under_18(under_18: str, minors: str, expected: bool) -> None:
    assert counts_as_under_18(Person("S01", "Ada", "Fen", under_18=under_18), minors) == expected


# protocol, under 18, youth estimate, estimates, sites left, equations left
CAREFUL = (
    ("seven-sites", False, "off", "on", 7, 2),
    ("seven-sites", False, "on", "on", 7, 2),
    ("seven-sites", False, "off", "sums-only", 7, 0),
    ("seven-sites", True, "off", "on", 2, 0),
    ("seven-sites", True, "on", "on", 2, 0),
    ("three-sites-men", True, "on", "on", 1, 0),
    ("three-sites-women", True, "on", "on", 2, 0),
    ("four-sites", False, "off", "on", 4, 10),
    ("four-sites", True, "on", "on", 2, 0),
    ("youth-two-sites", True, "off", "on", 2, 0),
    ("youth-two-sites", True, "on", "on", 2, 2),
    ("youth-two-sites", True, "on", "sums-only", 2, 0),
    ("youth-two-sites", False, "off", "on", 2, 2),
    ("folds-only", True, "on", "on", 4, 0),
)


@pytest.mark.parametrize(("protocol_id", "under_18", "youth", "estimates", "sites", "equations"), CAREFUL)
def test_what_is_left_of_a_protocol(
    protocol_id: str, under_18: bool, youth: str, estimates: str, sites: int, equations: int
) -> None:
    settings = settings_with(
        protocol_id=protocol_id, under_18=under_18, youth_estimate=youth, estimates=estimates
    )
    left = careful_protocol(find_protocol(protocol_id), settings)
    assert (len(left.sites), len(left.equations)) == (sites, equations)
    assert not (under_18 and any(site.trunk for site in left.sites))
    assert equations > 0 or (left.conversions, left.default_conversion) == ((), "")


def test_protocol_of_an_adult_is_left_as_it_is() -> None:
    protocol = find_protocol("seven-sites")
    assert careful_protocol(protocol, settings_with()) == protocol


def test_sites_that_are_left_keep_their_order_and_the_rest_of_the_protocol_stays() -> None:
    protocol = find_protocol("seven-sites")
    left = careful_protocol(protocol, settings_with(under_18=True))
    assert [site.word for site in left.sites] == ["triceps", "thigh"]
    assert (left.identifier, left.standard, left.notes) == (
        "seven-sites",
        protocol.standard,
        protocol.notes,
    )


def test_care_beats_a_range_of_ages_that_the_protocol_gives() -> None:
    """An equation for people of 16 is published; it needs trunk sites, so nobody of 16 is asked for them."""
    protocol = find_protocol("four-sites")
    assert min(equation.age_minimum for equation in protocol.equations) == 16
    left = careful_protocol(protocol, settings_with(under_18=True, youth_estimate="on"))
    assert (len(left.sites), left.equations) == (2, ())


def test_protocol_of_trunk_sites_only_has_no_site_left() -> None:
    protocol = find_protocol("seven-sites")
    trunk = replace(protocol, sites=tuple(site for site in protocol.sites if site.trunk))
    assert careful_protocol(trunk, settings_with(under_18=True)).sites == ()
