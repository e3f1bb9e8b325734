"""Pages on which a team enters its exchange rates."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.results.models import ExchangeRate
from pipeline.results.rates import entering
from pipeline.results.rates.forms import NewRate, RateForm
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

GET_AND_POST = ["GET", "HEAD", "POST"]


@door()
@require_safe
def rates(request: TeamRequest) -> HttpResponse:
    """List the team's rates, the newest month first."""
    context = {"rates": list(ExchangeRate.objects.for_team(request.team)), "here": "results"}
    return render(request, "results/rates/rates.html", context)


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def new(request: TeamRequest) -> HttpResponse:
    """Enter a rate."""
    now = moment.now()
    today = request.team.today(now)
    form = NewRate(
        request.POST if request.method == "POST" else None, initial={"month": f"{today:%Y-%m}"}
    )
    form.say_into(request.team.currency)
    url = reverse("rates", args=[request.team.slug])

    def work(form: NewRate) -> str:
        typed = form.cleaned_data
        entering.enter(
            team=request.team,
            today=today,
            month=typed["month"].day,
            currency=typed["currency"],
            rate=typed["rate"],
        )
        return url

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The rate is stored.",
        heading="Enter an exchange rate",
        about="Exchange rates",
        back=url,
        here="results",
    )


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def edit(request: TeamRequest, pk: int) -> HttpResponse:
    """Correct a rate."""
    row = fetch(ExchangeRate.objects.all(), request.team, pk=pk)
    today = request.team.today(moment.now())
    form = RateForm(request.POST if request.method == "POST" else None, instance=row)
    form.say_into(row.into)

    def work(form: RateForm, version: int) -> None:
        entering.amend(rate=form.instance, today=today, expected_version=version)

    return edit_page(
        request,
        form=form,
        work=work,
        done="The rate is saved.",
        url=reverse("rates", args=[request.team.slug]),
        template="leads/fact.html",
        heading="Correct an exchange rate",
        about="Exchange rates",
        remove=reverse("rate-remove", args=[request.team.slug, pk]),
        here="results",
    )


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Remove a rate; clicked twice, it is removed once."""
    row = ExchangeRate.objects.for_team(request.team).filter(pk=pk).first()
    form = OnceForm(request.POST if request.method == "POST" else None)
    if row is None and not form.is_valid():
        raise Http404
    url = reverse("rates", args=[request.team.slug])

    def work(form: OnceForm) -> str:
        # reached without a row only by a form that was never received
        if row is None:
            raise Http404
        entering.remove(rate=row)
        return url

    return new_page(
        request,
        form=form,
        now=moment.now(),
        work=work,
        done="The rate is removed.",
        heading="Remove this exchange rate?",
        lede=f"{row}, {row.month:%Y-%m}. What it converted stands by itself again." if row else "",
        button="Remove it",
        about="Exchange rates",
        back=url,
        here="results",
    )
