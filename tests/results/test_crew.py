"""Who ran the session: compared as formats are, with a caution."""

from pipeline.results.figures import crew as figure
from pipeline.results.figures.crew import crew
from sessions.models import CrewPlace, Part
from tests.factories import SessionFactory

from .rows import INDEX, add_lead
from .work import DAY, cohort, session_of


def ran(member, *decisions, part=Part.FACILITATOR):
    lead = add_lead(member.team, *decisions)
    CrewPlace.objects.create(team=member.team, session=session_of(lead), member=member, part=part)
    return lead


def test_a_lead_counts_for_the_facilitator_of_its_first_held_session(cast):
    lead = ran(cast.owner, ("engaged", INDEX))
    later = SessionFactory(lead=lead, day=INDEX + DAY, state="held")
    CrewPlace.objects.create(
        team=cast.team, session=later, member=cast.member, part=Part.FACILITATOR
    )
    ran(cast.member)
    ran(cast.owner, part=Part.NOTE_TAKER)
    found = crew(cohort(cast.team)).conversion
    assert [(group.name, group.leads_with_session, group.engaged) for group in found.groups] == [
        ("Mateus Coelho", 1, 0),
        ("Olive Brandt", 1, 1),
        (None, 1, 0),
    ]


def test_two_of_one_name_are_told_apart_by_their_address(cast):
    cast.member.user.name = "Olive Brandt"
    cast.member.user.save()
    ran(cast.owner)
    ran(cast.member)
    assert [group.name for group in crew(cohort(cast.team)).conversion.groups] == [
        "Olive Brandt (mateus@harbour.example)",
        "Olive Brandt (olive@harbour.example)",
    ]


def test_who_left_keeps_the_name(cast):
    ran(cast.member)
    cast.member.left_on = INDEX
    cast.member.save()
    assert [group.name for group in crew(cohort(cast.team)).conversion.groups] == ["Mateus Coelho"]


def test_with_few_sessions_nobody_is_said_to_convert_more(cast):
    for number in range(15):
        ran(cast.owner, *([("engaged", INDEX)] if number < 9 else []))
        ran(cast.member)
    found = crew(cohort(cast.team)).compared
    assert found.names == ("Mateus Coelho", "Olive Brandt")
    assert not found.can_order
    assert not any(pair.told for pair in found.pairs)


def test_the_caution_is_part_of_the_rule():
    assert figure.CAUTION in figure.RULES
    assert "Few sessions say little about a person" in figure.CAUTION


def test_it_asks_two_questions(cast, django_assert_num_queries):
    ran(cast.member)
    # conversion by facilitator and day, names
    with django_assert_num_queries(2):
        crew(cohort(cast.team))
