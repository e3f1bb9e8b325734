"""The forms of a lead's facts and people: enter, correct, remove; bad input loses nothing."""

from dataclasses import dataclass, field
from typing import Any

import pytest

from pipeline.leads.merging import merge
from pipeline.leads.models import Contact, Decision, Funding, Lead, LogEntry, Proposal
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory
from tests.leads.pages import fill, form_of, url


@dataclass
class Kind:
    """A kind of fact, what is typed for it, and what is corrected."""

    name: str
    rows: Any
    typed: dict[str, str]
    corrected: dict[str, str]
    words: str = ""
    stored: dict[str, Any] = field(default_factory=dict)


KINDS = [
    Kind(
        "contact",
        Contact.objects,
        {"name": "Ines Faro", "email": "ines@alder.example", "timezone": "Europe/Lisbon"},
        {"role": "runs the mill"},
    ),
    Kind(
        "log",
        LogEntry.objects,
        {"channel": "call", "who": "Ines", "gist": "Asked for dates."},
        {"gist": "Asked for two dates."},
    ),
    Kind(
        "decision",
        Decision.objects,
        {"kind": "no budget yet", "reason": "Nothing left.", "funding_from": "a grant"},
        {"reason": "Nothing left this year."},
    ),
    Kind("proposal", Proposal.objects, {"fee": "900.50", "note": "Two days."}, {"fee": "950"}),
    Kind("funding", Funding.objects, {"note": "The grant came."}, {"note": "Half of it came."}),
]
EACH = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


@pytest.fixture
def lead(cast) -> Lead:
    return LeadFactory(team=cast.team, organisation="Alder Mill")


def enter(browser, lead, kind):
    at = url(f"{kind.name}-new", lead.pk)
    page = browser.post(at, fill(browser.get(at), **kind.typed))
    assert page.status_code == 302, page.context["form"].errors
    return kind.rows.get(lead=lead)


@EACH
def test_a_fact_is_entered_and_posted_twice_it_is_one(browser, cast, lead, kind):
    at = url(f"{kind.name}-new", lead.pk)
    typed = fill(browser.get(at), **kind.typed)

    first, second = browser.post(at, typed), browser.post(at, typed)

    assert first.url == second.url == url("lead", lead.pk)
    row = kind.rows.get(lead=lead)
    assert row.team == cast.team
    for name, value in kind.typed.items():
        assert str(getattr(row, name)).startswith(value)
    if kind.name != "contact":
        assert (row.recorded_at, row.recorded_by) == (NOW, cast.member)


@EACH
def test_a_fact_is_corrected_and_the_second_pen_sees_both(browser, lead, kind):
    row = enter(browser, lead, kind)
    at = url(f"{kind.name}-edit", row.pk)
    one, two = browser.get(at), browser.get(at)
    (name, value), *_ = kind.corrected.items()

    assert browser.post(at, fill(one, **kind.corrected)).url == url("lead", lead.pk)
    page = browser.post(at, fill(two, **{name: "7"}))

    assert page.status_code == 409
    assert [(d.name, d.typed) for d in page.context["differences"]] == [(name, "7")]
    row.refresh_from_db()
    assert str(getattr(row, name)).startswith(value)


@EACH
def test_opened_and_saved_untouched_a_fact_stays_as_it_was(browser, lead, kind):
    row = enter(browser, lead, kind)
    before = kind.rows.values().get(pk=row.pk)
    at = url(f"{kind.name}-edit", row.pk)

    browser.post(at, fill(browser.get(at)))

    after = kind.rows.values().get(pk=row.pk)
    assert {**after, "version": 1} == {**before, "version": 1}


@EACH
def test_a_fact_is_removed_on_a_button_and_the_second_click_changes_nothing(browser, lead, kind):
    row = enter(browser, lead, kind)
    at = url(f"{kind.name}-remove", row.pk)
    assert at in browser.get(url(f"{kind.name}-edit", row.pk)).content.decode()
    page = browser.get(at)
    assert kind.rows.filter(pk=row.pk).exists()

    first, second = browser.post(at, fill(page)), browser.post(at, fill(page))

    assert first.url == second.url == url("lead", lead.pk)
    assert not kind.rows.exists()
    assert browser.get(at).status_code == 404


@EACH
def test_what_is_typed_for_a_lead_that_was_merged_goes_to_the_one_that_was_kept(
    browser, cast, lead, kind
):
    at = url(f"{kind.name}-new", lead.pk)
    typed = fill(browser.get(at), **kind.typed)
    kept = LeadFactory(team=cast.team)
    merge(kept=kept, gone=lead, member=cast.member, now=NOW)

    assert browser.post(at, typed).url == url("lead", kept.pk)
    assert kind.rows.get().lead == kept


@pytest.mark.parametrize(
    ("typed", "by_month", "stored", "shown"),
    [
        ("2026-09", True, "2026-09-01", "2026-09"),
        ("2026-9", True, "2026-09-01", "2026-09"),
        ("2026-09-14", False, "2026-09-14", "2026-09-14"),
        ("9999-12", True, "9999-12-01", "9999-12"),
        ("", True, "None", ""),
    ],
)
def test_expected_money_is_typed_as_a_month_or_a_day(
    browser, lead, typed, by_month, stored, shown
):
    at = url("decision-new", lead.pk)
    browser.post(at, fill(browser.get(at), kind="no budget yet", funding_expected_on=typed))

    decision = Decision.objects.get()
    assert decision.expected_by_month is by_month
    assert str(decision.funding_expected_on) == stored
    page = browser.get(url("decision-edit", decision.pk))
    assert form_of(page).get("funding_expected_on") == [shown]


def test_the_page_takes_the_decision_named_in_its_address(browser, lead):
    page = browser.get(url("decision-new", lead.pk), {"kind": "engaged"})

    assert form_of(page)["kind"] == ["engaged"]
    assert form_of(page)["currency"] == ["EUR"]


BAD = [
    ("decision", "kind", "lost", "Select a valid choice"),
    ("decision", "kind", "", "required"),
    ("decision", "day", "", "required"),
    ("decision", "day", "31.02.2026", "year-month-day"),
    ("decision", "day", "2026-02-31", "year-month-day"),
    ("decision", "day", "0001-01-01", "four digits"),
    ("decision", "day", "9999-12-31", "still to come"),
    ("decision", "day", "12026-01-01", "year-month-day"),
    ("decision", "reason", "a\0b", "Null characters"),
    ("decision", "fee", "5", "“engaged” only"),
    ("decision", "fee", "five", "decimal point"),
    ("decision", "fee", "1" + "0" * 15, "no more than"),
    ("decision", "fee", "-1", "greater than or equal to 0"),
    ("decision", "currency", "XXZ", "three letters"),
    ("decision", "funding_expected_on", "autumn", "a month such as 2026-09"),
    ("decision", "funding_expected_on", "2026-13", "a month such as 2026-09"),
    ("decision", "funding_expected_on", "2026-W37-1", "a month such as 2026-09"),
    ("decision", "funding_expected_on", "0001-01", "four digits"),
    ("decision", "funding_expected_on", "a\0b", "a month such as 2026-09"),
    ("decision", "funding_from", "x" * 201, "at most 200"),
    ("proposal", "sent_on", "9999-12-31", "still to come"),
    ("proposal", "sent_on", "0001-01-01", "four digits"),
    ("proposal", "fee", "1" + "0" * 15, "no more than"),
    ("proposal", "currency", "\0", "Null characters"),
    ("proposal", "note", "a\0b", "Null characters"),
    ("funding", "arrived_on", "9999-12-31", "still to come"),
    ("funding", "arrived_on", "soon", "year-month-day"),
    ("funding", "note", "a\0b", "Null characters"),
    ("log", "day", "9999-12-31", "still to come"),
    ("log", "channel", "pigeon", "Select a valid choice"),
    ("log", "who", "x" * 121, "at most 120"),
    ("log", "gist", "  ", "required"),
    ("log", "gist", "a\0b", "Null characters"),
    ("contact", "name", "x" * 121, "at most 120"),
    ("contact", "email", "ines", "valid email"),
    ("contact", "role", "a\0b", "Null characters"),
    ("contact", "timezone", "Moon/Base", "time zone such as"),
    ("contact", "timezone", "a\0b", "Null characters"),
]


@pytest.mark.parametrize(("name", "box", "typed", "says"), BAD)
@pytest.mark.parametrize("page_name", ["new", "edit"])
def test_bad_input_names_the_field_and_keeps_what_was_typed(
    browser, lead, page_name, name, box, typed, says
):
    kind = next(kind for kind in KINDS if kind.name == name)
    pk = enter(browser, lead, kind).pk if page_name == "edit" else lead.pk
    before = list(kind.rows.values())
    at = url(f"{name}-{page_name}", pk)
    whole = {**kind.typed, box: typed}

    page = browser.post(at, fill(browser.get(at), **whole))

    assert page.status_code == 422
    assert says in "".join(page.context["form"].errors[box])
    held = form_of(page)
    for name, value in whole.items():
        # of several to choose from, none is chosen where the choice is unknown
        if name not in ("kind", "channel") or name != box:
            assert held[name] == [value], name
    assert list(kind.rows.values()) == before


def test_a_person_needs_a_name_or_an_address(browser, lead):
    at = url("contact-new", lead.pk)

    page = browser.post(at, fill(browser.get(at), role="runs the mill"))

    assert page.status_code == 422
    assert page.context["form"].errors["name"] == ["Give a name or an e-mail address."]


def test_a_fee_with_no_budget_is_mended_by_choosing_engaged(browser, lead):
    at = url("decision-new", lead.pk)
    page = browser.post(at, fill(browser.get(at), kind="no budget yet", fee="5000"))
    assert "Empty it, or choose that decision." in page.content.decode()

    browser.post(at, fill(page, kind="engaged"))

    decision = Decision.objects.get()
    assert (decision.kind, str(decision.fee), decision.currency) == ("engaged", "5000.000", "EUR")
    lead.refresh_from_db()
    assert (lead.standing, lead.standing_since) == ("engaged", TODAY)


@pytest.mark.parametrize(("typed", "shown"), [("900.5", "900.50"), ("1.125", "1.125")])
def test_a_stored_amount_is_shown_with_two_places_or_all_it_has(browser, lead, typed, shown):
    at = url("proposal-new", lead.pk)
    browser.post(at, fill(browser.get(at), fee=typed))

    page = browser.get(url("proposal-edit", Proposal.objects.get().pk))

    assert form_of(page)["fee"] == [shown]


def test_a_very_long_gist_is_taken(browser, lead):
    at = url("log-new", lead.pk)
    browser.post(at, fill(browser.get(at), channel="call", gist="é" * 300_000))

    assert len(LogEntry.objects.get().gist) == 300_000
