"""A letter to somebody at a lead: drafted, read over, sent once by a member, never by itself."""

from datetime import timedelta

import pytest

from pipeline.clock import moment
from pipeline.followups import lead_letters
from pipeline.followups.history import Rows, history
from pipeline.followups.models import FollowUp, LeadLetter
from pipeline.followups.sweep import sweep
from pipeline.leads.merging import merge, unmerge
from pipeline.leads.people import amend_contact, remove_contact
from pipeline.mail.delivery import deliver
from pipeline.mail.message import message_of
from pipeline.mail.models import Letter, StoppedAddress, digest_of
from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory, FollowUpFactory, LeadFactory, LeadLetterFactory
from tests.followups.threads import at_once
from tests.mail.test_delivery import Carried

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    lead = LeadFactory(team=cast.team, organisation="Fernwick Library")
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def row(cast, ana):
    return lead_letters.draft(
        lead=ana.lead,
        member=cast.member,
        now=NOW,
        contact=ana,
        subject="How is\nit going?",
        text="Good day {first name},\n\nhow do you fare?",
        follow_up=FollowUpFactory(lead=ana.lead, owner=cast.member),
    )


@pytest.fixture
def send(cast, row):
    def sent(**changes):
        words = {
            "letter": row,
            "member": cast.member,
            "now": NOW,
            "expected_version": 1,
            "done": True,
        }
        return lead_letters.send(**words | changes)

    return sent


def stop(team, address):
    StoppedAddress.objects.create(team=team, address=digest_of(address), stopped_at=NOW)


def test_a_draft_is_filled_in_and_nothing_goes_out_by_itself(cast, row):
    assert (row.subject, row.text) == ("How is it going?", "Good day Ana,\n\nhow do you fare?")
    with moment.stopped(NOW + timedelta(days=30)):
        sweep(NOW + timedelta(days=30))
    assert not Letter.objects.filter(to="ana@fernwick.example").exists()


def test_it_goes_out_in_the_members_name_with_an_answer_to_them_and_a_way_out(cast, row, send):
    sent = send()
    message = message_of(Letter.objects.get())
    assert message["From"].addresses[0].display_name == "Mateus Coelho, Harbour Studio"
    assert message["Reply-To"].addresses[0].addr_spec == "mateus@harbour.example"
    assert (message["To"], message["Subject"]) == ("ana@fernwick.example", "How is it going?")
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    # a person wrote it (RFC 3834, 5)
    assert message["Auto-Submitted"] is None
    text = message.get_content()
    way_out = message["List-Unsubscribe"].strip("<>")
    foot = f"-- \nNo more letters from Harbour Studio? Say so here:\n{way_out}\n"
    assert text == f"Good day Ana,\n\nhow do you fare?\n\n{foot}"
    assert (sent.to, sent.sent_at, sent.written_by) == ("ana@fernwick.example", NOW, cast.member)


def test_who_sends_anothers_draft_sends_it_in_their_own_name(cast, send):
    assert send(member=cast.owner).written_by == cast.owner
    assert message_of(Letter.objects.get())["Reply-To"].addresses[0].username == "olive"


def test_with_it_the_follow_up_is_done_where_that_was_left_ticked(cast, row, send):
    send()
    follow_up = FollowUp.objects.get()
    assert (follow_up.state, follow_up.closed_by) == ("done", cast.member)


def test_else_the_follow_up_stays_open(send):
    send(done=False)
    assert FollowUp.objects.get().state == "open"


def test_sent_twice_it_goes_out_once(cast, row, send):
    send()
    with pytest.raises(Refused, match="it was sent by Mateus Coelho, Tue 3 Mar 2026, 09:00"):
        send(expected_version=2)
    assert Letter.objects.count() == 1


def test_what_was_sent_is_kept_as_it_was(cast, row, send):
    send()
    row.text = "Other words"
    with pytest.raises(Refused, match="can't be changed any more"):
        lead_letters.change(letter=row, member=cast.member, expected_version=2)
    with pytest.raises(Refused, match="It is kept"):
        lead_letters.remove(letter=row)
    assert LeadLetter.objects.get().text.startswith("Good day Ana")


def test_a_draft_that_somebody_changed_meanwhile_is_read_once_more(cast, row, send):
    changed = LeadLetter.objects.with_names().get()
    changed.text = "Other words"
    lead_letters.change(letter=changed, member=cast.owner, expected_version=1)
    with pytest.raises(Refused, match="Read it once more"):
        send()
    row.text = "My words"
    with pytest.raises(Stale):
        lead_letters.change(letter=row, member=cast.member, expected_version=1)
    assert send(expected_version=2).text == "Other words"


def test_one_that_was_thrown_away_meanwhile_is_not_sent(row, send):
    lead_letters.remove(letter=row)
    with pytest.raises(Refused, match="threw this letter away"):
        send()
    assert not Letter.objects.exists()


@pytest.mark.parametrize("text", ["On {session day}.", "For {price}.", "A } alone."])
def test_braces_are_never_sent(ana, send, text):
    LeadLetter.objects.update(text=text)
    with pytest.raises(Refused):
        send()
    LeadLetter.objects.update(text="Well.", subject=text)
    with pytest.raises(Refused):
        send()
    assert not Letter.objects.exists()


def test_somebody_who_is_gone_or_without_an_address_gets_nothing(cast, ana, row, send):
    ana.email = ""
    amend_contact(contact=ana, expected_version=1)
    with pytest.raises(Refused, match="Ana Prado has no address"):
        send()
    remove_contact(contact=ana)
    with pytest.raises(Refused, match="no longer at this lead"):
        send()
    assert not Letter.objects.exists()


def test_people_and_follow_ups_of_another_lead_are_refused(cast, ana):
    other = LeadFactory(team=cast.team)
    words = {"lead": ana.lead, "member": cast.member, "now": NOW, "subject": "s", "text": "t"}
    with pytest.raises(Refused) as wrong:
        lead_letters.draft(contact=ContactFactory(lead=other), **words)
    assert wrong.value.field == "contact"
    with pytest.raises(Refused, match="another lead"):
        lead_letters.draft(contact=ana, follow_up=FollowUpFactory(lead=other), **words)


def test_who_asked_for_no_more_letters_gets_none(cast, ana, row, send):
    stop(cast.team, "Ana@Fernwick.example")
    with pytest.raises(Refused, match="Ana Prado asked for no more letters on Tue 3 Mar 2026"):
        send()
    with pytest.raises(Refused, match="asked for no more letters") as wrong:
        lead_letters.draft(
            lead=ana.lead, member=cast.member, now=NOW, contact=ana, subject="s", text="t"
        )
    assert wrong.value.field == "contact"
    assert not Letter.objects.exists()


def test_a_stop_counts_within_its_team_alone(cast, send):
    stop(cast.other_team, "ana@fernwick.example")
    assert send().letter is not None


def test_one_who_stops_while_the_letter_still_waits_gets_it_no_more(cast, row, send):
    sent, carrier = send(), Carried()
    stop(cast.team, "ana@fernwick.example")
    assert deliver(NOW, carrier) == 0
    assert carrier.subjects == []
    sent.letter.refresh_from_db()
    assert lead_letters.delivery(sent.letter, cast.team).startswith("held back")


def test_the_state_of_its_delivery_is_told_in_words(cast, send):
    letter = send().letter

    def told():
        letter.refresh_from_db()
        return lead_letters.delivery(letter, cast.team)

    assert told() == "waiting to be sent"
    deliver(NOW, Carried(refuses=("How is it going?",)))
    assert told().startswith("tried in vain, and again Tue 3 Mar 2026, 09:")
    deliver(NOW + timedelta(hours=1), Carried())
    assert told() == "sent Tue 3 Mar 2026, 10:00"
    Letter.objects.update(sent_at=None, gave_up_at=NOW)
    assert told() == "it could not be sent"
    assert lead_letters.delivery(None, cast.team) == "not kept any more"


def test_it_stands_in_the_leads_history_once_it_is_sent(cast, ana, row, send):
    def events():
        rows = Rows(letters=list(ana.lead.letters.with_names()))
        return [event for event in history(ana.lead, cast.team, rows) if event.page != "lead-edit"]

    assert events() == []
    send()
    (event,) = events()
    assert (event.day, event.page, event.pk) == (TODAY, "lead-letter", row.pk)
    assert event.what == "Letter to Ana Prado: How is it going?"
    assert event.details == ("by Mateus Coelho, waiting to be sent",)
    deliver(NOW, Carried())
    assert events()[0].details == ("by Mateus Coelho",)


def test_a_merge_takes_letters_along_and_parting_them_brings_them_back(cast, ana, row, send):
    kept = LeadFactory(team=cast.team)
    done = merge(kept=kept, gone=ana.lead, member=cast.member, now=NOW)
    assert LeadLetter.objects.get().lead == kept
    after = LeadLetterFactory(lead=kept, contact=ana)
    unmerge(merge=done, now=NOW)
    assert LeadLetter.objects.get(pk=row.pk).lead == ana.lead
    assert "no longer at this lead" in lead_letters.obstacles(after)[0]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_send_it_at_once_one_did(cast, row, send):
    wrong = at_once(send, lambda: send(member=cast.owner))
    assert [type(error) for error in wrong] == [Refused]
    assert Letter.objects.count() == 1
