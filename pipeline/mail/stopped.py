"""What whoever writes to people outside the team asks first, and how those people say no more."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from pipeline.teams.models import Team
from pipeline.teams.refused import Refused
from pipeline.teams.templatetags.show import day

from .models import Letter, StoppedAddress, Stops
from .stopping import stop_link


def asked_for_no_more(who: object, team: Team, stopped_at: datetime) -> str:
    """Return in words that ``who`` asked for no more letters, with the team's local day."""
    return f"{who} asked for no more letters on {day(team.today(stopped_at))}."


def refuse_stopped(team: Team, addresses: Collection[str], *, field: str | None = None) -> None:
    """Refuse to write where one of ``addresses`` asked for no more letters."""
    for address, stopped_at in StoppedAddress.objects.of(team, addresses).items():
        said = asked_for_no_more(address, team, stopped_at)
        raise Refused(f"{said} Nothing is sent to them; leave them out.", field)


def way_out(team: Team, to: str) -> str:
    """Return the address at which whoever is written to at ``to`` stops the team's letters."""
    return stop_link(Letter(team=team, to=to, stops=Stops.LETTERS))


def with_way_out(text: str, team: Team, to: str) -> str:
    """Return a letter's text with a line on how to stop further ones."""
    line = f"No more letters from {team}? Say so here:\n{way_out(team, to)}"
    # two dashes and a space part what follows from the words above (RFC 3676, 4.3)
    return f"{text.strip()}\n\n-- \n{line}\n"
