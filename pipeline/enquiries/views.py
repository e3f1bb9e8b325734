"""The public page on which somebody enquires, outside any team and without an account."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.accounts.slowing import caller
from pipeline.clock import moment
from pipeline.locks.asking import as_team
from pipeline.teams.forms import key_of
from pipeline.teams.models import Team
from pipeline.teams.once import do_once
from pipeline.teams.refused import Refused

from .arrivals import TooMany, network_hash
from .forms import EnquiryForm
from .models import EnquiryPage
from .receiving import receive
from .stamp import read_stamp

MINUTE = timedelta(minutes=1)
TYPED = ("organisation", "name", "email", "about")

Shown = Callable[[HttpRequest, Team], HttpResponse]


def _of_team(view: Shown) -> Callable[[HttpRequest, str], HttpResponse]:
    """Let a view be entered by anybody, for the team whose page it is."""

    @wraps(view)
    def entered(request: HttpRequest, slug: str) -> HttpResponse:
        team = Team.objects.filter(slug=slug).first()
        if team is None:
            raise Http404
        with as_team(team.pk):
            return view(request, team)

    return entered


# Nobody is signed in here, so there is nothing that another site's page could borrow; without a
# cookie it also works for those who keep none. The stamp shows that the page was opened.
@csrf_exempt
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
@_of_team
def enquire(request: HttpRequest, team: Team) -> HttpResponse:
    """Show the form; take in what was written, once, and say so whoever it is."""
    now = moment.now()
    page = _page_of(team, request.POST.get("stamp", ""), now=now)
    if request.method != "POST":
        return _shown(request, page, EnquiryForm(page=page, now=now), 200)
    form = EnquiryForm(request.POST, page=page, now=now)
    if request.headers.get("Sec-Fetch-Site") == "cross-site":
        form.add_error(None, "This came from another site’s page. If you wrote it, send it here.")
    if not form.is_valid():
        return _shown(request, page, form, 422)

    def work() -> str:
        receive(
            page=page,
            network=network_hash(team, caller(request)),
            now=now,
            agreed_to=form.agreed_to,
            **{name: form.cleaned_data[name] for name in TYPED},
        )
        return reverse("enquiry-sent", args=[team.slug])

    try:
        url, _ = do_once(team=team, key=key_of(form, but=["stamp"]), now=now, work=work)
    except Refused as refused:
        form.add_error(refused.field, str(refused))
        return _shown(request, page, form, 422)
    except TooMany as many:
        return _too_many(request, page, form, many.wait)
    return redirect(url)


@login_not_required
@require_safe
@_of_team
def sent(request: HttpRequest, team: Team) -> HttpResponse:
    """Say that an enquiry has arrived."""
    _page_of(team, now=moment.now())
    return render(request, "enquiries/sent.html", {"of": team})


def _page_of(team: Team, stamp: str = "", *, now: datetime) -> EnquiryPage:
    """Return the open page of a team; a closed one too for whoever opened it before."""
    page: EnquiryPage | None = EnquiryPage.objects.for_team(team).first()
    if page is None:
        raise Http404
    if not page.is_open:
        opened = read_stamp(stamp)
        if opened is None or opened.team != team.pk or opened.is_old(now):
            raise Http404
    page.team = team
    return page


def _shown(
    request: HttpRequest, page: EnquiryPage, form: EnquiryForm, status: int
) -> HttpResponse:
    context = {"page": page, "of": page.team, "form": form}
    return render(request, "enquiries/enquire.html", context, status=status)


def _too_many(
    request: HttpRequest, page: EnquiryPage, form: EnquiryForm, wait: timedelta
) -> HttpResponse:
    minutes = -(-wait // MINUTE)
    form.add_error(
        None,
        "Many enquiries came within the last hour, so this one is not sent yet. What you typed "
        f"is kept: press the button again in {minutes} minute{'' if minutes == 1 else 's'}.",
    )
    answer = _shown(request, page, form, 429)
    answer.headers["Retry-After"] = str(int(minutes * 60))
    return answer
