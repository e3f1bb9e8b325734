"""The team's logo: a picture that documents of the team show on their first page."""

from __future__ import annotations

import struct

from django import forms
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from pipeline.typeset.setting import can_be_set

from .models import Team
from .refused import Refused

LARGEST = 1024 * 1024
# A picture of few bytes may unfold to any number of pixels.
WIDEST = 4000
KINDS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpg"}
# The markers of JPEG (ITU-T T.81, table B.1) after which a frame's height and width stand.
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
TYPES = {"png": "image/png", "jpg": "image/jpeg"}


class LogoForm(forms.Form):
    """A picture, and which stored one it replaces."""

    upload = forms.FileField(label="Logo", help_text="PNG or JPEG, up to 1 MB.")
    replaces = forms.CharField(required=False, widget=forms.HiddenInput)


def measures(content: bytes) -> tuple[int, int] | None:
    """Return the width and height that a PNG or JPEG claims; ``None`` where it claims none."""
    if content.startswith(b"\x89PNG"):
        return struct.unpack(">II", content[16:24]) if len(content) >= 24 else None
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        marker, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4])
        if marker in FRAMES:
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return width, height
        at += 2 + length
    return None


def keep_logo(*, team: Team, upload: UploadedFile, replaces: str) -> Team:
    """Keep ``upload`` as the logo, if the one that was seen is still there."""
    if (upload.size or 0) > LARGEST:
        raise Refused("This picture has more than 1 MB; save a smaller one.", "upload")
    content = upload.read()
    kind = next((kind for begins, kind in KINDS.items() if content.startswith(begins)), None)
    wide = max(measures(content) or (0,)) if kind else 0
    if wide > WIDEST:
        raise Refused(
            f"This picture is {wide:,} pixels wide or high; save it with {WIDEST:,} at most.",
            "upload",
        )
    if kind is None or not wide or not can_be_set(content):
        raise Refused("This is no whole PNG or JPEG picture; save it as one of these.", "upload")
    stored = ""
    try:
        with transaction.atomic():
            row = _seen(team, replaces)
            row.logo.save(f"logo.{kind}", ContentFile(content), save=False)
            stored = row.logo.name
            _store(row, replaces)
    except BaseException:
        # the row does not know of the file: nobody would ever find it
        if stored:
            team.logo.storage.delete(stored)
        raise
    return row


@transaction.atomic
def remove_logo(*, team: Team, replaces: str) -> bool:
    """Remove the logo, if it is still the one that was seen; returns whether there was one."""
    if not Team.objects.get(pk=team.pk).logo:
        return False
    row = _seen(team, replaces)
    row.logo = ""
    _store(row, replaces)
    return True


def _seen(team: Team, replaces: str) -> Team:
    row = Team.objects.select_for_update().get(pk=team.pk)
    if (row.logo.name or "") != replaces:
        raise Refused("Somebody else changed the logo meanwhile; look at it first.", "upload")
    return row


def _store(row: Team, old: str) -> None:
    # Its version stays: the logo stands in no form of the settings.
    Team.objects.filter(pk=row.pk).update(logo=row.logo.name or "")
    if old:
        storage = row.logo.storage
        transaction.on_commit(lambda: storage.delete(old))
