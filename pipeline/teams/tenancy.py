"""The one door to a team's rows.

Every view below ``/t/<slug>/`` goes through ``door``; every row it touches through ``fetch`` or a
queryset's ``for_team``. A stranger gets 404, a reader who writes gets 403. On PostgreSQL a request
is one transaction, in which the database shows this team's rows alone (pipeline/locks).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar, cast
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet
from django.http import (
    FileResponse,
    Http404,
    HttpRequest,
    HttpResponseBase,
    StreamingHttpResponse,
)
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from pipeline.clock import moment
from pipeline.locks.asking import as_bearer, as_team, as_user, one_transaction

from .acting import acting
from .models import Member, Role, Team

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

P = ParamSpec("P")
M = TypeVar("M", bound=Model)


class TeamRequest(HttpRequest):
    """A request that has passed the door."""

    htmx: HtmxDetails
    team: Team
    member: Member


TeamView = Callable[Concatenate[TeamRequest, P], HttpResponseBase]


def door(
    *, needs: str = Role.READER, own: bool = False, leads_out: bool = False
) -> Callable[[TeamView[P]], Callable[..., HttpResponseBase]]:
    """Let a view be entered by members of the team named in the URL, and tell it which.

    ``needs`` is the least role for the view as a whole; whatever it is, a reader may only read,
    but for views that change nothing except what is the member's ``own``. Where the team asks for
    a second factor, who has none is led to set it up first, unless the view ``leads_out``.
    The view gets ``request.team`` and ``request.member`` in place of the slug, and
    runs on the team's clock: days and hours typed into forms are local to it.
    """

    def wrap(view: TeamView[P]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def entered(
            request: TeamRequest, slug: str, *args: Any, **kwargs: Any
        ) -> HttpResponseBase:
            with one_transaction():
                with as_user(request.user.pk):
                    member = Member.objects.at_door(request.user, slug).first()
                if member is None:
                    raise Http404
                writes = request.method not in SAFE_METHODS and not own
                if not member.may(needs) or (writes and not member.writes):
                    raise PermissionDenied
                if member.lacks_second_factor and not leads_out:
                    return _to_second_factor(request)
                request.team, request.member = member.team, member
                with (
                    as_team(member.team_id),
                    timezone.override(ZoneInfo(member.team.timezone)),
                    acting(member=member.pk, now=moment.now()),
                ):
                    return _drained(view(request, *args, **kwargs))

        entered.needs = needs  # type: ignore[attr-defined]
        return entered

    return wrap


def _to_second_factor(request: TeamRequest) -> HttpResponseBase:
    url = reverse(settings.SECOND_FACTOR_URL)
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


def _drained(response: HttpResponseBase) -> HttpResponseBase:
    """Write out what would ask for rows only when the transaction is over."""
    if isinstance(response, StreamingHttpResponse) and not isinstance(response, FileResponse):
        response.streaming_content = list(cast(Iterable[bytes], response.streaming_content))
    return response


@contextmanager
def opened_by(rows: QuerySet[M], token: str) -> Iterator[M | None]:
    """Enter the team whose row a stranger's ``token`` opens, and yield it; ``None``: none."""
    with one_transaction():
        with as_bearer(token):
            team = rows.model._base_manager.filter(token=token).values_list("team_id").first()
        if team is None:
            yield None
            return
        with as_team(team[0]):
            yield rows.filter(token=token).first()


def fetch(rows: QuerySet[M], team: Team, **lookup: Any) -> M:
    """Return the team's one row that matches ``lookup``; 404 for none and for another team's."""
    return get_object_or_404(rows, team=team, **lookup)
