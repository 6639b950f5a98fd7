"""One line of the book as bytes: JSON that PyYAML reads as the same value."""

from __future__ import annotations

import re
import sys
from contextlib import suppress
from datetime import datetime
from functools import cache
from importlib import import_module
from itertools import count
from typing import Any

import msgspec

from kb.book.text import clean_text
from kb.book.ulid import SHAPE, is_ulid
from kb.model.record import Line

# A link like any other, so that the first line needs no rule of its own.
FIRST_PREV = "0" * 64
"""What the first line of a file carries in place of the hash of a line before it."""
MAX_LINE_BYTES = 1 << 20
"""A longer line is damage, not a record."""
LARGEST = sys.float_info.max
"""A whole number may have any number of digits in JSON; one beyond this breaks whoever reckons with it."""
KIND_SHAPE = re.compile(r"[a-z][a-z0-9-]{0,39}")

_AT_SHAPE = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z"
_HASH_SHAPE = r"[0-9a-f]{64}"
# Legal in JSON, but YAML takes U+0085, U+2028 and U+2029 for line breaks, U+FEFF for a file mark, and
# the rest for unprintable. In UTF-8; such bytes can only stand inside a string.
_TO_ESCAPE = re.compile(rb"\x7f|\xc2[\x80-\x9f]|\xe2\x80[\xa8\xa9]|\xef\xbb\xbf|\xef\xbf[\xbe\xbf]")
_MAYBE_EXPONENT = re.compile(rb"e[-+]?\d")
_STRING_OR_EXPONENT = re.compile(rb'"[^"\\]*(?:\\.[^"\\]*)*"|(-?\d+)(\.\d+)?[eE]([-+]?)(\d+)')
# Id, time, link and kind in one match: nearly every line is whole, and a book has very many of them.
# One expression over the joined head: four matches a line would be felt in a long book.
_HEAD = re.compile(f"{SHAPE} {_AT_SHAPE} {_HASH_SHAPE} {KIND_SHAPE.pattern}")
# With all digits read as 0, a number beyond LARGEST has one of these in it. Nearly no body has, so that
# nearly none is walked through; a pattern would look at each byte of each line for it.
_ALIKE = bytes.maketrans(b"123456789E", b"000000000e")
_LONG = b"0" * 309
_ENCODER = msgspec.json.Encoder()
_DECODER = msgspec.json.Decoder(Line)
_BRACE = ord("{")
_FEW = 1_000
"""So many lines are hashed by Python's own means. The library is four times as fast for each, but to load it
takes as long as that is slower here, and few commands hash more than one."""
_hashed = count()


def for_yaml(raw: bytes) -> bytes:
    """The same JSON, on one line, spelled so that YAML 1.1 reads the same value from it."""
    # Looked for first: bodies with an exponent are rare, and the exact pattern has to skip over strings.
    if _MAYBE_EXPONENT.search(raw):
        raw = _STRING_OR_EXPONENT.sub(_spell_exponent, raw)
    return _escaped(raw)


def encode_line(line: Line) -> bytes:
    """A whole record as one line without its newline. The body is taken as it is."""
    return _escaped(_ENCODER.encode(line))


def decode_line(raw: bytes, *, numbers: bool = True) -> Line:
    """The record in a line (without its newline); the body stays undecoded.

    ``numbers``: whether to look for such beyond `LARGEST`; a body that is then checked as a test has none.
    Raises ValueError, in a sentence, if the bytes are not a whole record.
    """
    if not raw.isascii():
        try:
            # The decoder skips over the body, so bad bytes in it would pass.
            raw.decode()
        except UnicodeDecodeError as error:
            raise ValueError(f"not UTF-8 at byte {error.start + 1} of the line") from None
    try:
        line = _DECODER.decode(raw)
    # Thousands of brackets in one line; a hostile or damaged file must not end the program.
    except RecursionError:
        raise ValueError("nested too deeply to be a record") from None
    except (msgspec.MsgspecError, ValueError) as error:
        raise ValueError(_reason(raw, str(error))) from None
    problem = _head_problem(line, numbers=numbers)
    if problem:
        raise ValueError(problem)
    return line


def hash_of(raw: bytes) -> str:
    """SHA-256 of a line without its newline, lower-case hex: what the next line carries as ``prev``."""
    # A copy of a sum that is begun: the library takes longer to look its own up than to add up a line.
    digest = _sha256(next(_hashed) >= _FEW).copy()
    digest.update(raw)
    found: str = digest.hexdigest()
    return found


@cache
def _sha256(many: bool) -> Any:
    if not many:
        # By the versions of Python; some are built without.
        for name in ("_sha2", "_sha256"):
            with suppress(ImportError):
                return import_module(name).sha256()
    from hashlib import sha256

    return sha256()


def _head_problem(line: Line, *, numbers: bool) -> str:
    if _HEAD.fullmatch(f"{line.id} {line.at} {line.prev} {line.kind}") is None:
        return _misshapen(line)
    # The shape allows the 31st of February.
    try:
        datetime.fromisoformat(line.at)
    except ValueError:
        return "its time is not in the calendar"
    # One byte is enough: the decoder has checked that what follows is JSON.
    if memoryview(line.body)[0] != _BRACE:
        return "its body is not a map"
    if numbers and may_be_large(line.body):
        try:
            check_numbers(msgspec.json.decode(line.body))
        except (msgspec.MsgspecError, ValueError, RecursionError) as error:
            return str(error)
    return ""


def may_be_large(raw: bytes | msgspec.Raw) -> bool:
    """Whether JSON may hold a number beyond `LARGEST`; it may also be a text with many digits."""
    alike = bytes(raw).translate(_ALIKE)
    return b"0e000" in alike or b"0e+000" in alike or _LONG in alike


def check_numbers(value: object) -> None:
    """Raises ValueError if a tree of dicts and lists holds a number that is none, or beyond `LARGEST`."""
    # The form "not <=" also catches what is no number at all (NaN).
    if isinstance(value, int | float) and not abs(value) <= LARGEST:
        shown = (
            value if isinstance(value, float) else f"A number of more than {sys.float_info.max_10_exp} digits"
        )
        raise ValueError(f"{shown} is not a number that can be written down.")
    if isinstance(value, dict):
        for item in value.values():
            check_numbers(item)
    elif isinstance(value, list | tuple):
        for item in value:
            check_numbers(item)


def _misshapen(line: Line) -> str:
    """Which part of the head has not its shape."""
    if not is_ulid(line.id):
        return "its id is not a record id"
    if re.fullmatch(_AT_SHAPE, line.at) is None:
        return "its time is not written as UTC with milliseconds"
    if re.fullmatch(_HASH_SHAPE, line.prev) is None:
        return "its link to the line before is not a SHA-256"
    return "its kind is not a plain word"


def _reason(raw: bytes, error: str) -> str:
    if not raw.strip():
        return "an empty line"
    # The message quotes the line, which may hold anything.
    error = clean_text(error[:200], multiline=False)
    # The usual sign that an editor opened and saved the file.
    if raw.startswith(b"\xef\xbb\xbf"):
        return "starts with a byte order mark: another program rewrote the file"
    return f"not a record ({error[0].lower()}{error[1:]})" if error else "not a record"


def _escaped(raw: bytes) -> bytes:
    if b"\x7f" in raw or not raw.isascii():
        return _TO_ESCAPE.sub(_escape, raw)
    return raw


def _spell_exponent(match: re.Match[bytes]) -> bytes:
    # YAML 1.1 takes 1e-5 for text: it wants a point and a signed exponent.
    if match[1] is None:
        return match[0]
    return match[1] + (match[2] or b".0") + b"e" + (match[3] or b"+") + match[4]


def _escape(match: re.Match[bytes]) -> bytes:
    return b"\\u%04x" % ord(match[0].decode())
