"""A team's plan of before becomes its first edition, and goes back to what it was."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from pipeline.followups.models import PlanEdition, PlanStep
from pipeline.followups.plans import ensure_plan
from tests.factories import PlanEditionFactory, PlanStepFactory

BEFORE, AFTER = ("followups", "0002_feeds"), ("followups", "0003_plans_in_editions")


@pytest.fixture
def migrate(transactional_db):
    def to(target):
        executor = MigrationExecutor(connection)
        return executor.migrate([target]).apps

    yield to
    # forward again with everything that stands above
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def told(steps):
    return sorted(steps.values_list("team", "trigger", "position", "action", "count", "unit"))


def test_the_plan_goes_back_to_its_newest_edition_and_forward_to_its_first(cast, migrate):
    ensure_plan(cast.team)
    second = PlanEditionFactory(team=cast.team, number=2)
    PlanStepFactory(edition=second, trigger="engaged", position=1, action="Thank them")
    PlanStepFactory(edition__team=cast.other_team, action="Ring the quarry")
    Step = migrate(BEFORE).get_model("followups", "PlanStep")
    stood = [
        (cast.team.pk, "engaged", 1, "Thank them", 10, "working days"),
        (cast.other_team.pk, "proposal sent", 1, "Ring the quarry", 10, "working days"),
    ]
    assert told(Step.objects) == sorted(stood)

    migrate(AFTER)
    assert told(PlanStep.objects) == sorted(stood)
    first = [(cast.team.pk, 1, None, None), (cast.other_team.pk, 1, None, None)]
    editions = PlanEdition.objects.values_list("team", "number", "made_at", "everywhere_at")
    assert sorted(editions) == sorted(first)
    assert all(step.edition.team_id == step.team_id for step in PlanStep.objects.all())
