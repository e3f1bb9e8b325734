"""What people wrote, made fit for a typesetter: nothing readable is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.typeset.text import printable, printable_in


@pytest.mark.parametrize(
    ("typed", "set_as"),
    [
        ("plain", "plain"),
        ("two\nlines", "two\nlines"),
        ("two\r\nlines\rand one", "two\nlines\nand one"),
        ("a\tb", "a b"),
        ("a\x00b\x0bc\x1bd", "abcd"),
        ("a\ud800b", "ab"),
        ("\u202eabc\u2066d\u200ee\ufeff", "abcde"),
        ("👩\u200d👧 ❤\ufe0f", "👩\u200d👧 ❤\ufe0f"),
        ("نص עברית 東京", "نص עברית 東京"),
    ],
)
def test_only_what_no_typesetter_takes_is_dropped(typed, set_as):
    assert printable(typed) == set_as


def test_content_is_cleaned_however_deep_it_lies():
    assert printable_in({"a": ["x\x00", ("y\x00", 3, None)], "b": {"c": "z\x00"}}) == {
        "a": ["x", ["y", 3, None]],
        "b": {"c": "z"},
    }


@given(st.text())
def test_what_was_made_fit_is_left_alone_the_second_time(text):
    assert printable(printable(text)) == printable(text)
    printable(text).encode()
