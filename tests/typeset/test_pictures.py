"""Pictures in documents: known by their first bytes, measured, kept as they are."""

import struct

from pipeline.typeset.pictures import as_drawing, kind_of, measures
from tests.access.everything import A_PICTURE

JPEG = b"\xff\xd8\xff\xe0\x00\x04ab\xff\xc0\x00\x0b\x08" + struct.pack(">HH", 30, 40) + b"\x01"


def test_width_and_height_are_read_from_the_first_bytes():
    assert measures(A_PICTURE) == (1, 1)
    assert measures(JPEG) == (40, 30)
    assert measures(b"\xff\xd8\xff") is None
    assert measures(A_PICTURE[:20]) is None
    assert measures(b"") is None


def test_a_picture_is_known_by_its_content():
    assert (kind_of(A_PICTURE), kind_of(JPEG)) == ("image/png", "image/jpeg")
    assert kind_of(b"<svg/>") is None


def test_what_is_no_picture_is_no_drawing():
    for content in (b"", b"<svg/>", b"\xff\xd8\xff"):
        assert as_drawing(content) is None
