"""One person's data as a ZIP archive: what is known as JSON, and the files sent to them."""

from __future__ import annotations

import json
import tempfile
import zipfile
from datetime import datetime
from typing import IO, Any

from pipeline.teams.models import Team

from .gathering import Everything, Gathered

IN_MEMORY = 8 * 1024 * 1024
READ_THIS = """\
data.json holds what {team} keeps of one person, each row with why it is here; files/ holds what
was sent to them. Texts stand as they were written: they may name other people too.
"""


def write_archive(everything: Everything, team: Team, now: datetime) -> IO[bytes]:
    """Return the archive, at its beginning. The names in it are the program's own."""
    archive = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as whole:
        rows = []
        for number, found in enumerate(everything.rows, start=1):
            name = _keep_file(whole, found, number)
            said = {"kind": found.kind, "why": found.why, **found.said}
            rows.append(said | {"file in this archive": name} if name else said)
        content = json.dumps(as_json(everything, team, now, rows), indent=2, ensure_ascii=False)
        whole.writestr("data.json", content.encode("utf-8", "replace"))
        whole.writestr("read this.txt", READ_THIS.format(team=team).encode())
    archive.seek(0)
    return archive


def as_json(
    everything: Everything, team: Team, now: datetime, rows: list[dict[str, Any]]
) -> dict[str, Any]:
    """Return what the archive says, by readable keys."""
    contact, since = everything.contact, everything.no_more_letters_since
    return {
        "team": str(team),
        "gathered at": now.isoformat(),
        "person": {
            "name": contact.name,
            "e-mail": contact.email,
            "role": contact.role,
            "time zone": contact.timezone or None,
            "at": str(contact.lead),
            "erased at": contact.erased_at and contact.erased_at.isoformat(),
        },
        "asked for no more letters at": since and since.isoformat(),
        "others with the same address": everything.same_address,
        "rows": rows,
        "changes of the person's own row": list(everything.history),
    }


def _keep_file(whole: zipfile.ZipFile, found: Gathered, number: int) -> str:
    """Put a row's file into the archive; returns its name there, empty where there is none."""
    if not found.file:
        return ""
    ending = found.file.name.rpartition(".")[2].lower()
    ending = ending if ending.isascii() and ending.isalnum() and len(ending) <= 5 else "bin"
    name = f"files/{number:03}.{ending}"
    try:
        with found.file.open("rb") as file, whole.open(name, "w") as copy:
            for chunk in file.chunks():
                copy.write(chunk)
    except FileNotFoundError:
        return ""
    return name
