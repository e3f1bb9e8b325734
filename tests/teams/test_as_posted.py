"""A stored value goes into a form and comes back from it as it was, whatever its kind."""

from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest
from django import forms
from django.utils import timezone

from pipeline.leads.models import Source
from pipeline.teams.forms import as_posted, shown
from tests.factories import SourceFactory

MOMENT = datetime(2026, 7, 3, 9, 30, tzinfo=UTC)
HERE = forms.DateTimeField(
    widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
)
WAYS = [("talk", "talking"), ("write", "writing"), ("More", [("vote", "voting")])]
FIELDS = [
    (forms.CharField(required=False), "", [], "—"),
    (forms.CharField(), "a <b> & ü\nline", ["a <b> & ü\nline"], "a <b> & ü\nline"),
    (forms.IntegerField(), 0, ["0"], "0"),
    (forms.IntegerField(required=False), None, [], "—"),
    (forms.DecimalField(), Decimal("12500.000"), ["12500"], "12500"),
    (forms.DecimalField(), Decimal("0.125"), ["0.125"], "0.125"),
    (forms.DecimalField(), Decimal("1E+3"), ["1000"], "1000"),
    (forms.BooleanField(required=False), True, ["on"], "yes"),
    (forms.BooleanField(required=False), False, [], "no"),
    (forms.ChoiceField(choices=WAYS), "vote", ["vote"], "voting"),
    (forms.ChoiceField(choices=WAYS, required=False), "", [], "—"),
    (
        forms.MultipleChoiceField(choices=WAYS),
        ["write", "talk"],
        ["talk", "write"],
        "talking, writing",
    ),
    (
        forms.TypedMultipleChoiceField(choices=enumerate("abc"), coerce=int),
        [2, 0],
        ["0", "2"],
        "a, c",
    ),
    (
        forms.DateField(widget=forms.DateInput(format="%Y-%m-%d")),
        date(2026, 3, 3),
        ["2026-03-03"],
        "Tue 3 Mar 2026",
    ),
    (forms.TimeField(), time(9, 30), ["09:30:00"], "09:30:00"),
    # On the team's clock, two hours ahead of UTC in July.
    (HERE, MOMENT, ["2026-07-03T11:30"], "Fri 3 Jul 2026, 11:30"),
    (forms.DateTimeField(), MOMENT, ["2026-07-03 11:30:00"], "Fri 3 Jul 2026, 11:30"),
]


@pytest.fixture(autouse=True)
def in_berlin():
    with timezone.override("Europe/Berlin"):
        yield


def come_back(field: forms.Field, posted: list[str]) -> object:
    """Return what the field makes of a post, as Django reads it."""
    many = isinstance(field, forms.MultipleChoiceField | forms.ModelMultipleChoiceField)
    if isinstance(field, forms.BooleanField):
        return field.clean(bool(posted))
    return field.clean(posted if many else "".join(posted))


@pytest.mark.parametrize(("field", "value", "posted", "words"), FIELDS)
def test_a_value_is_posted_as_a_browser_would_and_told_in_words(field, value, posted, words):
    assert as_posted(field, value) == posted
    assert shown(field, value) == words


@pytest.mark.parametrize(("field", "value", "posted", "words"), FIELDS)
def test_what_was_posted_is_the_value_again(field, value, posted, words):
    found = come_back(field, posted)
    if isinstance(value, list):
        assert sorted(found) == sorted(value)
    else:
        assert found == value
    # So the same value typed and stored is no difference.
    assert as_posted(field, found) == posted


def test_rows_are_posted_by_key_and_told_by_name(cast):
    fair, friend = (SourceFactory(team=cast.team, name=n) for n in ("fair", "friend"))
    rows = Source.objects.for_team(cast.team)
    one = forms.ModelChoiceField(rows, required=False)
    many = forms.ModelMultipleChoiceField(rows)
    for value in (fair, fair.pk):
        assert as_posted(one, value) == [str(fair.pk)]
        assert shown(one, value) == "fair"
    assert (as_posted(one, None), shown(one, None)) == ([], "—")
    keys = sorted([str(fair.pk), str(friend.pk)])
    for several in ([friend, fair], rows.order_by("-name"), [friend.pk, fair.pk]):
        assert as_posted(many, several) == keys
        assert shown(many, several) == "fair, friend"
    assert come_back(one, [str(fair.pk)]) == fair
    assert set(come_back(many, keys)) == {fair, friend}


def test_a_row_of_another_team_is_told_to_nobody(cast):
    theirs = SourceFactory(team=cast.other_team, name="their secret source")
    field = forms.ModelChoiceField(Source.objects.for_team(cast.team))
    assert shown(field, theirs.pk) == "—"
