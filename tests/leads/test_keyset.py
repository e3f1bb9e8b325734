"""Walking from page to page meets every lead exactly once, both ways, in every order."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.leads.forms.filters import ORDERS
from pipeline.leads.keyset import page
from pipeline.leads.models import Lead
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory

# Few values, so that many rows are equal in what they are ordered by.
ROWS = st.lists(
    st.tuples(
        st.sampled_from(["alder", "Alder", "birch", "Élan", "~", "a.b", ""]),
        st.sampled_from([None, date(1, 1, 1), TODAY, date(2025, 9, 30), date.max]),
        st.integers(min_value=0, max_value=2),
    ),
    max_size=12,
)


def store(team, rows) -> None:
    Lead.objects.all().delete()
    Lead.objects.bulk_create(
        LeadFactory.build(
            team=team,
            organisation=name,
            standing_since=since,
            created_at=NOW + timedelta(microseconds=n),
        )
        for name, since, n in rows
    )


def forwards(order, size) -> list[list[Lead]]:
    pages, after = [], ""
    while True:
        shown = page(Lead.objects.all(), order, after=after, size=size)
        pages.append(shown.rows)
        assert len(pages) < 99
        if shown.after is None:
            return pages
        after = shown.after


def backwards(order, size) -> list[list[Lead]]:
    """Walk to the last page, then back to the first."""
    shown = page(Lead.objects.all(), order, size=size)
    while shown.after is not None:
        shown = page(Lead.objects.all(), order, after=shown.after, size=size)
    pages = [shown.rows]
    while shown.before is not None:
        shown = page(Lead.objects.all(), order, before=shown.before, size=size)
        pages.insert(0, shown.rows)
        assert len(pages) < 99
    return pages


@pytest.mark.parametrize("name", ORDERS)
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(rows=ROWS, size=st.integers(min_value=1, max_value=5))
def test_every_lead_is_met_once_in_order_and_the_same_pages_lead_back(cast, name, rows, size):
    store(cast.team, rows)
    order = ORDERS[name]
    sign = "-" if order.newest_first else ""
    whole = list(Lead.objects.annotate(at=order.key).order_by(f"{sign}at", f"{sign}pk"))

    there = forwards(order, size)

    assert [lead for rows in there for lead in rows] == whole
    assert all(len(rows) == size for rows in there[:-1])
    assert backwards(order, size) == there


def test_the_orders_are_what_their_words_say(cast):
    for name, since, minutes in [
        ("Birch", None, 0),
        ("alder", TODAY, 1),
        ("Cedar", date(2025, 1, 1), 2),
    ]:
        LeadFactory(
            team=cast.team,
            organisation=name,
            standing_since=since,
            created_at=NOW + timedelta(minutes=minutes),
        )

    names = {
        key: [lead.organisation for lead in page(Lead.objects.all(), order).rows]
        for key, order in ORDERS.items()
    }

    assert names == {
        "longest": ["Cedar", "alder", "Birch"],
        "newest": ["Cedar", "alder", "Birch"],
        "name": ["alder", "Birch", "Cedar"],
    }


@pytest.mark.parametrize("name", ORDERS)
def test_rows_that_come_and_go_meanwhile_shift_nothing(cast, name):
    store(cast.team, [("alder", TODAY, 0)] * 6)
    order = ORDERS[name]
    first = page(Lead.objects.all(), order, size=2)
    rest = [lead for rows in forwards(order, 2)[1:] for lead in rows]

    first.rows[0].delete()
    first.rows[1].delete()
    shown = page(Lead.objects.all(), order, after=first.after, size=9)

    assert shown.rows == rest


@pytest.mark.parametrize(
    "cursor",
    [
        "x",
        "1",
        "1.",
        ".2026-01-01",
        "-1.2026-01-01",
        "1.2026-99-01",
        f"{'9' * 40}.2026-01-01",
        "1.a\0b",
        "1.0001-01-01T00:00:00+14:00",
        "1.2026-01-01T00:00:00",
        "١.2026-01-01",
    ],
)
@pytest.mark.parametrize("name", ORDERS)
def test_a_cursor_that_cannot_be_read_shows_the_first_page_or_none(cast, name, cursor):
    store(cast.team, [("alder", TODAY, 0)] * 3)
    for where in ("after", "before"):
        shown = page(Lead.objects.all(), ORDERS[name], size=2, **{where: cursor})
        assert len(shown.rows) <= 2
