"""One way out for text: nothing that was stored can steer the terminal."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable
from typing import Any

OK, FOUND, UNCLEAR, FAILED = 0, 1, 2, 3
"""Exit codes: done; done and something wrong was found; not understood; could not be done."""
LONGEST_SENTENCE = 2_000
"""Characters of a message, which may quote all that was typed."""

_UNWANTED = (
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\ufeff"
    "\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Made into a pattern only when a line needs it: most lines are plain."""


class Unprinted(Exception):
    """Standard output takes no more, a full disk behind it perhaps; the text is the system's reason."""


class Lines(str):
    """Text that this program broke into lines; in any other a line break was stored by somebody."""

    __slots__ = ()


def clean(text: str) -> str:
    """Text with every control and direction character made visible."""
    return text if text.isprintable() else re.sub(_UNWANTED, "\N{REPLACEMENT CHARACTER}", text)


def say(text: str = "") -> None:
    """One line on standard output, or `Lines`.

    A name with a line break in it would else print a row of its own, which could say anything.
    """
    _put((clean(text) if isinstance(text, Lines) else _on_one_line(text)) + "\n")


def flush() -> None:
    """Have all that was said printed. Raises Unprinted."""
    _put("", flush=True)


def _put(text: str, *, flush: bool = False) -> None:
    try:
        sys.stdout.write(text)
        if flush:
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise Unprinted(error.strerror or type(error).__name__) from error


def _on_one_line(text: str) -> str:
    return text if text.isprintable() else re.sub("[\t\n]+", " ", clean(text))


def warn(text: str) -> None:
    """One sentence on standard error; of an endless one the beginning and the end, which says what to do."""
    if len(text) > LONGEST_SENTENCE:
        text = f"{text[: LONGEST_SENTENCE // 2]} ... {text[-LONGEST_SENTENCE // 2 :]}"
    sys.stderr.write(_on_one_line(text) + "\n")


def say_json(value: Any) -> None:
    """A value as one line of JSON; unusual characters are escaped, so it is plain text."""
    # Here, so that opening the app does not wait for it.
    import msgspec

    try:
        raw = msgspec.json.encode(value).decode()
    except UnicodeEncodeError:
        # Names of files may be bytes that are no text.
        raw = msgspec.json.encode(_whole(msgspec.to_builtins(value))).decode()
    _put(re.sub(_UNWANTED, lambda found: f"\\u{ord(found.group()):04x}", raw) + "\n")


def say_stored(written: Any, understood: Iterable[str]) -> None:
    """What was stored as JSON, and what the typed words were taken for."""
    import msgspec

    say_json({**msgspec.to_builtins(written), "understood": list(understood)})


def _whole(value: Any) -> Any:
    """The same plain value with a mark in place of each half of a character."""
    if isinstance(value, str):
        return value.encode(errors="replace").decode()
    if isinstance(value, dict):
        return {_whole(key): _whole(item) for key, item in value.items()}
    return [_whole(item) for item in value] if isinstance(value, list | tuple) else value


def wrap(text: str, width: int = 78, indent: str = "    ") -> Lines:
    """Text broken into indented lines."""
    import textwrap

    return Lines(textwrap.fill(clean(text), width, initial_indent=indent, subsequent_indent=indent))


def columns(otherwise: int = 80) -> int:
    """The width of the terminal in characters, or ``otherwise`` where there is none."""
    named = os.environ.get("COLUMNS", "")
    if named.isdecimal() and int(named) > 0:
        return int(named)
    try:
        return os.get_terminal_size().columns or otherwise
    except OSError:
        return otherwise
