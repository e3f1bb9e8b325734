"""Files of deliverables: what may be uploaded, and how it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from pipeline.leads.settle import settle
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .locking import take_deliverable
from .models import Deliverable

LARGEST = 20 * 1024 * 1024


@dataclass(frozen=True)
class Kind:
    """A kind of file, by its first bytes; the first of ``endings`` stands for all."""

    begins: bytes
    endings: tuple[str, ...]
    content_type: str = "application/octet-stream"


KINDS = (
    Kind(b"%PDF-", ("pdf",), "application/pdf"),
    Kind(b"\x89PNG\r\n\x1a\n", ("png",), "image/png"),
    Kind(b"\xff\xd8\xff", ("jpg", "jpeg"), "image/jpeg"),
    # Office documents of today are ZIP archives, those of yesterday compound files.
    Kind(b"PK\x03\x04", ("zip", "docx", "xlsx", "pptx", "odt", "ods", "odp", "odg")),
    Kind(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", ("doc", "xls", "ppt")),
)


def kind_of(beginning: bytes) -> Kind | None:
    """Return the kind of a file that begins so; ``None`` where it is none of those allowed."""
    return next((kind for kind in KINDS if beginning.startswith(kind.begins)), None)


def kind_by_name(name: str) -> Kind | None:
    """Return the kind to which a file's name belongs by its ending."""
    ending = name.rpartition(".")[2].lower()
    return next((kind for kind in KINDS if ending in kind.endings), None)


def safe_name(name: str, kind: Kind) -> str:
    """Return a name to show for a file of ``kind``: one line, with an ending that tells it."""
    name = "".join(c for c in name if c.isprintable()).strip()[-180:] or "file"
    return name if kind_by_name(name) == kind else f"{name}.{kind.endings[0]}"


def put_file(
    *,
    deliverable: Deliverable,
    member: Member | None,
    now: datetime,
    upload: UploadedFile,
    replaces: str,
) -> Deliverable:
    """Keep ``upload`` as the deliverable's file.

    ``replaces`` is the stored file that was seen when this one was chosen; one that somebody
    else uploaded meanwhile is not replaced unseen.
    """
    size = upload.size or 0
    if size > LARGEST:
        raise Refused(
            f"This file has {size / 1024 / 1024:.1f} MB; up to 20 MB are kept here. "
            "Give a link to larger ones.",
            "upload",
        )
    upload.seek(0)
    kind = kind_of(upload.read(16))
    upload.seek(0)
    if kind is None:
        raise Refused(
            "This is no PDF, PNG, JPEG, ZIP or office document by its content. "
            "Save it as one of these, or give a link.",
            "upload",
        )
    name = safe_name(upload.name or "", kind)
    stored = ""
    try:
        with transaction.atomic():
            row = take_deliverable(deliverable, None)
            old = row.file.name or ""
            if old != replaces:
                raise Refused(
                    f"Somebody else uploaded {row.file_name or 'another file'} or removed "
                    "the file meanwhile. Look at it, then choose yours again to replace it.",
                    "upload",
                )
            row.file.save(name, upload, save=False)
            stored, row.file_name = row.file.name, name
            _save(row, now, old)
    except BaseException:
        # the row does not know of the file: nobody would ever find it
        if stored:
            deliverable.file.storage.delete(stored)
        raise
    return row


@transaction.atomic
def remove_file(
    *, deliverable: Deliverable, member: Member | None, now: datetime, replaces: str
) -> Deliverable:
    """Remove the deliverable's file, if it is still the one that was seen."""
    row = take_deliverable(deliverable, None)
    old = row.file.name or ""
    if not old:
        return row
    if old != replaces:
        raise Refused(f"Somebody else uploaded {row.file_name} meanwhile; look at it first.")
    row.file, row.file_name = "", ""
    _save(row, now, old)
    return row


def _save(row: Deliverable, now: datetime, old: str) -> None:
    row.save_version(row.version)
    settle(row.team, [row.lead_id], now=now)
    if old:
        storage = row.file.storage
        transaction.on_commit(lambda: storage.delete(old))
