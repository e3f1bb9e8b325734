"""A CSV file becomes rows that know their line, or is refused as a whole."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.exchange.reading import Unreadable, read


def lines_of(content: bytes) -> list[tuple[int, tuple[str, ...]]]:
    return [(row.line, row.cells) for row in read(content).rows]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_delimiters_marks_and_line_ends_are_told_from_the_file(delimiter, mark, newline):
    rows = [["organisation", "source"], ["Köln Ofen", "Fair"], ["Kiln", ""]]
    content = mark + newline.join(delimiter.join(row) for row in rows).encode()
    table = read(content)
    assert table.columns == ("organisation", "source")
    assert [(r.line, r.cells) for r in table.rows] == [
        (2, ("Köln Ofen", "Fair")),
        (3, ("Kiln", "")),
    ]


def test_a_header_with_another_delimiter_in_a_quoted_name_is_read_by_its_own():
    table = read(b'"a, b, c";organisation\n1;Kiln\n')
    assert table.columns == ("a, b, c", "organisation")


def test_a_record_counts_from_the_line_on_which_it_starts():
    # RFC 4180, section 2, rules 6 and 7: quoted line breaks and doubled quotes
    content = b'organisation,memo\r\nKiln,"one\r\ntwo\nthree"\r\n\r\nFold,"say ""yes"""\r\nLast,'
    assert lines_of(content) == [
        (2, ("Kiln", "one\ntwo\nthree")),
        (6, ("Fold", 'say "yes"')),
        (7, ("Last", "")),
    ]


def test_cells_are_trimmed_and_lines_without_any_cell_are_skipped():
    content = " Organisation ,Session-On\n  Kiln\u00a0 , 2026-01-01 \n,\n   ,  \n\n".encode()
    table = read(content)
    assert table.columns == ("organisation", "session_on")
    assert [r.cells for r in table.rows] == [("Kiln", "2026-01-01")]


def test_blank_lines_before_the_header_and_blank_columns_after_it_do_no_harm():
    content = b"\n,,\norganisation,memo,,\nKiln,x,,\n"
    table = read(content)
    assert table.columns == ("organisation", "memo")
    assert [(r.line, r.cells[:2]) for r in table.rows] == [(4, ("Kiln", "x"))]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n\n", "empty"),
        ("organisation\nKöln\n".encode("latin-1"), "Line 2 is not UTF-8"),
        ("organisation\nKiln\n".encode("utf-16"), "Line 1 is not UTF-8"),
        (b"organisation\nKi\0ln\n", "Line 2 holds a NUL"),
        (b"Kiln,2026-01-01\n", "no column “organisation”"),
        (b"organisation,Source,source\n", "same name: source"),
        (b"organisation,Memo,memo\n", "same name: Memo, memo"),
        (b'organisation,"memo\nKiln\n', "Close the quotes"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_and_told_why(content, says):
    with pytest.raises(Unreadable, match=says):
        read(content)


def test_a_quote_that_is_never_closed_spoils_its_own_line_only():
    table = read(b'organisation,memo\nKiln,a\nFold,"b\nGate,c\nHill,"d" e\nIron,"f"\n')
    assert [(r.line, bool(r.broken)) for r in table.rows] == [
        (2, False),
        (3, True),
        (4, False),
        (5, True),
        (6, False),
    ]
    assert table.rows[-1].cells == ("Iron", "f")


@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8),
            min_size=2,
            max_size=2,
        ),
        max_size=6,
    ),
    st.sampled_from([",", ";", "\t"]),
)
def test_what_a_csv_writer_wrote_is_read_back_cell_by_cell(rows, delimiter):
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, quoting=csv.QUOTE_ALL)
    writer.writerow(["organisation", "memo"])
    starts = []
    for row in rows:
        written = out.getvalue().replace("\r\n", "\n").replace("\r", "\n")
        starts.append(written.count("\n") + 1)
        writer.writerow(row)
    plain = [
        tuple(c.strip().replace("\r\n", "\n").replace("\r", "\n") for c in row) for row in rows
    ]
    expected = [(n, row) for n, row in zip(starts, plain, strict=True) if any(row)]
    assert lines_of(out.getvalue().encode()) == expected
