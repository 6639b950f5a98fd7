"""One way out for text: nothing that was stored can steer the terminal."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from kb.desk.signs import Signs

if TYPE_CHECKING:
    from pathlib import Path

    from kb.desk.records.record import Written

T = TypeVar("T")

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
    plain = text.isprintable() or text.replace("\n", "").isprintable()
    return text if plain else re.sub(_UNWANTED, "\N{REPLACEMENT CHARACTER}", text)


def say(text: str = "", indent: str | None = None) -> None:
    """One line on standard output, or `Lines`; on a terminal with what must not be missed in colour.

    With an ``indent`` the text is broken into lines that begin with it. A name with a line break in it would
    else print a row of its own, which could say anything.
    """
    _clear_step()
    if indent is not None:
        text = wrap(text, indent=indent)
    shown = clean(text) if isinstance(text, Lines) else _signs.short(_on_one_line(text))
    _put((_coloured(shown) if in_colour() else shown) + "\n")


_signs = Signs()
"""What the figures printed so far rest on, so that one line at the end can say it for all."""


def say_key() -> None:
    """What the signs behind figures mean; nothing where none was printed."""
    if _signs.key:
        say(f"{_signs.key}.", indent="")
    _signs.used.clear()


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


def in_colour() -> bool:
    """Whether a person looks at a terminal that shows colour (NO_COLOR and TERM=dumb say that none is)."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM", "") == "dumb"
    return not plain and sys.stdout.isatty()


RED, AMBER, BOLD, OFF = "\x1b[1;31m", "\x1b[33m", "\x1b[1m", "\x1b[0m"


def _coloured(text: str) -> str:
    """Colour never stands alone: it follows words and signs that are there without it."""
    if re.match(r"\s*(STOP|TOO MUCH|MUST NOT|BAD|EXPIRED|! )", text):
        return f"{RED}{text}{OFF}"
    if re.match(r"\s*(WARNING|WARN|MIND|EXPIRES SOON)", text):
        return f"{AMBER}{text}{OFF}"
    if text and not text[0].isspace() and text.endswith(":") and len(text) < 60:
        return f"{BOLD}{text}{OFF}"
    return text


def say_rows(headings: tuple[str, ...], rows: Sequence[Sequence[str]], plain: Sequence[str]) -> None:
    """A table on a terminal, in the width there is; in a pipe the ``plain`` lines, which stay as they are."""
    if not sys.stdout.isatty():
        for text in plain:
            say(text)
        return
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for one in headings:
        # The library takes room from columns that may wrap and from no others: only those of words may.
        table.add_column(one, no_wrap=one in NEVER_CUT)
    for row in rows:
        table.add_row(*(Text(_on_one_line(cell), no_wrap=True, overflow="ellipsis") for cell in row))
    Console(width=columns(), no_color=not in_colour(), highlight=False).print(table)


NEVER_CUT = frozenset({"Id", "Date", "Release", "Harm"})
"""Columns of a table that are as wide as their widest cell."""


def say_cut(shown: int, limit: int) -> None:
    """That a list may go on; on standard error, so that what reads the list is told as well."""
    if 0 < limit <= shown:
        warn(f"Only the first {limit} are shown; --limit 0 shows all.")


def warn(text: str) -> None:
    """One sentence on standard error; of an endless one the beginning and the end, which says what to do."""
    _clear_step()
    if len(text) > LONGEST_SENTENCE:
        text = f"{text[: LONGEST_SENTENCE // 2]} ... {text[-LONGEST_SENTENCE // 2 :]}"
    sys.stderr.write(_on_one_line(text) + "\n")


def step(text: str) -> None:
    """What long work is at, on one line of a terminal that the next step writes over; nothing in a pipe.

    Ctrl+C stops any such work: what was acknowledged is on disk, and what was half made is taken away.
    """
    if sys.stderr.isatty():
        _clear_step()
        sys.stderr.write(f"{clean(text)[:60]} ... (Ctrl+C stops)")
        sys.stderr.flush()
        _AT_STEP.append(text)


_AT_STEP: list[str] = []
"""The step whose line stands on the terminal, if one does."""


def _clear_step() -> None:
    """Take the line of a step away before anything else is written."""
    if _AT_STEP:
        _AT_STEP.clear()
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


def say_json(value: Any) -> int:
    """A value as one line of JSON; unusual characters are escaped, so it is plain text. Returns OK."""
    _clear_step()
    # Here, so that opening the app does not wait for it.
    import msgspec

    try:
        raw = msgspec.json.encode(value).decode()
    except UnicodeEncodeError:
        # Names of files may be bytes that are no text.
        raw = msgspec.json.encode(_whole(msgspec.to_builtins(value))).decode()
    _put(re.sub(_UNWANTED, lambda found: f"\\u{ord(found.group()):04x}", raw) + "\n")
    return OK


def say_either(as_json: bool, value: T, told: str | Callable[[T], object]) -> int:
    """The value for another program, or what says it to a person: a text, or what prints it. Returns OK."""
    if as_json:
        return say_json(value)
    if isinstance(told, str):
        say(told)
    else:
        told(value)
    return OK


def say_written(as_json: bool, written: Written, noun: str = "", warnings: Sequence[str] = ()) -> int:
    """A record that was acknowledged. ``noun``: what it is of, where the word of the command does not say;
    ``warnings``: what speaks against it."""
    shown = f"{noun} {written.id}".strip()
    told = {"written": written, **({"warnings": warnings} if warnings else {})}
    say_either(as_json, told, f"Stored and on disk: {shown}")
    for line in () if as_json else warnings:
        warn(line)
    return OK


def say_changed(
    as_json: bool,
    written: Written,
    named: Iterable[str] | None = None,
    word: str = "Written down",
    against: Sequence[str] = (),
) -> int:
    """The record of a change, which leaves the changed one as it was written.

    What it ``named`` anew and what speaks ``against`` it is said too.
    """
    head = f"{word} by {written.id}; the first record stays readable."
    if named is None:
        return say_either(as_json, written, head)
    return say_stored(as_json, head, written, named, against)


def say_stored(
    as_json: bool, head: str, written: Any, understood: Iterable[str], warnings: Sequence[str] = ()
) -> int:
    """What was stored, what the typed words were taken for, and what speaks against it. Returns OK.

    Whoever stores works these out before: who is refused after it is stored types it again, and it counts
    twice. It also brings the index up to date once, and not a second time for these words alone.
    """
    if as_json:
        return say_json(stored_plain(written, understood, warnings))
    say(head)
    say_each(understood)
    for line in warnings:
        warn(line)
    return OK


def stored_plain(written: Any, understood: Iterable[str], warnings: Sequence[str]) -> dict[str, Any]:
    """The same for another program."""
    import msgspec

    against = {"warnings": list(warnings)} if warnings else {}
    return {**msgspec.to_builtins(written), "understood": list(understood), **against}


def _whole(value: Any) -> Any:
    """The same plain value with a mark in place of each half of a character."""
    if isinstance(value, str):
        return value.encode(errors="replace").decode()
    if isinstance(value, dict):
        return {_whole(key): _whole(item) for key, item in value.items()}
    return [_whole(item) for item in value] if isinstance(value, list | tuple) else value


def say_list(as_json: bool, found: Sequence[T], line: Callable[[T], str], none: str) -> int:
    """All of a list for another program, or a line for each; ``none`` says that it is empty. Returns OK."""
    if as_json:
        return say_json(found)
    for one in found:
        say(line(one))
    if not found:
        say(none)
    return OK


def say_lines(text: str) -> None:
    for line in text.splitlines():
        say(line)


def say_files(as_json: bool, value: T, written: Iterable[Path], text: Callable[[], str]) -> int:
    """The files that were written, or without any the ``text`` itself. Returns OK."""

    def told(_: T) -> None:
        for path in written:
            say(f"Written: {path}")
        if not written:
            say_lines(text())

    return say_either(as_json, value, told)


def say_each(texts: Iterable[str], indent: str = "  ", before: str = "") -> None:
    """Each text broken into indented lines; ``before`` stands before each, such as the sign of a warning."""
    for text in texts:
        say(f"{before}{text}", indent)


PIPE, WIDEST = 78, 100
"""Characters of a line where nobody looks, which never change, and at most where somebody does."""


def wrap(text: str, indent: str = "    ") -> Lines:
    """Text broken into indented lines, as wide as the terminal is; in a pipe always the same."""
    import textwrap

    width = max(40, min(columns() - 2, WIDEST)) if sys.stdout.isatty() else PIPE
    text = _signs.short(clean(text))
    return Lines(textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent))


def columns(otherwise: int = 80) -> int:
    """The width of the terminal in characters, or ``otherwise`` where there is none."""
    named = os.environ.get("COLUMNS", "")
    if named.isdecimal() and int(named) > 0:
        return int(named)
    try:
        return os.get_terminal_size().columns or otherwise
    except OSError:
        return otherwise
