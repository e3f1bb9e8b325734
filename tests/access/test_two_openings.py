"""Of two who opened the same form the second is shown both versions, and loses nothing.

Every form is found on the pages (``forms_found.py``). One that makes something new carries a key,
one that edits a version; one with neither has its reason here.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.db import transaction
from django.forms import ModelForm
from django.test import Client

from pipeline.teams.forms import OnceForm, VersionedForm
from tests.access.everything import one_of_each
from tests.access.forms_found import Form, every_form, forms_of
from tests.access.test_input_that_hurts import NO_FILE, submit

# Boxes that a person changes, and pairs of changes, of which the first that is taken serves.
WORDS = ("Kiln first", "Kiln second")
TWO_CHANGES = {
    "text": [WORDS, ("1.25", "1.5")],
    "textarea": [WORDS],
    "date": [("2026-02-26", "2026-02-27")],
    "number": [("7", "8")],
    "url": [("https://first.example/", "https://second.example/")],
}
TYPED = {*TWO_CHANGES, "email", "select", "radio", "checkbox", "datetime-local", "month"}

# One box, whose second writer is told in words what it has become, and nothing is overwritten.
ONE_BOX = {"follow-up-put-off", "follow-up-give"}
# A page of many rows, which stores one more copy or is refused as a whole: see
# sessions/test_agendas.py and sessions/takeaways/test_lane_chart_page.py.
MANY_ROWS = {"format-edit", "lane-chart"}

# Forms with neither key nor version, and why the second of two overwrites nothing of the first.
NEITHER = {
    # what happened is told once: where it was told already, the page says so
    "deliverable-sent": "a deliverable that was sent is not sent again",
    "deliverable-waive": "a waived deliverable is not waived again",
    "follow-up-drop": "a dropped follow-up is not dropped again",
    "session-cancel": "a cancelled session is not cancelled again",
    "session-missed": "a missed session is not missed again",
    "unsent": "an answered deliverable is not answered for again",
    # each entry has its key, and says what it was typed over
    "desk-catch": "see sessions/desk/taking_in.py",
    # one choice, of which the last holds, as with a switch
    "member-role": "one choice among roles",
    "hand-over": "one choice; whoever is no owner any more is refused",
    "wanted": "a member's own choice of letters",
    # of oneself alone
    "account-name": "carries what it was",
    "account-address": "counts once the new address answers",
    "account-password": "asks for the password that holds",
    "second-factor": "a factor that is set up is not set up again",
    "sign-in": "changes nothing that is kept",
    "sign-in-link": "ends with its first use",
    "join": "ends with its first use",
    "sign-in-code": "changes nothing that is kept",
    "forgotten": "changes nothing that is kept",
    "rights-search": "changes nothing that is kept",
    "reset": "ends with its first use",
}
# Edited as rows of a page that carries the version for all of them.
ROWS_OF_A_PAGE = {"StepForm", "PromiseForm"}


@pytest.fixture
def forms(cast, sign_in) -> list[Form]:
    """Every form with boxes to fill that the team's owner finds, or anybody outside."""
    found = every_form(cast, one_of_each(cast), sign_in(cast.owner), Client())
    return [
        form
        for form in found
        if form.method == "post" and any(box.kind in TYPED for box in form.fields.values())
    ]


def edits(form: Form) -> bool:
    """Tell whether a form carries the version of what it was opened with."""
    return not {"version", "seen"}.isdisjoint(form.fields) and form.goes_to not in MAKES


# Carries what was seen when something new was made of it.
MAKES = {"format-new", "takeaway-send"}


def test_each_form_carries_a_key_or_a_version_or_has_its_reason(forms):
    bare = {form.goes_to for form in forms if not edits(form) and "submission" not in form.fields}
    assert bare - NEITHER.keys() == set()


def test_the_second_of_two_openings_sees_both_versions_and_loses_nothing(forms):
    elsewhere = ONE_BOX | MANY_ROWS
    edited = [form for form in forms if edits(form) and form.goes_to not in elsewhere]
    assert len(edited) > 15
    wrong = {form.name: said for form in edited if (said := what_goes_wrong(form))}
    assert not wrong, "\n".join(f"{name}: {said}" for name, said in wrong.items())


def what_goes_wrong(form: Form) -> str:
    """Send a form twice as it was opened, with two changes of one box; return what is wrong."""
    for name, box in form.fields.items():
        for first, second in TWO_CHANGES.get(box.kind, []):
            before = transaction.savepoint()
            said = two_openings(form, name, first, second)
            transaction.savepoint_rollback(before)
            if said != NOT_TAKEN:
                return said
    return NOT_TAKEN


NOT_TAKEN = "no change of any box was taken"


def as_opened(form: Form) -> dict[str, list[str]]:
    """Return what the button that saves would send; of a choice not yet made, the first."""
    sent = {name: box.values for name, box in form.fields.items() if box.values}
    for name, box in form.fields.items():
        if box.kind == "button" and "save" in box.offers:
            sent[name] = ["save"]
        if box.kind == "radio" and not box.values:
            sent[name] = box.offers[:1]
    return sent


def two_openings(form: Form, name: str, first: str, second: str) -> str:
    """Let two save what they opened, with their own change of a box; return what is wrong."""
    opened = as_opened(form)
    if submit(form, opened | {name: [first]}, NO_FILE).status_code != 302:
        return NOT_TAKEN
    answer = submit(form, opened | {name: [second]}, NO_FILE)
    if answer.status_code != 409:
        return f"{name}: the second got {answer.status_code}"
    again = next(
        (f for f in forms_of(form.page, answer.content.decode()) if f.goes_to == form.goes_to),
        None,
    )
    if again is None or again.fields[name].values != [second]:
        return f"{name}: what was typed is lost"
    differences = {one.name: one for one in answer.context.get("differences", ())}
    if differences and name not in differences:
        return f"{name}: the difference is not shown"
    if not differences and first not in answer.content.decode():
        return f"{name}: what the first wrote is not shown"
    again.browser = form.browser
    saved = submit(again, as_opened(again), NO_FILE)
    return "" if saved.status_code == 302 else f"{name}: once seen it can't be saved"


def leaves(form: type[Any]) -> set[type[Any]]:
    """Return the classes of our own below ``form`` that pages show."""
    below = {leaf for sub in form.__subclasses__() for leaf in leaves(sub)}
    ours = form.__module__.startswith(("pipeline.", "sessions."))
    return below or ({form} if ours else set())


def test_each_class_of_forms_that_edit_rows_is_among_them(forms):
    shown = set()
    for page, browser in {(form.page, form.browser) for form in forms if edits(form)}:
        for context in browser.get(page).context or ():
            values = [value for layer in context.dicts for value in layer.values()]
            shown |= {type(value) for value in values if isinstance(value, ModelForm)}
    rows = {form for form in leaves(ModelForm) if not issubclass(form, OnceForm)}
    missing = {form.__name__ for form in rows - shown if issubclass(form, VersionedForm)}
    assert missing == set()
    assert {f.__name__ for f in rows if not issubclass(f, VersionedForm)} <= ROWS_OF_A_PAGE
