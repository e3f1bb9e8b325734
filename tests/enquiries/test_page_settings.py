"""An owner opens, words and closes the public page; it is closed until then."""

import pytest

from pipeline.enquiries.models import EnquiryPage
from tests.enquiries.pages import AT, enquire, open_page
from tests.leads.pages import fill, form_of, url

pytestmark = pytest.mark.django_db

EDIT = "/t/harbour/team/enquiries/edit/"


def test_no_team_has_an_open_page_until_its_owner_opens_it(cast, browser, sign_in):
    owner = sign_in(cast.owner)
    assert "Closed: nothing is shown" in owner.get(url("enquiry-page")).text
    assert browser.get(AT).status_code == 404

    typed = fill(owner.get(EDIT), is_open="on", introduction="We help.\nAsk.", agreement="Yes.")
    saved = owner.post(EDIT, typed, follow=True)

    assert "The page is open." in saved.text
    assert f"http://127.0.0.1:8000{AT}" in saved.text
    shown = browser.get(AT).text
    assert "We help.<br>Ask." in shown
    assert "Yes." in shown
    assert "Harbour Studio" in shown
    assert 'fill="#23594b"' in shown

    closed = fill(owner.get(EDIT))
    del closed["is_open"]
    assert "The page is closed." in owner.post(EDIT, closed, follow=True).text
    assert browser.get(AT).status_code == 404


def test_of_two_owners_at_once_the_second_sees_both_versions(cast, sign_in):
    open_page(cast.team)
    owner = sign_in(cast.owner)
    first, second = owner.get(EDIT), owner.get(EDIT)
    assert owner.post(EDIT, fill(first, introduction="First.")).status_code == 302

    answer = owner.post(EDIT, fill(second, introduction="Second."))

    assert answer.status_code == 409
    assert form_of(answer)["introduction"] == ["Second."]
    assert EnquiryPage.objects.get().introduction == "First."


def test_two_owners_who_open_it_first_at_once_do_not_undo_each_other(cast, sign_in):
    owner = sign_in(cast.owner)
    first, second = owner.get(EDIT), owner.get(EDIT)
    assert owner.post(EDIT, fill(first, introduction="First.")).status_code == 302
    assert owner.post(EDIT, fill(second, introduction="Second.")).status_code == 409


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("introduction", "x" * 1001, "at most 1000 characters"),
        ("introduction", "a\x07b", "can’t be seen"),
        ("agreement", "x" * 501, "at most 500 characters"),
        ("agreement", "a\0b", "Null characters are not allowed."),
    ],
)
def test_bad_input_names_the_field_and_keeps_what_was_typed(cast, sign_in, field, typed, says):
    owner = sign_in(cast.owner)
    answer = owner.post(EDIT, fill(owner.get(EDIT), **{field: typed}))
    assert answer.status_code == 422
    assert says in "".join(answer.context["form"].errors[field])
    assert form_of(answer)[field] == [typed]


def test_the_teams_page_leads_to_it_and_it_lists_what_came(page, cast, browser, sign_in):
    enquire(browser)
    reader = sign_in(cast.reader)
    assert url("enquiry-page") in reader.get(url("team")).text
    shown = reader.get(url("enquiry-page")).text
    assert "1 enquiry." in shown
    assert "Alder Mill" in shown
    assert EDIT not in shown


def test_its_address_can_be_changed_by_nobody_of_another_team(page, cast, sign_in):
    theirs = sign_in(cast.other_owner)
    assert theirs.get(EDIT).status_code == 404
    assert theirs.post(EDIT, {"is_open": ""}).status_code == 404
    assert sign_in(cast.member).get(EDIT).status_code == 403
    assert EnquiryPage.objects.get().is_open
