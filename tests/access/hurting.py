"""Values that once hurt some program, and fillings made up of them."""

from __future__ import annotations

from hypothesis import strategies as st

from tests.access.everything import A_PICTURE
from tests.access.forms_found import Field

A_MEGABYTE = "long " * 200_000
WORDS = [
    "Ana & Söhne <b>x</b> '\"",
    "a\0b",
    "a\x01\x1b[31mb\x7f",
    "two\r\nlines\r\n\r\nSubject: three",
    "\u202egnp.tac\u202c \u200bzero\u2060width\ufeff",
    "🏳️‍🌈👩🏽‍🚀 \U0010ffff",
    "\ud800 half a character",
    "=HYPERLINK(1)",
    "{{ 7 }} {% x %} #(read) %s {0}",
    "   ",
    "ﷺ" * 190,
    A_MEGABYTE,
]
DAYS = ["0001-01-01", "9999-12-31", "0000-00-00", "2026-02-30", "2026-3-3", "10000-01-01", "٢٠٢٦"]
MOMENTS = ["0001-01-01T00:00", "9999-12-31T23:59", "2026-03-29T01:30", "1899-12-31T00:00"]
MONTHS = ["0001-01", "9999-12", "2026-13", "0000-01"]
NUMBERS = [
    "-1",
    "0",
    "1e15",
    str(10**15),
    "-" + "9" * 40,
    "9" * 5000,
    "NaN",
    "Infinity",
    "²",
    "1.5",
]
KEYS = ["", "x", "None", "-1", "0", str(2**63), "00000000-0000-0000-0000-000000000000", "a.b-c"]
LIKELY = {
    "text": WORDS,
    "search": WORDS,
    "textarea": WORDS,
    "email": [*WORDS, "a@b", f"{'a' * 65}@b.example", "ana@ünï.example", "a\n@b.example"],
    "url": [*WORDS, "javascript:alert(1)", "http://[", "https://a.example/" + "x" * 5000],
    "password": WORDS,
    "date": DAYS,
    "datetime-local": [*MOMENTS, *DAYS],
    "month": MONTHS,
    "number": NUMBERS,
}
ANYTHING = [*WORDS[:-1], *DAYS, *MOMENTS, *MONTHS, *NUMBERS, *KEYS]
# What somebody would have typed into an empty box.
PLAUSIBLE = {
    "text": "Harbour plan",
    "textarea": "Harbour plan",
    "email": "ana@lead.example",
    "url": "https://lead.example/",
    "date": "2026-03-03",
    "datetime-local": "2026-03-04T10:00",
    "month": "2026-02",
    "number": "5",
}
FILES = [
    b"",
    b"MZ\x90\0",
    b"%PDF-1.4",
    A_PICTURE,
    A_PICTURE[:40],
    b"organisation,fee\r\n=1+1,-5\r\n\x01,1e15\r\n",
    "organisation,enquired_on,decision,decided_on\nA,0001-01-01,engaged,9999-12-31\n".encode(
        "utf-16"
    ),
    b"organisation,enquired_on,followed_since\nA,0001-01-01,9999-12-31\n",
    b'organisation\n"' + b"x" * 200_000,
]
NAMES = ["a.pdf", "../../x.csv", "a\0.png", "CON", "\u202egnp.csv", "x" * 300]
# One of everything that may be typed, in one line.
ALL_AT_ONCE = "a\x01\x1b[31m\u202e🏳️\u200d🌈 {{ 7 }} <b> =1 \U0010ffff\nX: y"


def plausible(box: Field) -> list[str]:
    """Return what a person would send from a box, without a change of mind."""
    return box.values if any(box.values) else [PLAUSIBLE.get(box.kind, "")]


def values(box: Field) -> st.SearchStrategy[list[str]]:
    """Return what may be sent for a box: often what a person would, else what hurts."""
    likely = LIKELY.get(box.kind, KEYS)
    kept = plausible(box)
    chosen = st.sampled_from(box.offers).map(lambda one: [one]) if box.offers else st.just(kept)
    hurting = st.sampled_from(likely) | st.sampled_from(ANYTHING) | st.text(max_size=20)
    return st.sampled_from(range(8)).flatmap(
        lambda n: [
            st.just(kept),
            st.just(kept),
            st.just(kept),
            chosen,
            st.just([]),
            hurting.map(lambda one: [one, *box.values]),
            st.sampled_from(likely).map(lambda one: [one]),
            hurting.map(lambda one: [one]),
        ][n]
    )
