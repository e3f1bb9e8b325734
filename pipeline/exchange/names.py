"""A team's formats and sources by name; unknown ones are created when they are first used."""

from __future__ import annotations

from pipeline.leads.models import Source
from pipeline.teams.models import Team
from sessions.models import Format, Promise


class Names:
    """The formats and sources of ``team``, and those that a sheet adds."""

    def __init__(self, team: Team) -> None:
        self.team = team
        # Of several versions the one that is booked today: not retired, and the latest.
        formats = Format.objects.for_team(team)
        self._formats: dict[str, Format] = {
            f.name: f for f in sorted(formats, key=lambda f: (not f.retired_on, f.version))
        }
        self._sources: dict[str, Source] = {s.name: s for s in Source.objects.for_team(team)}
        self._promises = {
            (promise.format_id, promise.title): promise.working_days
            for promise in Promise.objects.filter(team=team)
        }
        self.new_formats: list[Format] = []
        self.new_sources: list[Source] = []

    def format(self, name: str) -> Format | None:
        """Return the format of this name; ``None`` for no name."""
        if name and name not in self._formats:
            self._formats[name] = Format(team=self.team, name=name)
            self.new_formats.append(self._formats[name])
        return self._formats.get(name)

    def source(self, name: str) -> Source:
        """Return the source of this name."""
        if name not in self._sources:
            self._sources[name] = Source(team=self.team, name=name)
            self.new_sources.append(self._sources[name])
        return self._sources[name]

    def promised_days(self, format: Format | None, title: str) -> int | None:
        """Return within how many working days the format promises this; ``None`` if it doesn't."""
        return self._promises.get((format.pk, title)) if format and format.pk else None

    def store(self) -> None:
        """Write the new ones; what somebody else made of the same name meanwhile is taken."""
        if fresh := [f for f in self.new_formats if f.pk is None]:
            Format.objects.bulk_create(fresh, ignore_conflicts=True)
            first = Format.objects.for_team(self.team).filter(version=1)
            keys = dict(first.values_list("name", "pk"))
            for format in fresh:
                format.pk = keys[format.name]
        if fresh_sources := [s for s in self.new_sources if s.pk is None]:
            Source.objects.bulk_create(fresh_sources, ignore_conflicts=True)
            keys = dict(Source.objects.for_team(self.team).values_list("name", "pk"))
            for source in fresh_sources:
                source.pk = keys[source.name]
