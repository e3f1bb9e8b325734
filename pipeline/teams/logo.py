"""The team's logo: a picture that documents of the team show on their first page."""

from __future__ import annotations

from django import forms
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from pipeline.typeset.pictures import kind_of, measures
from pipeline.typeset.setting import can_be_set

from .models import Team
from .refused import Refused

LARGEST = 1024 * 1024
# A picture of few bytes may unfold to any number of pixels.
WIDEST = 4000
ENDINGS = {"image/png": "png", "image/jpeg": "jpg"}


class LogoForm(forms.Form):
    """A picture, and which stored one it replaces."""

    upload = forms.FileField(label="Logo", help_text="PNG or JPEG, up to 1 MB.")
    replaces = forms.CharField(required=False, widget=forms.HiddenInput)


def keep_logo(*, team: Team, upload: UploadedFile, replaces: str) -> Team:
    """Keep ``upload`` as the logo, if the one that was seen is still there."""
    if (upload.size or 0) > LARGEST:
        raise Refused("This picture has more than 1 MB; save a smaller one.", "upload")
    content = upload.read()
    kind = kind_of(content)
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
            row.logo.save(f"logo.{ENDINGS[kind]}", ContentFile(content), save=False)
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
