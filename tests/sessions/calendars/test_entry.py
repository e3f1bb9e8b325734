"""Calendar files say what the RFCs' own examples say, and another program reads the same."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sessions.calendars.entry import Entry, Method, Person, Status, calendar_file

from .examples import CANCELLED, ESCAPED, PUBLISHED, REMOVED, REQUESTED, SAID, UPDATED
from .reading import read, read_all

A, B, C, D = (
    Person("a@example.com", "A"),
    Person("b@example.com", "B"),
    Person("c@example.com", "C"),
    Person("d@example.com", "Hal"),
)
UID = "calsrv.example.com-873970198738777@example.com"
GAME = "0981234-1234234-23@example.com"


def at(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(1997, month, day, hour, minute, tzinfo=UTC)


OURS = {
    "4.1.1": (
        PUBLISHED,
        Method.PUBLISH,
        Entry(
            GAME,
            at(6, 11, 19),
            "ST. PAUL SAINTS -VS- DULUTH-SUPERIOR DUKES",
            at(7, 1, 20),
            status=None,
            organizer=A,
        ),
    ),
    "4.2.1": (
        REQUESTED,
        Method.REQUEST,
        Entry(
            UID,
            at(6, 11, 19),
            "Conference",
            at(7, 1, 20),
            at(7, 1, 21),
            organizer=A,
            people=(A, B, C, D),
        ),
    ),
    "4.2.3": (
        UPDATED,
        Method.REQUEST,
        Entry(
            UID,
            at(6, 13, 19),
            "Phone Conference",
            at(7, 1, 18),
            at(7, 1, 19),
            sequence=1,
            organizer=A,
            people=(A, B, C, D),
        ),
    ),
    "4.2.9": (
        CANCELLED,
        Method.CANCEL,
        Entry(
            UID,
            at(6, 13, 19),
            sequence=1,
            status=Status.CANCELLED,
            organizer=A,
            people=(A, B, C, D),
        ),
    ),
    "4.2.10": (
        REMOVED,
        Method.CANCEL,
        Entry(UID, at(6, 13, 19, 30), sequence=1, status=None, organizer=A, people=(B,)),
    ),
}


@pytest.mark.parametrize("section", OURS)
def test_the_same_facts_give_what_the_example_of_rfc_5546_says(section):
    example, method, entry = OURS[section]
    theirs, ours = read(example), read(calendar_file([entry], method=method))
    for name in ("method", "uid", "starts", "ends", "stamp", "summary", "sequence", "status"):
        assert (name, getattr(ours, name)) == (name, getattr(theirs, name))
    assert (ours.organizer, ours.people) == (theirs.organizer, theirs.people)


def test_the_parameters_of_those_invited_are_the_ones_of_the_example():
    _, method, entry = OURS["4.2.1"]
    theirs, ours = read(REQUESTED), read(calendar_file([entry], method=method))
    for ours_one, theirs_one in zip(ours.raw.attendee_list, theirs.raw.attendee_list, strict=True):
        # what the example leaves out is the default of RFC 5545, 3.2.12
        assert ours_one.params == {"PARTSTAT": ["NEEDS-ACTION"]} | theirs_one.params


def test_text_is_escaped_as_in_the_example_of_rfc_5545():
    file = calendar_file([Entry("u@x.example", at(6, 1, 1), description=SAID)])
    assert f"DESCRIPTION:{ESCAPED}\r\n" in file
    assert read(file).description == SAID


def test_lines_end_in_both_characters_and_hold_75_octets_at_most():
    """RFC 5545, 3.1."""
    file = calendar_file([Entry("u@x.example", at(6, 1, 1), "é" * 300, description="a " * 300)])
    lines = file.encode().split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert b"\n" not in b"".join(lines)
    assert read(file).summary == "é" * 300


def test_a_whole_day_is_a_date():
    """As in RFC 5546, 4.1.5."""
    day = date(1997, 7, 14)
    file = calendar_file(
        [Entry("u@x.example", at(6, 14, 19), "Bastille Day", day, day + timedelta(days=1))]
    )
    assert "DTSTART;VALUE=DATE:19970714\r\n" in file
    assert read(file).starts == day


def test_a_file_to_subscribe_to_names_itself_and_asks_for_nothing():
    file = calendar_file([], name="Harbour, Studio", refresh=timedelta(hours=1))
    assert "NAME:Harbour\\, Studio\r\n" in file
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in file
    assert "METHOD" not in file
    assert read_all(file) == []


texts = st.text(
    st.characters(exclude_categories=["Cs"]) | st.sampled_from(list(",;:\\\"\n^'\t")), max_size=120
)


@given(summary=texts, description=texts, place=texts, name=texts)
def test_whatever_is_typed_another_program_reads_the_same(summary, description, place, name):
    person = Person("a@x.example", name)
    file = calendar_file(
        [
            Entry(
                "u@x.example",
                at(6, 1, 1),
                summary,
                at(6, 2, 1),
                at(6, 2, 2),
                organizer=person,
                people=(person, B),
                place=place,
                description=description,
            )
        ],
        method=Method.REQUEST,
    )
    found = read(file)
    for said, typed in (
        (found.summary, summary),
        (found.description, description),
        (found.place, place),
    ):
        assert said == as_kept(typed)
    assert found.organizer == "a@x.example"
    assert found.people == {"a@x.example", "b@example.com"}
    assert (found.starts, found.ends) == (at(6, 2, 1), at(6, 2, 2))


def as_kept(typed: str) -> str:
    """Return a text as a calendar file may hold it: one kind of line break, no controls."""
    one_kind = typed.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(c for c in one_kind if c in "\n\t" or not (ord(c) < 32 or ord(c) == 127))
