"""The two formats that every team starts with, in our own words."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction

from pipeline.teams.models import Team

from .models import Catch, Format, Promise, Step, Way

# The deliverable that the tool itself sets as a PDF.
TAKEAWAY = "Takeaway"


@dataclass(frozen=True)
class Plan:
    """A format as it is shipped.

    ``steps``: title, minutes, way of working, what is caught (and the prompt), what to say.
    """

    name: str
    minutes: int
    purpose: str
    steps: tuple[tuple[str, int, Way, Catch | str, str], ...]
    # (title, within so many working days)
    promises: tuple[tuple[str, int], ...]


HOUR = Plan(
    name="Discovery hour",
    minutes=60,
    purpose="Understand one challenge together, and agree what would be worth doing first.",
    steps=(
        (
            "Welcome",
            5,
            Way.TALK,
            Catch.NOTHING,
            "Good to have you here. In this hour you talk, write and choose; we listen and keep "
            "the time. Afterwards you get everything back on paper, whatever you decide.",
        ),
        (
            "How things are today",
            10,
            Way.TALK,
            Catch.THEMES,
            "Tell us what brought you here. What happens today, who is involved, and where does "
            "it hurt? We only ask back.",
        ),
        (
            "What your customers get from you",
            6,
            Way.WRITE,
            "Our customers come to us because …",
            "On your own and without talking: finish the sentence “Our customers come to us "
            "because …” as often as you can. One thought a note.",
        ),
        (
            "Reading aloud",
            8,
            Way.TALK,
            Catch.THEMES,
            "Read your notes to each other. We put those together that belong together, and you "
            "give each group a name.",
        ),
        (
            "What counts most",
            4,
            Way.VOTE,
            Catch.VOTES,
            "You have three dots each. Put them where something would change most for your "
            "customers. Several dots on one note are fine.",
        ),
        (
            "Crew compares notes",
            3,
            Way.CREW,
            Catch.THEMES,
            "Take a breath and stretch your legs. We count the dots and compare what we heard.",
        ),
        (
            "What stands in the way",
            5,
            Way.WRITE,
            "What has kept you from it so far?",
            "Look at the note with the most dots. On your own again: what has kept you from it "
            "so far?",
        ),
        (
            "What we heard",
            7,
            Way.TALK,
            Catch.THEMES,
            "Here is what we understood, in our words. Tell us where we are wrong.",
        ),
        (
            "Next steps",
            6,
            Way.TALK,
            Catch.THEMES,
            "This is what we send you and by when. What would have to be true for you to go on, "
            "and when shall we speak again?",
        ),
    ),
    promises=((TAKEAWAY, 3),),
)

HALF_HOUR = Plan(
    name="Discovery half-hour",
    minutes=30,
    purpose="Find out whether there is a challenge that is worth an hour together.",
    steps=(
        (
            "Welcome",
            3,
            Way.TALK,
            Catch.NOTHING,
            "Half an hour, one question: what would you like to be different? You get a page "
            "from us afterwards, whatever comes of it.",
        ),
        (
            "How things are today",
            7,
            Way.TALK,
            Catch.THEMES,
            "Describe a normal week. Where do you lose time, money or patience?",
        ),
        (
            "What should be different",
            4,
            Way.WRITE,
            "A year from now I would like to see …",
            "Without talking, one wish a note: “A year from now I would like to see …”",
        ),
        (
            "Which comes first",
            2,
            Way.VOTE,
            Catch.VOTES,
            "Two dots each. Which wish would make the others easier?",
        ),
        (
            "What we heard",
            6,
            Way.TALK,
            Catch.THEMES,
            "We repeat it in our words; correct us.",
        ),
        (
            "Next steps",
            4,
            Way.TALK,
            Catch.THEMES,
            "This is what we send you and by when. Does a longer session make sense, and who "
            "else should be there?",
        ),
    ),
    promises=((TAKEAWAY, 2),),
)

SHIPPED = (HOUR, HALF_HOUR)


@transaction.atomic
def ensure_formats(team: Team) -> None:
    """Give ``team`` the shipped formats that it does not have yet, by name."""
    for plan in SHIPPED:
        made, new = Format.objects.get_or_create(
            team=team,
            name=plan.name,
            version=1,
            defaults={"minutes": plan.minutes, "purpose": plan.purpose},
        )
        if not new:
            continue
        Step.objects.bulk_create(
            Step(
                team=team,
                format=made,
                position=position,
                title=title,
                minutes=minutes,
                way=way,
                say=say,
                **_caught(caught),
            )
            for position, (title, minutes, way, caught, say) in enumerate(plan.steps, start=1)
        )
        Promise.objects.bulk_create(
            Promise(team=team, format=made, title=title, working_days=days)
            for title, days in plan.promises
        )


def _caught(caught: Catch | str) -> dict[str, str]:
    """A plain text is the prompt under which statements are caught."""
    if isinstance(caught, Catch):
        return {"catches": caught}
    return {"catches": Catch.STATEMENTS, "prompt": caught}
