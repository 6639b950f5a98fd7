"""The place where a photograph was taken is blanked, and nothing else of the file changes."""

from __future__ import annotations

import io
import struct
from typing import Any

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo
from PIL.TiffImagePlugin import ImageFileDirectory_v2

from kb.science.photo.position import without_position

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F
NORTH, EAST = (48.0, 10.0, 2.5), (11.0, 30.0, 1.0)
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="48,10.04N" '
    b'exif:GPSLongitude="11,30.02E" dc:title="a sheet"/></x:xmpmeta>'
)


def picture() -> Image.Image:
    """Some grain, so that a slip of a byte would show."""
    return Image.fromarray(np.random.default_rng(3).integers(0, 256, (40, 60, 3), np.uint8))


def exif() -> Image.Exif:
    """A place, which way is up, and the maker of the camera."""
    made = Image.Exif()
    made[ORIENTATION], made[MAKER] = 6, "maker"
    made.get_ifd(GPS).update({1: "N", 2: NORTH, 3: "E", 4: EAST})
    return made


def saved(form: str, **more: Any) -> bytes:
    """The picture as a file."""
    if form == "HEIF":
        pytest.importorskip("pillow_heif").register_heif_opener()
    stream = io.BytesIO()
    if form == "TIFF":
        # Its writer takes a place only among the tags of the file.
        tags = ImageFileDirectory_v2()
        tags[GPS], tags[MAKER], tags[ORIENTATION] = {1: "N", 2: NORTH, 3: "E", 4: EAST}, "maker", 6
        more["tiffinfo"] = tags
    else:
        more["exif"] = exif()
    picture().save(stream, form, **more)
    return stream.getvalue()


def opened(raw: bytes) -> Image.Image:
    """The picture in a file, read to its end."""
    found = Image.open(io.BytesIO(raw))
    # Of a TIFF it can be asked only before the pixels are read.
    found.getexif().get_ifd(GPS)
    found.load()
    return found


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "HEIF"])
def test_no_place_is_left_and_all_else_is(form: str) -> None:
    """By a reader of its own: no entry of a place; orientation, maker and every pixel as they were."""
    raw = saved(form)
    before = opened(raw)
    assert before.getexif().get_ifd(GPS)[2] == NORTH
    blanked = without_position(raw)
    after = opened(blanked)
    assert not after.getexif().get_ifd(GPS)
    assert len(blanked) == len(raw)
    # The reader of HEIC turns the picture and says so.
    assert after.getexif().get(ORIENTATION) == before.getexif().get(ORIENTATION)
    assert after.getexif()[MAKER] == "maker"
    assert np.array_equal(np.asarray(after), np.asarray(before))
    assert struct.pack("<II", 48, 1) not in blanked
    assert without_position(blanked) == blanked


def test_a_place_in_text_beside_the_picture() -> None:
    """XMP of a JPEG, of a PNG as plain and as packed text; its other words stay."""
    stream = io.BytesIO()
    picture().save(stream, "JPEG", xmp=XMP)
    blanked = without_position(stream.getvalue())
    assert b"48,10.04N" in stream.getvalue()
    assert b"48,10.04N" not in blanked
    assert b"11,30.02E" not in blanked
    assert b'dc:title="a sheet"' in blanked
    opened(blanked)
    for packed in (False, True):
        info, stream = PngInfo(), io.BytesIO()
        info.add_itxt("XML:com.adobe.xmp", XMP.decode(), zip=packed)
        info.add_text("Title", "a sheet", zip=True)
        picture().save(stream, "PNG", pnginfo=info)
        assert without_position(stream.getvalue()) != stream.getvalue()
        left = opened(without_position(stream.getvalue()))
        assert "GPSLatitude" not in str(getattr(left, "text", {}).get("XML:com.adobe.xmp", ""))
        assert getattr(left, "text", {})["Title"] == "a sheet"


def test_what_names_no_place_is_the_very_same() -> None:
    """A file without EXIF, without a place in it, cut short, and what is no picture at all."""
    plain = io.BytesIO()
    picture().save(plain, "JPEG")
    turned = Image.Exif()
    turned[ORIENTATION] = 6
    other = io.BytesIO()
    picture().save(other, "JPEG", exif=turned)
    for raw in (plain.getvalue(), other.getvalue(), b"", b"II*\0", b"\x89PNG\r\n\x1a\n", b"words"):
        assert without_position(raw) is raw


def test_damaged_files_stay_readable_bytes() -> None:
    """Cut anywhere, or with a bit turned over: never an error, never longer."""
    raw = saved("JPEG")
    rng = np.random.default_rng(5)
    for _ in range(60):
        cut = bytearray(raw[: rng.integers(len(raw))])
        for _ in range(3):
            if cut:
                cut[rng.integers(min(len(cut), 400))] ^= 1 << int(rng.integers(8))
        assert len(without_position(bytes(cut))) == len(cut)
