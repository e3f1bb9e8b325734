"""One hand at the desk: who writes, when, on which session, and the rows it may reach."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from django.db import models
from django.db.models import F

from pipeline.teams.models import Member
from pipeline.teams.refused import Refused
from sessions.models import Desk, DiscoverySession, Note, Statement, Step, Theme
from sessions.models.caught import Caught

KINDS: dict[str, type[Caught]] = {"theme": Theme, "note": Note, "statement": Statement}

Row = TypeVar("Row", bound=Caught)


@dataclass
class Hand:
    """A locked desk, and who writes at it. Every write takes the desk's next number."""

    session: DiscoverySession
    member: Member | None
    now: datetime
    desk: Desk
    _steps: list[Step] | None = field(default=None, repr=False)

    def next_change(self) -> int:
        """Return the number of one more write."""
        self.desk.changed += 1
        return self.desk.changed

    def add(self, row: Row) -> Row:
        """Store a new row."""
        row.changed = self.next_change()
        row.save(force_insert=True)
        return row

    def change(self, row: Caught, **values: object) -> None:
        """Write new values of a row."""
        for name, value in values.items():
            setattr(row, name, value)
        row.changed = self.next_change()
        row.version += 1
        row.save(update_fields=[*values, "changed", "version"])

    def change_all(self, rows: models.QuerySet[Caught], **values: object) -> None:
        """Write the same new values of many rows, as one change."""
        rows.update(changed=self.next_change(), version=F("version") + 1, **values)

    def row(self, kind: type[Row], key: uuid.UUID | None) -> Row:
        """Return the row of this session with ``key``; ``Refused`` where there is none."""
        found = self.find(kind, key)
        if found is None:
            name = kind._meta.verbose_name
            raise Refused(f"There is no such {name} in this session.")
        return found

    def find(self, kind: type[Row], key: uuid.UUID | None) -> Row | None:
        """Return the row of this session with ``key``, if there is one."""
        rows = kind._default_manager.filter(team=self.session.team, session=self.session)
        return rows.filter(key=key).first() if key else None

    def kind(self, name: str) -> type[Caught]:
        """Return the kind of row that ``name`` stands for."""
        if name not in KINDS:
            raise Refused("Say whether it is a theme, a note or a statement.", "what")
        return KINDS[name]

    def theme(self, key: uuid.UUID | None) -> Theme | None:
        """Return the theme that ``key`` leads to now, past every merge; ``None`` for none.

        What is put under a theme that somebody let go takes the theme back.
        """
        theme, seen = self.find(Theme, key), set()
        while theme is not None and theme.merged_into_id and theme.pk not in seen:
            seen.add(theme.pk)
            theme = theme.merged_into
        if theme is not None and theme.let_go:
            self.change(theme, let_go=False, merged_into=None)
        return theme

    @property
    def steps(self) -> list[Step]:
        """The steps of the session's format, in order."""
        if self._steps is None:
            format_id = self.session.format_id
            rows = Step.objects.filter(team=self.session.team, format=format_id)
            self._steps = list(rows.order_by("position")) if format_id else []
        return self._steps

    def step(self, text: str) -> Step | None:
        """Return the step whose number stands in ``text``, if this session has it."""
        return next((step for step in self.steps if str(step.pk) == text), None)
