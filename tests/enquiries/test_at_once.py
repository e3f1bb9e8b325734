"""Many at the same moment: each is counted, and none comes twice."""

from collections import Counter

import pytest
from django.test import Client

from pipeline.enquiries.arrivals import MOST_OF_NETWORK
from pipeline.enquiries.models import Arrival, Enquiry
from pipeline.leads.models import Lead, LogEntry, Source
from tests.enquiries.pages import AT, later, open_page, read
from tests.followups.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def sent_at_once(*forms):
    """Send each of these forms from a browser of its own; return how often each status came."""
    came = []

    def sending(form):
        return lambda: came.append(Client().post(AT, form).status_code)

    with later():
        assert at_once(*map(sending, forms)) == []
    return Counter(came)


def test_of_many_from_one_network_as_many_get_through_as_may(cast, browser):
    open_page(cast.team)
    forms = [read(browser, about=f"Enquiry {n}") for n in range(12)]
    assert sent_at_once(*forms) == {302: MOST_OF_NETWORK, 429: 12 - MOST_OF_NETWORK}
    for table in (Lead, LogEntry, Enquiry, Arrival):
        assert table.objects.count() == MOST_OF_NETWORK
    assert Source.objects.count() == 1


def test_one_form_sent_many_times_is_one_enquiry_and_every_answer_says_so(cast, browser):
    open_page(cast.team)
    assert sent_at_once(*[read(browser)] * 8) == {302: 8}
    for table in (Lead, LogEntry, Enquiry, Arrival):
        assert table.objects.count() == 1
