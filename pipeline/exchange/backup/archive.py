"""The file of a backup: a ZIP that ends with the SHA-256 of all that stands before.

A ZIP's own checksums leave much of it unwatched: times, names, the list at its end. The comment of
the archive, its very last bytes, covers the whole; any program for ZIPs still opens it.
"""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import IO, BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from pipeline.teams.refused import Refused

from .manifest import Manifest, Member, read

MARK = b"backup of pipeline, sha256 "
DIGITS = 64
MANIFEST = "manifest.json"
UPLOADS = "files/"
# More than any list of uploads will have; a ZIP may claim much.
LARGEST_MANIFEST = 256 * 1024 * 1024
CHUNK = 1024 * 1024
# A part of a name that every system takes as a name, and none as a way.
PART = re.compile(r"[^\x00-\x1f\x7f/\\:]{1,255}")
DAMAGED = "This backup is damaged: {}. Nothing was changed; take another copy of it."
FOREIGN = "This is no whole backup of this program: {}. Nothing was changed."


class Writer:
    """Writes an archive to a file that is not there yet, which only its owner may read."""

    def __init__(self, path: Path) -> None:
        self._file = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b")
        self._zip = ZipFile(self._file, "w")
        self.members: dict[str, Member] = {}

    def add(self, name: str, source: BinaryIO, *, pack: bool = False) -> None:
        """Add all that ``source`` has still to give."""
        digest, length = sha256(), 0
        with self._zip.open(_entry(name, pack=pack), "w", force_zip64=True) as into:
            while part := source.read(CHUNK):
                into.write(part)
                digest.update(part)
                length += len(part)
        self.members[name] = Member(length, digest.hexdigest())

    def finish(self, manifest: Manifest) -> None:
        """Write the manifest and the sum of it all, down to the disk."""
        self._zip.writestr(_entry(MANIFEST, pack=True), manifest.as_json())
        self._zip.comment = MARK + b"0" * DIGITS
        self._zip.close()
        digest = _sum(self._file, self._file.seek(0, os.SEEK_END) - DIGITS)
        self._file.seek(-DIGITS, os.SEEK_END)
        self._file.write(digest)
        self._file.flush()
        os.fsync(self._file.fileno())
        self.close()

    def close(self) -> None:
        """Let go of the file, finished or not."""
        try:
            self._zip.close()
        finally:
            self._file.close()


class Archive:
    """An archive whose every byte is as it was written, and whose names lead nowhere else."""

    def __init__(self, file: ZipFile, manifest: Manifest) -> None:
        self._zip = file
        self.manifest = manifest

    def unpack(self, name: str, target: Path) -> None:
        """Write one member to ``target``, which is not there yet."""
        wanted = self.manifest.members[name]
        digest, length = sha256(), 0
        target.parent.mkdir(parents=True, exist_ok=True)
        with self._zip.open(name) as member, target.open("xb") as into:
            while part := member.read(CHUNK):
                digest.update(part)
                length += len(part)
                if length > wanted.bytes:
                    break
                into.write(part)
        if (length, digest.hexdigest()) != (wanted.bytes, wanted.sha256):
            raise Refused(DAMAGED.format(f"{name} is not what its list says"))


@contextmanager
def opened(path: Path, database: str) -> Iterator[Archive]:
    """Open an archive of a ``database`` member and uploads; refuse any that is not whole."""
    try:
        with path.open("rb") as file:
            _check_sum(file)
            with ZipFile(file) as found:
                yield Archive(found, _checked(found, database))
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise Refused(DAMAGED.format("it can't be unpacked")) from error


def is_plain(name: str) -> bool:
    """Tell whether a name, with its folders, stays below the folder in which it is put."""
    parts = name.split("/")
    return all(PART.fullmatch(part) and part not in (".", "..") for part in parts)


def _entry(name: str, *, pack: bool) -> ZipInfo:
    entry = ZipInfo(name)
    entry.compress_type = ZIP_DEFLATED if pack else ZIP_STORED
    entry.external_attr = 0o600 << 16
    return entry


def _sum(file: IO[bytes], length: int) -> bytes:
    """Return the hexadecimal SHA-256 of the first ``length`` bytes."""
    digest = sha256()
    file.seek(0)
    while length > 0 and (part := file.read(min(CHUNK, length))):
        digest.update(part)
        length -= len(part)
    return digest.hexdigest().encode()


def _check_sum(file: BinaryIO) -> None:
    length = file.seek(0, os.SEEK_END)
    tail = len(MARK) + DIGITS
    file.seek(max(0, length - tail))
    end = file.read()
    if not end.startswith(MARK):
        raise Refused(FOREIGN.format("it is something else, or its end is missing"))
    if _sum(file, length - DIGITS) != end[len(MARK) :]:
        raise Refused(DAMAGED.format("its checksum does not hold"))


def _checked(found: ZipFile, database: str) -> Manifest:
    names = found.namelist()
    if MANIFEST not in names or found.getinfo(MANIFEST).file_size > LARGEST_MANIFEST:
        raise Refused(FOREIGN.format("there is no manifest in it"))
    manifest = read(found.read(MANIFEST))
    if sorted(names) != sorted([MANIFEST, *manifest.members]):
        raise Refused(FOREIGN.format("it does not hold what its list says"))
    for name in manifest.members:
        if name != database and not (name.startswith(UPLOADS) and is_plain(name)):
            raise Refused(FOREIGN.format(f"{name[:100]!r} has no place in it"))
    if database not in names:
        raise Refused(FOREIGN.format(f"it has no {database}"))
    return manifest
