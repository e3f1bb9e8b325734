"""Names of the same organisation are recognised however they are written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.leads.returning import plain_name, similar
from tests.factories import ContactFactory, LeadFactory


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("Alder Mill", "alder  MILL"),
        ("Alder Mill", "Alder-Mill, Ltd."),
        ("Alder Mill", "AlderMill GmbH & Co. KG"),
        ("Alder Mill", "Alder Mill S.A."),
        ("Alder Mill", "Alder Mill Sp. z o.o."),
        ("École du Port", "ECOLE DU PORT SARL"),
        ("Smith & Daughters", "Smith and Daughters"),
        ("Straße 9", "STRASSE 9"),
    ],
)
def test_case_spaces_punctuation_accents_and_legal_endings_do_not_count(one, two):
    assert plain_name(one) == plain_name(two)


@pytest.mark.parametrize(
    ("one", "two"),
    [("Alder Mill", "Alder Mills"), ("Alder Mill", "Mill Alder"), ("9 Elms", "8 Elms")],
)
def test_other_names_stay_apart(one, two):
    assert plain_name(one) != plain_name(two)


@pytest.mark.parametrize("name", ["Limited", "Co.", "株式会社", "A"])
def test_a_name_that_is_all_ending_or_all_another_script_still_tells_something(name):
    assert plain_name(name)


@given(st.text(max_size=60))
def test_any_text_has_a_plain_name_that_is_its_own(text):
    plain = plain_name(text)
    assert plain_name(plain.upper()) in (plain, plain_name(plain))
    assert not any(c.isspace() for c in plain)


def test_names_without_a_letter_match_nothing(cast):
    LeadFactory(team=cast.team, organisation="!!!")

    assert similar(cast.team, organisation="???", emails=[""]) == []


def test_an_empty_address_matches_nobody(cast):
    ContactFactory(lead=LeadFactory(team=cast.team), email="")

    assert similar(cast.team, organisation="Alder Mill", emails=[""]) == []
