"""No text of ours is taken for a formula, and each comes back as it was."""

from __future__ import annotations

import ast
import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.teams.spreadsheet import Lines, as_meant, guarded
from tests.access.imports import sources

ROOT = Path(__file__).resolve().parents[2]
TEXTS = st.text("'=+-@\t\r\n 5.e,;\"aＵ＝", max_size=8) | st.text(max_size=20)


# OWASP ASVS 5.0, 1.2.10 names the signs; blanks in front and the wide forms are common practice,
# no source
@pytest.mark.parametrize(
    "text", ["=1+1", "+351 912", "-1+1", "@SUM(A1)", "\tx", "\rx", " =1", "\n-x", "＝1", "-- x"]
)
def test_a_text_that_would_be_calculated_gets_an_apostrophe(text):
    assert guarded(text) == f"'{text}"
    assert guarded(f"'{text}") == f"''{text}"


@pytest.mark.parametrize("text", ["", "-", "-5", "-12.50", "-1e-05", "5", "a=b", "'tis", "'-5"])
def test_what_nobody_calculates_stays_as_it_is(text):
    assert guarded(text) == as_meant(text) == text


@given(TEXTS)
def test_what_was_put_on_is_taken_off(text):
    assert as_meant(guarded(text)) == text


@given(TEXTS)
def test_no_text_begins_with_a_sign_that_calculates(text):
    cell = guarded(text)
    alone = cell.strip() == "-" or cell.strip().removeprefix("-")[:1].isdecimal()
    assert alone or not cell.lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))
    assert not cell.startswith(("\t=", "\r="))


@given(st.lists(TEXTS, min_size=1, max_size=4), st.sampled_from(",;\t"))
def test_a_line_is_read_back_cell_by_cell(texts, delimiter):
    out = io.StringIO(newline="")
    Lines(out, delimiter).write(texts)
    (read,) = csv.reader(io.StringIO(out.getvalue(), newline=""), delimiter=delimiter)
    assert [as_meant(cell) for cell in read] == texts


def test_a_number_is_written_as_a_number():
    out = io.StringIO(newline="")
    Lines(out).write([-5, -0.5, None, "-5", "=5"])
    assert out.getvalue() == "-5,-0.5,,-5,'=5\r\n"


def test_nothing_else_writes_csv():
    writing = {
        module
        for path, module in sources(ROOT)
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute | ast.alias)
        and getattr(node, "attr", getattr(node, "name", ""))
        in ("writer", "DictWriter", "writerow", "writerows")
    }
    assert writing == {"pipeline.teams.spreadsheet"}
