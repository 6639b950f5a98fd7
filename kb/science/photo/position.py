"""Where a photograph was taken, blanked in its bytes: all else in the file stays as it is, to the byte.

EXIF keeps the place in a directory of its own (tag 0x8825 of the first directory) and XMP as text. Both are
overwritten in their place, so that this works for JPEG, PNG, TIFF, WebP and HEIC alike and needs no decoder.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator

GPS_DIRECTORY = 0x8825
_TIFF = re.compile(rb"II\*\x00|MM\x00\*")
_EXIF = re.compile(rb"Exif\x00\x00(?=II\*\x00|MM\x00\*)")
_XMP = re.compile(
    rb"""(?:exif:|exifEX:)?GPS[A-Za-z]+\s*=\s*(?:"[^"]{0,200}"|'[^']{0,200}')"""
    rb"""|<(exif:GPS[A-Za-z]+)\b[^>]{0,200}>.{0,400}?</\1\s*>""",
    re.DOTALL,
)
_TEXTS = (b"zTXt", b"iTXt", b"tEXt")
_PNG = b"\x89PNG\r\n\x1a\n"
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
"""Bytes of one value by the type of an entry (TIFF 6.0, from memory)."""
MOST_ENTRIES = 1_000


def without_position(raw: bytes) -> bytes:
    """The same file without the place it was taken; the very same bytes if it names none."""
    blanked = bytearray(raw)
    for start in _headers(raw):
        _blank_exif(blanked, start)
    for found in _XMP.finditer(raw):
        # What XMP holds is text; in the data of the picture itself such words do not come by chance.
        blanked[found.start() : found.end()] = b" " * len(found[0])
    made = raw if blanked == raw else bytes(blanked)
    return made if not raw.startswith(_PNG) or (made == raw and not _packed(raw)) else _as_png(made)


def _headers(raw: bytes) -> Iterator[int]:
    """Where blocks of EXIF begin: the file itself if it is TIFF, behind the word Exif, in a chunk of PNG."""
    if _TIFF.match(raw):
        yield 0
    for found in _EXIF.finditer(raw):
        yield found.end()
    for mark, skipped in ((b"eXIf", 4), (b"EXIF", 8)):
        # WebP writes the length between the mark and the block.
        at = raw.find(mark)
        if at >= 0 and _TIFF.match(raw, at + skipped):
            yield at + skipped


def _blank_exif(raw: bytearray, start: int) -> None:
    """Blank the directories of the place that the first directories of a block point to."""
    order = "<" if raw[start : start + 2] == b"II" else ">"
    at, seen = _number(raw, start + 4, order, "I"), set[int]()
    while at and at not in seen and len(seen) < 50:
        seen.add(at)
        entries = _number(raw, start + at, order, "H")
        if not 0 < entries <= MOST_ENTRIES:
            return
        for number in range(entries):
            entry = start + at + 2 + 12 * number
            if _number(raw, entry, order, "H") == GPS_DIRECTORY:
                _blank_directory(raw, start, _number(raw, entry + 8, order, "I"), order)
        at = _number(raw, start + at + 2 + 12 * entries, order, "I")


def _blank_directory(raw: bytearray, start: int, at: int, order: str) -> None:
    entries = _number(raw, start + at, order, "H")
    if not at or not 0 < entries <= 64:
        return
    for number in range(entries):
        entry = start + at + 2 + 12 * number
        size = _SIZES.get(_number(raw, entry + 2, order, "H"), 1) * _number(raw, entry + 4, order, "I")
        if 4 < size <= 4096:
            _zero(raw, start + _number(raw, entry + 8, order, "I"), size)
        _zero(raw, entry, 12)
    # No entries are left, which every reader takes for a place that was not written down.
    _zero(raw, start + at, 2)


def _number(raw: bytearray, at: int, order: str, code: str) -> int:
    """A whole number at a place; 0 beyond the end of what is there."""
    size = struct.calcsize(code)
    return int(struct.unpack_from(order + code, raw, at)[0]) if 0 <= at <= len(raw) - size else 0


def _zero(raw: bytearray, at: int, size: int) -> None:
    end = min(at + size, len(raw))
    if 0 <= at < end:
        raw[at:end] = bytes(end - at)


def _chunks(raw: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = len(_PNG)
    while at + 12 <= len(raw):
        size = struct.unpack_from(">I", raw, at)[0]
        yield raw[at + 4 : at + 8], raw[at + 8 : at + 8 + size]
        at += 12 + size


def _as_png(raw: bytes) -> bytes:
    """A PNG with its check sums worked out anew, without packed text that hides a place.

    XMP and EXIF may be written as compressed text. What is whole and hides nothing comes out as it was.
    """
    parts = [_PNG]
    for name, body in _chunks(raw):
        if name not in _TEXTS or not _hides_place(body):
            parts += [struct.pack(">I", len(body)), name, body, struct.pack(">I", zlib.crc32(name + body))]
    return b"".join(parts)


def _packed(raw: bytes) -> bool:
    return any(name in _TEXTS and _hides_place(body) for name, body in _chunks(raw))


def _hides_place(body: bytes) -> bool:
    if body.lower().startswith((b"raw profile type exif", b"raw profile type app1")):
        return True
    packed = body.partition(b"\0")[2]
    begin = packed.find(b"\x78")
    try:
        text = zlib.decompressobj().decompress(packed[begin:], 1 << 20) if begin >= 0 else b""
    except zlib.error:
        return False
    return bool(_XMP.search(text))
