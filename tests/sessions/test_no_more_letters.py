"""Who asked for no more letters gets no takeaway, no times and no invitation, and pages say so."""

from datetime import UTC, datetime, timedelta

import pytest

from pipeline.mail.models import Letter, StoppedAddress, digest_of
from pipeline.teams.refused import Refused
from sessions.booking import amend, book, cancel
from sessions.calendars.inviting import invite
from sessions.calendars.offering import free, send_offer, take
from sessions.models import CalendarEntry, Offer, Part, SharedTakeaway
from tests.conftest import NOW
from tests.factories import ContactFactory, OfferFactory
from tests.sessions.pages import at
from tests.sessions.takeaways.conftest import heard, held  # noqa: F401
from tests.sessions.takeaways.test_sending import letter

TOMORROW = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
SAID = "Ana Prado asked for no more letters on Tue 3 Mar 2026."


@pytest.fixture
def ana(lead):
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def bo(lead):
    return ContactFactory(lead=lead, name="Bo Ek", email="bo@fernwick.example")


@pytest.fixture
def stop(cast):
    def stopped(address="Ana@fernwick.example"):
        StoppedAddress.objects.create(team=cast.team, address=digest_of(address), stopped_at=NOW)

    return stopped


@pytest.fixture
def session(cast, lead, hour, ana, bo):
    return book(
        lead=lead,
        member=cast.member,
        now=NOW,
        format=hour,
        starts_at=TOMORROW,
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
        attendees=[ana, bo],
    )


@pytest.fixture
def offer(cast, lead, hour, ana):
    made = OfferFactory(lead=lead, format=hour, contact=ana, made_by=cast.member)
    for who, part in ((cast.owner, Part.FACILITATOR), (cast.member, Part.NOTE_TAKER)):
        made.crew.create(team=cast.team, member=who, part=part)
    return made


def written_to():
    return sorted(Letter.objects.values_list("to", flat=True))


def test_everything_that_goes_to_somebody_outside_may_be_stopped(cast, session):
    invite(session=session, member=cast.member, now=NOW)
    stops = dict(Letter.objects.values_list("to", "stops"))
    assert stops == {
        "mateus@harbour.example": "",
        "ana@fernwick.example": "letters",
        "bo@fernwick.example": "letters",
    }
    for row in Letter.objects.all():
        assert ("No more letters from Harbour Studio?" in row.text) == bool(row.stops)


def test_who_stopped_is_not_invited(cast, sign_in, session, stop):
    stop()
    invite(session=session, member=cast.member, now=NOW)
    assert written_to() == ["bo@fernwick.example", "mateus@harbour.example"]
    page = sign_in(cast.reader).get(at(cast.team, "session", session.pk)).text
    assert f"{SAID} No invitation, change or cancellation is sent to them." in page


def test_who_stops_after_the_invitation_hears_of_no_change_and_no_cancellation(
    cast, sign_in, session, stop
):
    invite(session=session, member=cast.member, now=NOW)
    stop()
    page = sign_in(cast.member).get(at(cast.team, "session-edit", session.pk)).text
    assert "By letter get word of it: Mateus Coelho, Bo Ek." in page
    before = Letter.objects.filter(to="ana@fernwick.example").count()
    amend(session=session, member=cast.member, now=NOW, starts_at=TOMORROW + timedelta(hours=1))
    cancel(session=session, member=cast.member, now=NOW, reason="")
    assert Letter.objects.filter(to="ana@fernwick.example").count() == before
    assert Letter.objects.filter(to="bo@fernwick.example").count() == 3
    assert CalendarEntry.objects.get().withdrawn


def test_one_of_the_crew_is_told_all_the_same(cast, session, stop):
    stop("mateus@harbour.example")
    invite(session=session, member=cast.member, now=NOW)
    amend(session=session, member=cast.member, now=NOW, starts_at=TOMORROW + timedelta(hours=1))
    assert Letter.objects.filter(to="mateus@harbour.example").count() == 2


def test_times_are_not_sent_and_the_page_says_why(cast, sign_in, offer, stop):
    stop()
    with pytest.raises(Refused, match="asked for no more letters on Tue 3 Mar 2026"):
        send_offer(offer=offer, member=cast.member, now=NOW)
    assert (Offer.objects.get().sent_to, written_to()) == ("", [])
    page = sign_in(cast.member).get(at(cast.team, "offer", offer.pk)).text
    assert SAID in page
    assert at(cast.team, "offer-send", offer.pk) not in page
    assert "Or copy the words" in page


def test_times_that_were_sent_are_freed_without_another_letter(cast, offer, stop):
    send_offer(offer=offer, member=cast.member, now=NOW)
    stop()
    assert free(offer=offer, member=cast.member, now=NOW)
    assert written_to() == ["ana@fernwick.example"]


def test_a_time_that_is_taken_is_booked_and_only_the_crew_hears_of_it(cast, offer, stop):
    stop()
    take(time=offer.times.get(), member=cast.member, now=NOW)
    assert written_to() == ["mateus@harbour.example"]


def test_the_words_to_copy_hold_no_way_out_of_letters(cast, sign_in, offer):
    page = sign_in(cast.member).get(at(cast.team, "offer", offer.pk)).text
    assert "/stop/" not in page
    send_offer(offer=offer, member=cast.member, now=NOW + timedelta(minutes=1))
    assert "/stop/" in Letter.objects.get().text


@pytest.mark.parametrize("how", ["chosen", "typed"])
def test_no_takeaway_goes_out_where_one_of_the_addresses_stopped(
    cast,
    sign_in,
    heard,  # noqa: F811
    ana,
    bo,
    stop,
    how,
):
    heard.attendees.add(ana, bo)
    stop()
    browser, page = sign_in(cast.member), at(cast.team, "takeaway-send", heard.pk)
    form = browser.get(page)
    assert SAID in form.text
    assert form.context["form"].initial["contacts"] == [bo.pk]
    typed = {"contacts": [bo.pk], "others": "ANA@fernwick.example"}
    data = letter(bo, **(typed if how == "typed" else {"contacts": [ana.pk, bo.pk]}))
    answer = browser.post(page, data)
    assert answer.status_code == 422
    assert "Nothing is sent to them; leave them out." in answer.text
    assert not Letter.objects.exists()
    assert not SharedTakeaway.objects.exists()
    assert browser.post(page, letter(bo)).status_code == 302
    (sent,) = Letter.objects.all()
    assert (sent.to, sent.stops) == ("bo@fernwick.example", "letters")
    assert "/stop/" in sent.html
