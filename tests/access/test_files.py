"""Every kept file: given out by one address, as a file, and never where a stranger says."""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import models
from django.urls import get_resolver
from django.utils.http import content_disposition_header
from hypothesis import example, given
from hypothesis import strategies as st

from sessions.files import KINDS, kind_by_name, safe_name
from tests.access.everything import address, one_of_each, outside_paths
from tests.access.test_matrix import TABLE

ATTACHED = "attachment"
# What the program itself has set or looked at dot by dot is shown where it is asked for.
SHOWN = "inline"
# Each file that a row keeps: the address that hands it out, and how.
HANDED_OUT = {
    "discovery.batchitem.file": ("batch-zip", ATTACHED),
    "discovery.deliverable.file": ("deliverable-file", ATTACHED),
    "discovery.sharedtakeaway.file": ("shared-file", SHOWN),
    "teams.team.logo": ("team-logo", SHOWN),
}
FIELDS = {
    f"{model._meta.label_lower}.{field.name}": field
    for model in apps.get_models()
    for field in model._meta.get_fields()
    if isinstance(field, models.FileField)
}
HOSTILE = [
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "/etc/cron.d/x",
    "a\0.pdf",
    "CON",
    "NUL.pdf",
    "x" * 300 + ".pdf",
    "annual\u202efdp.exe",
    ".htaccess",
    "a.pdf/..",
    "%2e%2e%2fa.pdf",
    "a\r\nSet-Cookie: b=c.pdf",
    "",
]
NAMES = st.text(max_size=40) | st.lists(
    st.sampled_from(["..", "/", "\\", "\0", "CON", ".", "a.pdf", "\u202e", "~"]), max_size=6
).map("".join)


def test_each_kept_file_has_its_address():
    assert set(FIELDS) == set(HANDED_OUT)


@pytest.mark.parametrize("name", HANDED_OUT)
def test_a_file_is_handed_out_at_its_address_as_a_file(cast, sign_in, client, name):
    rows = one_of_each(cast)
    at, how = HANDED_OUT[name]
    if at in TABLE:
        row = TABLE[at][0]
        answer = sign_in(cast.reader).get(address(at, "harbour", rows[row] if row else None))
    else:
        answer = client.get(outside_paths(cast, rows)[at])
    content = b"".join(answer)
    assert (answer.status_code, bool(content)) == (200, True)
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Type"] in {kind.content_type for kind in KINDS} | {
        "application/zip"
    }
    disposition = answer.headers.get("Content-Disposition", "inline")
    assert disposition.split(";")[0] == how


def test_no_address_leads_to_the_folder_of_the_files():
    kept = Path(settings.DATA_DIR)
    given_out = [Path(folder) for folder in settings.STATICFILES_DIRS]
    assert not any(kept.is_relative_to(folder) for folder in given_out)
    assert not any("serve" in str(p.callback) for p in _patterns(get_resolver().url_patterns))


def _patterns(patterns: Any) -> list[Any]:
    found = []
    for pattern in patterns:
        inner = getattr(pattern, "url_patterns", None)
        found += [pattern] if inner is None else _patterns(inner)
    return found


def hostile(test: Any) -> Any:
    """Try the names that once hurt somebody beside those that are made up."""
    for name in HOSTILE:
        test = example(name)(test)
    return given(NAMES)(test)


@pytest.mark.parametrize("field", FIELDS.values(), ids=FIELDS)
def test_a_name_never_becomes_a_path(field):
    row = field.model(pk=7)
    for key in row._meta.fields:
        if isinstance(key, models.ForeignKey):
            setattr(row, key.attname, 5)
    mine = "team-7" if field.model._meta.label_lower == "teams.team" else "team-5"

    @hostile
    def tried(name: str) -> None:
        path = field.generate_filename(row, name)
        assert PurePosixPath(path).parts[0] == mine
        assert path.isascii()
        assert path.isprintable()
        assert len(path) < 100
        assert not {"..", "~"} & set(PurePosixPath(path).parts)
        ending = path.rpartition(".")[2]
        assert ending.isalnum()
        assert Path(field.storage.path(path)).is_relative_to(field.storage.path(mine))

    tried()


@hostile
def test_the_name_that_is_shown_is_one_line_and_tells_the_kind(name):
    for kind in KINDS:
        shown = safe_name(name, kind)
        assert shown.isprintable()
        assert 0 < len(shown) <= 190
        assert kind_by_name(shown) == kind
        header = content_disposition_header(True, shown) or ""
        assert header.isascii()
        assert header.isprintable()
