"""A damaged or foreign file is refused, and nothing is touched by it."""

import json
import os
import re
import shutil
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from django.conf import settings
from hypothesis import HealthCheck, given
from hypothesis import settings as made_up
from hypothesis import strategies as st

from pipeline.exchange.backup import archive as archives
from pipeline.exchange.backup.archive import Writer, is_plain, opened
from pipeline.exchange.backup.engine import engine
from pipeline.exchange.backup.manifest import Manifest, Member
from pipeline.exchange.backup.restoring import restore_backup
from pipeline.teams.refused import Refused
from tests.conftest import NOW
from tests.exchange.backup.conftest import unheard
from tests.exchange.backup.places import elsewhere, every_file, every_row
from tests.factories import LeadFactory


def manifest_of(path):
    with opened(path, engine().MEMBER) as found:
        return found.manifest


def regions(path):
    """Return the first, middle and last place of each part of which a ZIP is made."""
    length = os.path.getsize(path)
    with ZipFile(path) as found:
        ends = sorted({entry.header_offset for entry in found.infolist()} | {found.start_dir})
    starts = [*ends, length - len(archives.MARK) - archives.DIGITS - 22, length - 1]
    starts += [length - archives.DIGITS, length - archives.DIGITS - len(archives.MARK)]
    places = set()
    for start, end in zip(sorted(starts), [*sorted(starts)[1:], length], strict=True):
        places |= {start, start + 30, (start + end) // 2, max(start, end - 1)}
    return sorted(place for place in places if place < length)


def crafted(path, kept, *, change=lambda manifest: manifest, add=(), without=(), other=None):
    """Write an archive whose sum holds, and that differs from ``kept`` as is said."""
    manifest, writer = manifest_of(kept), Writer(path)
    with ZipFile(kept) as source:
        for name in manifest.members:
            if name not in without:
                content = (other or {}).get(name, source.read(name))
                writer.add(name, BytesIO(content))
    for name, content in add:
        writer.add(name, BytesIO(content))
    writer.finish(change(replace(manifest, members=dict(writer.members))))
    return path


@pytest.fixture
def here(archive, cast, tmp_path):
    """Another place, where something is already that must stay as it is."""
    with elsewhere(tmp_path / "elsewhere", copied=True) as folder:
        LeadFactory(team=cast.team, organisation="What was there")
        file = Path(settings.MEDIA_ROOT) / "team-1" / "there.pdf"
        file.parent.mkdir(parents=True)
        file.write_bytes(b"%PDF-1.4 there")
        yield folder


@pytest.fixture
def refused(here):
    """Return a function that has a file refused, and holds that nothing was changed by it."""
    before = every_row(), every_file(), sorted(os.listdir(here))

    def held(path, words):
        with pytest.raises(Refused, match=words):
            restore_backup(path, now=NOW, say=unheard, replace=True)
        assert (every_row(), every_file(), sorted(os.listdir(here))) == before

    return held


def test_a_byte_that_differs_anywhere_is_found(archive, refused, tmp_path):
    whole = bytearray(archive.read_bytes())
    damaged = tmp_path / "damaged.zip"
    for place in regions(archive):
        whole[place] ^= 0x01
        damaged.write_bytes(whole)
        with pytest.raises(Refused, match="Nothing was changed"), opened(damaged, engine().MEMBER):
            pass
        whole[place] ^= 0x01
    damaged.write_bytes(whole[: len(whole) // 2] + b"\0" + whole[len(whole) // 2 + 1 :])
    refused(damaged, "This backup is damaged")


@made_up(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_no_change_of_its_bytes_goes_unseen(archive, tmp_path, data):
    whole = archive.read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    kind = data.draw(st.sampled_from(["flipped", "cut", "longer", "left out"]))
    changed = {
        "flipped": whole[:place]
        + bytes([whole[place] ^ data.draw(st.integers(1, 255))])
        + whole[place + 1 :],
        "cut": whole[:place],
        "longer": whole[:place] + b"x" + whole[place:],
        "left out": whole[:place] + whole[place + 1 :],
    }[kind]
    if changed == whole:
        return
    (tmp_path / "changed.zip").write_bytes(changed)
    with pytest.raises(Refused), opened(tmp_path / "changed.zip", engine().MEMBER):
        pass


def test_a_foreign_file_is_refused(refused, archive, tmp_path):
    foreign = tmp_path / "foreign.zip"
    for content in (b"", b"PK", b"organisation,fee\n", b"\0" * 5000, archive.read_bytes()[:-1]):
        foreign.write_bytes(content)
        refused(foreign, "no whole backup of this program")
    with ZipFile(foreign, "w") as other:
        other.writestr("manifest.json", "{}")
    refused(foreign, "no whole backup of this program")
    # One whose sum holds.
    writer = Writer(tmp_path / "empty.zip")
    writer.finish(replace(manifest_of(archive), members={}))
    refused(tmp_path / "empty.zip", "it has no database")


LEADING_OUT = [
    "files/../../evil.txt",
    "files/..",
    "files/./evil.txt",
    "/tmp/evil.txt",
    "files//etc/evil.txt",
    "files/a\\..\\evil.txt",
    "files/C:evil.txt",
    "files/a\nb.txt",
    "files/" + "a" * 256,
    "files/",
    "evil.txt",
    "FILES/evil.txt",
]


def test_no_name_leads_out_of_the_uploads(refused, archive, tmp_path):
    for number, name in enumerate(LEADING_OUT):
        path = crafted(tmp_path / f"crafted-{number}.zip", archive, add=[(name, b"evil")])
        refused(path, "has no place in it")


@given(
    name=st.text(max_size=40)
    | st.lists(st.sampled_from(["..", ".", "", "a", "\\", "/"])).map("/".join)
)
def test_a_plain_name_stays_below_its_folder(name):
    root = Path("/srv/uploads")
    if is_plain(name):
        assert root in Path(os.path.normpath(root / name)).parents


def listed(manifest, **said):
    """Return the manifest with something else said of each file."""
    files = {name: replace(member, **said) for name, member in manifest.members.items()}
    return replace(manifest, members=files)


LATER, MORE = "teams.9999_later", {"files/more.pdf": Member(1, "0" * 64)}
AMISS = [
    (lambda m: replace(m, program="99.0.0"), "Version 99.0.0 of the program made this"),
    (lambda m: replace(m, migrations=(*m.migrations, LATER)), "seen teams.9999_later"),
    (lambda m: replace(m, program="new"), "no version of it"),
    (lambda m: replace(m, database="other"), "a backup of an unknown database"),
    (lambda m: replace(m, key="0" * 32), "under another SECRET_KEY"),
    (lambda m: replace(m, rows=m.rows | {"leads_lead": 10**6}), "database is not what its"),
    (lambda m: replace(m, members=m.members | MORE), "does not hold what its list says"),
    (lambda m: listed(m, sha256="0" * 64), "is not what its list says"),
    (lambda m: listed(m, bytes=3), "is not what its list says"),
]


def test_what_it_says_of_itself_must_fit(refused, archive, tmp_path):
    for number, (change, words) in enumerate(AMISS):
        path = crafted(tmp_path / f"crafted-{number}.zip", archive, change=change)
        refused(path, words)


def test_a_manifest_that_is_none_is_refused(refused, archive, tmp_path, monkeypatch):
    raws = [b"[]", b"{}", b"\xff", b"{" * 100_000, b'{"format": 1, "rows": 3}']
    for number, raw in enumerate(raws):
        with monkeypatch.context() as patch:
            patch.setattr(Manifest, "as_json", lambda self: raw)  # noqa: B023
            path = crafted(tmp_path / f"crafted-{number}.zip", archive)
        refused(path, "no backup of this program")


def test_a_later_format_is_refused_by_name(refused, archive, tmp_path, monkeypatch):
    told = json.dumps({"format": 2}).encode()
    monkeypatch.setattr(Manifest, "as_json", lambda self: told)
    refused(crafted(tmp_path / "crafted.zip", archive), "in the format 2")


def test_a_database_that_is_none_is_refused(refused, archive, tmp_path):
    for number, content in enumerate((b"", b"SQLite format 3\0" + b"\1" * 5000, b"PGDMP\1\1")):
        other = {engine().MEMBER: content}
        path = crafted(tmp_path / f"crafted-{number}.zip", archive, other=other)
        refused(path, "not what its list says|pg_restore failed")


def test_without_room_it_is_refused(refused, archive, monkeypatch):
    usage = shutil.disk_usage("/")._replace(free=1000)
    monkeypatch.setattr("shutil.disk_usage", lambda folder: usage)
    refused(archive, "There is no room")


def test_another_key_is_taken_where_it_is_said(archive, tmp_path):
    other = crafted(tmp_path / "o.zip", archive, change=lambda m: replace(m, key="0" * 32))
    with elsewhere(tmp_path / "elsewhere"):
        manifest = restore_backup(other, now=NOW, say=unheard, other_key=True).manifest
        assert re.fullmatch("0{32}", manifest.key)
