"""No key leads from one team's row to another team's, on either database, whoever writes."""

import pytest
from django.db import IntegrityError, connection, transaction

from tests.locks.rows import JOINS, KEYS, TABLES, row_in, unsaved

pytestmark = pytest.mark.django_db

crosses = pytest.raises(IntegrityError, match=r"same_team_|rows of two teams")
every_key = pytest.mark.parametrize("name", sorted(KEYS))


@every_key
def test_a_row_is_not_made_with_a_key_into_another_team(cast, name):
    model, field = KEYS[name]
    parent = row_in(field.related_model, cast.other_team)
    wrong = unsaved(model, cast.team, **{field.name: parent})
    with crosses, transaction.atomic():
        wrong.save_base(raw=True, force_insert=True)
        now_all_hold()


@every_key
def test_a_key_is_not_turned_to_another_team(cast, name):
    model, field = KEYS[name]
    row = row_in(model, cast.team)
    own, parent = (row_in(field.related_model, team) for team in (cast.team, cast.other_team))
    rows = model._base_manager.filter(pk=row.pk)
    assert rows.update(**{field.name: own}) == 1
    now_all_hold()
    with crosses, transaction.atomic():
        rows.update(**{field.name: parent})
        now_all_hold()


@pytest.mark.parametrize(
    "label", sorted({f.related_model._meta.label_lower for _, f in KEYS.values()})
)
def test_a_row_to_which_others_lead_does_not_change_its_team(cast, label):
    parent = row_in(TABLES[label], cast.team)
    model, field = next(
        (m, f) for m, f in KEYS.values() if f.related_model._meta.label_lower == label
    )
    row_in(model, cast.team, **{field.name: parent})
    with crosses, transaction.atomic():
        type(parent)._base_manager.filter(pk=parent.pk).update(team=cast.other_team)
        now_all_hold()


@pytest.mark.parametrize("label", sorted(JOINS))
def test_rows_of_two_teams_are_not_joined(cast, label):
    model = JOINS[label]
    row = row_in(model, cast.team)
    for field in (f for f in model._meta.concrete_fields if f.is_relation):
        parent = row_in(field.related_model, cast.other_team)
        wrong = unsaved(model, cast.team, **{field.name: parent})
        with crosses, transaction.atomic():
            wrong.save_base(raw=True, force_insert=True)
        with crosses, transaction.atomic():
            model._base_manager.filter(pk=row.pk).update(**{field.name: parent})


def now_all_hold():
    """PostgreSQL looks at keys when a transaction ends; have it look now."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
