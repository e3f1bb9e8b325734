"""Pictures within documents."""

from __future__ import annotations

import base64
import struct

# By their first bytes.
KINDS = {b"\x89PNG\r\n\x1a\n": "image/png", b"\xff\xd8\xff": "image/jpeg"}
# The markers of JPEG (ITU-T T.81, table B.1) after which a frame's height and width stand.
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}


def kind_of(content: bytes) -> str | None:
    """Return the content type of a PNG or JPEG picture; ``None`` for anything else."""
    return next((kind for begins, kind in KINDS.items() if content.startswith(begins)), None)


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


def as_drawing(content: bytes) -> str | None:
    """Return a picture as the text of an SVG drawing that holds it; ``None`` where it is none.

    Templates take content as text; a list of its bytes would take the typesetter eight times as
    long.
    """
    kind, size = kind_of(content), measures(content)
    if kind is None or size is None:
        return None
    width, height = size
    data = base64.b64encode(content).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">'
        f'<image width="{width}" height="{height}" href="data:{kind};base64,{data}"/></svg>'
    )
