"""Read one YAML file into plain values with the line of each, and refuse what no catalogue needs.

The parser's events are read one by one and nothing is built from an alias, so a hostile file costs
no more than its size. Only the event layer of PyYAML is used: no tag can construct anything.

What an unquoted word in a catalogue file means: text, unless it is plainly something else.

Say a YAML parser's complaint in words that help.
"""

from __future__ import annotations

import math
import os
import re
import stat
import unicodedata
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

import yaml

from kb.catalogue.paths import MAX_BYTES, NOT_A_FILE, TOO_LARGE
from kb.catalogue.problems import REFUSED, UNSAFE, Fault, NodePath, printable, quoted

Scalar = str | int | float | bool | None

_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF|nan|NaN|NAN)")
_WORDS: dict[str, bool | None] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_MOST_DIGITS = 40
_LARGEST = 2**63 - 1


def resolve(text: str) -> Scalar:
    """The value of an unquoted scalar.

    Only whole numbers, decimal numbers, true, false and null are not text. ``no``, ``12:30``, ``010``,
    ``1_000`` and ``2024-05-01`` stay text, because YAML readers disagree on them.

    Raises ValueError if it is a number that is infinite, not a number, or too long to be meant.
    """
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "+-.0123456789":
        return text
    match = _NUMBER.fullmatch(text)
    if match is None:
        if _NOT_FINITE.fullmatch(text):
            raise ValueError("the number is not finite")
        return text
    if len(text) > _MOST_DIGITS:
        raise ValueError("the number has more digits than can be meant")
    if match.group(1) is None and match.group(2) is None and not text.lstrip("+-").startswith("."):
        whole = int(text)
        if abs(whole) > _LARGEST:
            raise ValueError("the number is too large")
        return whole
    number = float(text)
    if not math.isfinite(number):
        raise ValueError("the number is not finite")
    return number


_QUOTES = "text that holds a colon and a blank, or begins with a sign, in quotes"
_HINTS = (
    (
        "mapping values are not allowed",
        "a colon and a blank stand inside unquoted text, or a line is indented too far",
        _QUOTES,
    ),
    ("unexpected end of stream", "a quotation mark that opens here is never closed", "a closing mark"),
    ("could not find expected ':'", "a line is neither a key with a colon nor a list item", "key: value"),
    ("did not find expected ',' or", "a bracket that opens here is never closed", "a closing bracket"),
    ("did not find expected '-'", "a line stands too far left or right in a list", "items in one column"),
    ("did not find expected key", "a line stands too far left or right, or a quote is not closed", ""),
    ("cannot start any token", "text begins with a sign that needs quotes", _QUOTES),
    ("undefined tag handle", "a tag (!) is used", "a plain value without a tag"),
    ("exceeded max", "the file is nested too deeply", "a flat list"),
    ("unknown escape character", "a backslash stands in text in double quotes", "single quotes"),
)


def syntax_fault(error: Any, text: str) -> Fault:
    """The fault for a ``yaml.YAMLError``, with the line where the reader should look first."""
    complaint = str(getattr(error, "problem", None) or getattr(error, "reason", None) or "")
    mark = getattr(error, "problem_mark", None)
    opened = getattr(error, "context_mark", None)
    lines = text.split("\n")
    line = _within(mark.line + 1 if mark else 1, lines)
    indent = lines[line - 1].removesuffix(lines[line - 1].lstrip())
    if mark and "\t" in indent:
        return Fault((), "a tab stands in the indent", "blanks only", line=line)
    for sign, message, expected in _HINTS:
        if sign in complaint:
            if opened and "opens here" in message:
                line = _within(opened.line + 1, lines)
            return Fault((), f"this is not valid YAML: {message}", expected, line=line)
    return Fault((), f"this is not valid YAML: {printable(complaint) or 'it cannot be read'}", line=line)


def _within(line: int, lines: list[str]) -> int:
    return max(1, min(line, len(lines)))


MAX_DEPTH = 20
MAX_NODES = 200_000
MAX_TEXT = 10_000
MAX_FAULTS = 50

Parser: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_TAG = "tag:yaml.org,2002:"
_TAGGED: dict[str, tuple[type, ...]] = {
    f"{_TAG}int": (int,),
    f"{_TAG}float": (int, float),
    f"{_TAG}bool": (bool,),
    f"{_TAG}null": (type(None),),
}
EMPTY = "the file is empty"


class Document(NamedTuple):
    """One file. ``value`` is empty if the file as a whole could not be read; ``faults`` then says why.

    A fault with a path of its own concerns only what stands at that path.
    """

    value: dict[str, Any]
    lines: dict[NodePath, int]
    faults: list[Fault]

    @property
    def is_empty(self) -> bool:
        """Whether nothing but comments and blanks stands in the file."""
        return [fault.message for fault in self.faults] == [EMPTY]

    @property
    def is_sound(self) -> bool:
        """Whether the file was read, or has nothing in it."""
        return self.is_empty or not self.faults


class Unreadable(Exception):
    """The file as a whole is refused. Carries the fault."""

    def __init__(self, message: str, expected: str = "", example: str = "", line: int = 1) -> None:
        super().__init__(message)
        self.fault = Fault((), message, expected, example, line)


def read(path: Path) -> Document:
    """Read a file. Never raises for its content: what is wrong is told in the document's faults."""
    try:
        return parse(_text(_bytes(path)))
    except Unreadable as why:
        return Document({}, {}, [why.fault])


def parse(text: str, parser: Any = None) -> Document:
    """Read YAML from text; like :func:`read`. ``parser`` is a PyYAML loader class."""
    builder: _Builder | None = None
    try:
        builder = _Builder((parser or Parser)(text))
        value = builder.document()
    except Unreadable as why:
        return Document({}, {}, [why.fault])
    except yaml.YAMLError as error:
        return Document({}, {}, [syntax_fault(error, text)])
    except (RecursionError, MemoryError):
        return Document({}, {}, [Fault((), "the file is nested too deeply to be read", line=1)])
    finally:
        if builder is not None:
            builder.events.dispose()
    return Document(value, builder.lines, builder.faults)


def _bytes(path: Path) -> bytes:
    """The content of an ordinary file of at most MAX_BYTES; a pipe or device is never waited for."""
    try:
        _want_file(os.stat(path).st_mode)
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(path, flags), "rb") as handle:
            # Looked at again on the open file: the name may stand for something else by now.
            status = os.fstat(handle.fileno())
            _want_file(status.st_mode)
            content = b"" if status.st_size > MAX_BYTES else handle.read(MAX_BYTES + 1)
    except OSError as error:
        raise Unreadable(f"the file cannot be read ({error.strerror or error})") from error
    if status.st_size > MAX_BYTES or len(content) > MAX_BYTES:
        raise Unreadable(TOO_LARGE, "several smaller files")
    return content


def _want_file(mode: int) -> None:
    if not stat.S_ISREG(mode):
        raise Unreadable(NOT_A_FILE, "an ordinary text file")


def _text(content: bytes) -> str:
    expected = "plain text in UTF-8"
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Unreadable("the file is in UTF-16 or UTF-32 and cannot be read", expected)
    zero = content.find(b"\x00")
    if zero >= 0:
        raise Unreadable("the file holds a NUL byte", expected, line=content.count(b"\n", 0, zero) + 1)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise Unreadable("the file is not in UTF-8", expected, line=line) from error
    unsafe = UNSAFE.search(text)
    if unsafe:
        line = text.count("\n", 0, unsafe.start()) + 1
        raise Unreadable(f"the file holds the control character U+{ord(unsafe[0]):04X}", expected, line=line)
    return text


class _Builder:
    """Builds plain values from parser events, noting the line of each and what is wrong."""

    def __init__(self, events: Any) -> None:
        self.events = events
        self.lines: dict[NodePath, int] = {}
        self.faults: list[Fault] = []
        self.nodes = 0

    def document(self) -> dict[str, Any]:
        """The one document of the file, which must be a map."""
        self.events.get_event()
        event = self.events.get_event()
        if isinstance(event, yaml.StreamEndEvent):
            _empty()
        event = self.events.get_event()
        line = event.start_mark.line + 1
        value = self.node(event, (), 0)
        self.events.get_event()
        after = self.events.get_event()
        if not isinstance(after, yaml.StreamEndEvent):
            line = after.start_mark.line + 1
            raise Unreadable("a second document begins here (---)", "one document in each file", "", line)
        if value is None:
            _empty()
        if value is REFUSED:
            first = self.faults[0]
            raise Unreadable(first.message, first.expected, "", first.line or line)
        if not isinstance(value, dict):
            told = "a list" if isinstance(value, list) else "text"
            raise Unreadable(
                f"the file begins with {told}", "a kind of entry, then its list", "liquids: [...]", line
            )
        return value

    def node(self, event: Any, at: NodePath, depth: int) -> Any:
        """The value that begins with ``event``; REFUSED in its place where it is refused."""
        line = event.start_mark.line + 1
        self.nodes += 1
        if self.nodes > MAX_NODES:
            raise Unreadable(
                f"the file holds more than {MAX_NODES} values", "several smaller files", "", line
            )
        self.lines.setdefault(at, line)
        kind = type(event)
        if kind is yaml.AliasEvent:
            self.fault(at, "an alias (*) is used", "the content itself, written out", line)
            return REFUSED
        if event.anchor is not None:
            self.fault(at, "an anchor (&) is used", "the content itself, written out", line)
        if kind is yaml.ScalarEvent:
            return self.scalar(event, at)
        if depth >= MAX_DEPTH:
            raise Unreadable(f"the file is nested deeper than {MAX_DEPTH} levels", "a flat list", "", line)
        if event.tag is not None:
            self.fault(at, f"the tag {quoted(event.tag)} is used", "a plain list or map without a tag", line)
        value = (self.list if kind is yaml.SequenceStartEvent else self.map)(at, depth + 1)
        return value if event.tag is None else REFUSED

    def list(self, at: NodePath, depth: int) -> list[Any]:
        """The items up to the end of a list that has begun."""
        items: list[Any] = []
        while not isinstance(event := self.events.get_event(), yaml.SequenceEndEvent):
            items.append(self.node(event, (*at, len(items)), depth))
        return items

    def map(self, at: NodePath, depth: int) -> dict[str, Any]:
        """The keys and values up to the end of a map that has begun; of a key given twice, the first."""
        pairs: dict[str, Any] = {}
        while not isinstance(event := self.events.get_event(), yaml.MappingEndEvent):
            line = event.start_mark.line + 1
            if not isinstance(event, yaml.ScalarEvent):
                self.fault(at, "a list, a map or an alias stands where a key is due", "a plain word", line)
                self.node(event, (*at, "?"), depth)
                self.node(self.events.get_event(), (*at, "?"), depth)
                continue
            key = self.key(event, at)
            inside = (*at, key)
            twice = key in pairs
            if twice:
                first = self.lines[inside]
                said = f"the key {quoted(key)} is given twice, first on line {first}"
                self.fault(inside, said, "each key once", line)
            else:
                self.lines[inside] = line
            value = self.node(self.events.get_event(), inside, depth)
            merges = key == "<<" and event.implicit[0]
            if not twice and not merges:
                pairs[key] = value
        return pairs

    def key(self, event: Any, at: NodePath) -> str:
        line = event.start_mark.line + 1
        self.nodes += 1
        if event.anchor is not None or event.tag is not None:
            self.fault(at, "an anchor or a tag stands on a key", "a plain word", line)
        if event.value == "<<" and event.implicit[0]:
            self.fault(at, "a merge key (<<) is used", "the content itself, written out", line)
        return self.text(event, at)

    def scalar(self, event: Any, at: NodePath) -> Any:
        """The value of a single word, number or text."""
        if event.tag is None and event.implicit[0]:
            return self.plain(event, at)
        if event.tag is None or event.tag == f"{_TAG}str":
            return self.text(event, at)
        line = event.start_mark.line + 1
        value = self.plain(event, at) if event.tag in _TAGGED else None
        if event.tag not in _TAGGED or type(value) not in _TAGGED[event.tag]:
            self.fault(at, f"the tag {quoted(event.tag)} is used", "a plain value without a tag", line)
            return REFUSED
        return value

    def plain(self, event: Any, at: NodePath) -> Any:
        """The value of an unquoted word."""
        try:
            value = resolve(event.value)
        except ValueError as why:
            self.fault(at, str(why), "an ordinary finite number", event.start_mark.line + 1)
            return REFUSED
        return self.text(event, at) if isinstance(value, str) else value

    def text(self, event: Any, at: NodePath) -> str:
        """Text in Unicode's composed form, of sane length and safe to show."""
        text: str = event.value
        line = event.start_mark.line + 1
        if len(text) > MAX_TEXT:
            self.fault(at, f"the text is longer than {MAX_TEXT} characters", "a short text", line)
            return text[:MAX_TEXT]
        if event.style == '"' and (unsafe := UNSAFE.search(text)):
            self.fault(at, f"the text holds the control character U+{ord(unsafe[0]):04X}", "plain text", line)
        return text if text.isascii() else unicodedata.normalize("NFC", text)

    def fault(self, at: NodePath, message: str, expected: str, line: int) -> None:
        """Note what is wrong; a file with too many faults is refused as a whole."""
        if len(self.faults) >= MAX_FAULTS:
            first = self.faults[0]
            said = f"more than {MAX_FAULTS} faults of form stand in this file; the first: {first.message}"
            raise Unreadable(said, first.expected, "", first.line or 1)
        self.faults.append(Fault(at, message, expected, line=line))


def _empty() -> NoReturn:
    raise Unreadable(EMPTY, "a kind of entry, then its list", "liquids: [...]")
