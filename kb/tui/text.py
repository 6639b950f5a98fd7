"""Text on its way out to the screen: shown as it is stored, never as markup or terminal codes."""

from __future__ import annotations

import re

from rich.cells import cell_len, set_cell_size
from textual.content import Content

from kb.book.text import MARK, clean_text

LONGEST = 20_000
"""Characters shown of one text; a longer one ends in three dots."""
_HALVES = re.compile("[\ud800-\udfff]")

LEAST_WORDS = 12
"""Cells of a name that tell what it is: with fewer left a figure at its end tells nothing."""
_SHARE_FIRST = re.compile(r"(?<=\d) %(?= [^+])")
"""The unit of a share that stands before its liquid: ``80 % n-Heptane``."""
_RANGE = re.compile(r"(?<= )\d[\d-]* °C$")
"""The boiling range at the end of a name."""
_SENTENCES = re.compile(r"(?<=[.!?]) (?=[^a-z])|(?<=;) ")
_ASIDE = re.compile(r" \((?:--|benchleaf )[^)]*\)")
_COMMAND = re.compile(r"\bbenchleaf [a-z]|(?<!\S)--[a-z]")


def without_commands(text: str) -> str:
    """What the desk says, without sentences that tell a command to type: in the app a key does that.

    Words that would all go are left as they are.
    """
    found = [one for one in _SENTENCES.split(_ASIDE.sub("", text)) if not _COMMAND.search(one)]
    left = " ".join(found)
    return f"{left[:-1]}." if left.endswith(";") else left or text


def tidy(text: object, *, multiline: bool = True) -> str:
    """The text with everything that could steer a terminal replaced by a visible mark. Never raises."""
    shown = text if isinstance(text, str) else str(text)
    # Nearly all text; a table has hundreds of cells at every letter.
    if len(shown) <= LONGEST and shown.isascii() and shown.isprintable():
        return shown
    if len(shown) > LONGEST:
        shown = shown[:LONGEST] + "..."
    return clean_text(_HALVES.sub(MARK, shown), limit=3 * LONGEST, multiline=multiline)


def plain(text: object) -> Content:
    """Any stored text for any widget: brackets stay brackets, line breaks stay."""
    return Content(tidy(text))


def line(text: object) -> Content:
    """The same on one line, for cells and labels."""
    return Content(tidy(text, multiline=False))


def cut(text: object, width: int) -> str:
    """The text on one line in at most ``width`` cells; what was cut off shows as three dots."""
    shown = tidy(text, multiline=False)
    if cell_len(shown) <= width:
        return shown
    return set_cell_size(shown, width - 1).rstrip() + "…" if width > 0 else ""


def fit(text: object, width: int) -> str:
    """The same, filled up with blanks to exactly ``width`` cells."""
    return set_cell_size(cut(text, width), width)


def parts_cut(name: str, width: int) -> str:
    """A liquid's or a blend's name in so many cells: its figures stay, and words give way.

    Every part of a blend is cut alike and keeps its share; where that has no room, the first share tells:
    ``n-He 80+Ethy`` for n-Heptane 80 % + Ethyl acetate 20 %. A boiling range is what tells two cuts apart.
    """
    if cell_len(name) > width:
        name = _SHARE_FIRST.sub("", name)
    boils = _RANGE.search(name)
    if cell_len(name) > width and boils and width - cell_len(boils[0]) >= LEAST_WORDS:
        return cut(name, width - cell_len(boils[0])) + boils[0]
    parts = [(part, *part.removesuffix(" %").rpartition(" ")[::2]) for part in name.split(" + ")]
    if len(name) <= width or len(parts) < 2:
        return name
    room = (width - 3 * (len(parts) - 1)) // len(parts)
    short = []
    for part, liquid, share in parts:
        ending = f" {share} %" if part.endswith(" %") and liquid else ""
        short.append(f"{cut(liquid if ending else part, max(3, room - len(ending)))}{ending}")
    if sum(map(len, short)) + 3 * (len(parts) - 1) <= width:
        return " + ".join(short)
    first = f" {parts[0][2]}" if parts[0][0].endswith(" %") else ""
    room = max(1, (width - len(first) - len(parts) + 1) // len(parts))
    letters = [(liquid if part.endswith(" %") else part)[:room].strip() for part, liquid, _ in parts]
    return "+".join((f"{letters[0]}{first}", *letters[1:]))
