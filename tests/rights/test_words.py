"""What somebody is called is found as a whole, however it is written, and taken out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.rights.words import INSTEAD, Words


@pytest.mark.parametrize(
    ("sought", "text"),
    [
        ("Ana Prado", "as ANA PRADO said"),
        ("Ana Prado", "Ana\nPrado’s board"),
        ("ana@fernwick.example", "to Ana@Fernwick.example."),
        ("ana@fernwick.example", "<ana@fernwick.example>"),
        ("Ágnes Nagy", "ÁGNES NAGY"),
        ("Zoë Ó Briain", "Zoe\u0308 O\u0301 Briain"),
        ("Pat O'Hara", "<p>Pat O&#x27;Hara</p>"),
    ],
)
def test_it_is_found_and_taken_out(sought, text):
    words = Words.of([sought])
    assert words.within(text)
    assert not words.within(words.without(text))


@pytest.mark.parametrize(
    ("sought", "text"),
    [
        ("ana@fernwick.example", "joana@fernwick.example"),
        ("ana@fernwick.example", "x.ana@fernwick.example"),
        ("ana@fernwick.example", "ana@fernwick.example.org"),
        ("Ana", "Anatole and Banana"),
        ("Ana", "ana@fernwick.example"),
    ],
)
def test_part_of_another_word_is_nobody(sought, text):
    assert not Words.of([sought]).within(text)
    assert Words.of([sought]).without(text) == text


@given(st.text(max_size=40), st.text(max_size=40))
def test_what_was_taken_out_is_not_found_again(before, after):
    words = Words.of(["Ana Prado", "ana@fernwick.example"])
    text = f"{before} Ana Prado {after}"
    assert words.within(text)
    assert not words.within(words.without(text))
    assert INSTEAD in words.without(text)


@given(st.recursive(st.text(max_size=9) | st.integers() | st.none(), st.lists, max_leaves=9))
def test_what_names_nobody_is_left_as_it_is(value):
    assert Words.of(["Ana Prado"]).out_of({"said": value}) == {"said": value}


def test_nothing_is_sought_for_nobody():
    assert not Words.of(["", "  "])
    assert not Words.of([]).within("anybody")
    assert Words.of([]).without("anybody") == "anybody"
