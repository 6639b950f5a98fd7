"""Gauges and drawings of the desk in the colours of the screen; shapes tell the parts apart without them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from textwrap import wrap

from rich.table import Table
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from kb.desk import canvas
from kb.tui.text import cut, line, tidy

CALM = {
    canvas.SOLID: "$primary",
    canvas.RANGE: "$primary 60%",
    canvas.REST: "$secondary 40%",
    canvas.LIMIT: "bold $foreground",
    canvas.AXIS: "$secondary",
}
"""Something one reads off."""
STOP = CALM | {canvas.SOLID: "bold $error", canvas.RANGE: "$error", canvas.LIMIT: "bold $error"}
MIND = CALM | {canvas.SOLID: "$warning", canvas.RANGE: "$warning 60%"}
"""What lies over a limit, and what is near it."""
EDGE = 5
"""Cells of the edge of a pane that its heading cannot have."""
Rows = Iterable[Iterable[tuple[str, str]]]


class Drawing(Static):
    """What fills its room, and is drawn again when that changes.

    Its screen is told of a new size before the arrangement of that size has given the drawing its room.
    """

    def __init__(self, draw: Callable[[], None], *, id: str | None = None) -> None:
        super().__init__("", id=id, markup=False)
        self._draw_again = draw

    def on_resize(self) -> None:
        # Hidden it has no room, and comes back with one.
        if self.content_size.area:
            self._draw_again()


def drawn(rows: Rows, colours: Mapping[str, str] = CALM) -> Content:
    """Rows of pieces with layers, as a canvas or a gauge gives them."""
    return Content("\n").join(
        [Content.assemble(*(_piece(text, colours.get(layer, "")) for text, layer in row)) for row in rows]
    )


_LEAD = re.compile(r"(?:- )?[A-Z][\w, ()/+-]{1,43}:(?= )|(?:Release|Harm) +(?=[<>\d])")
_ITEMS = {"- ", "+ ", "= "}
_LOUD = {"STOP": "bold $error", "WARN": "bold $warning"}


def led(text: str, first: str = "") -> Content:
    """A text that is found by the bold beginnings of its lines; ``first`` stands over it.

    Bold are the words before a colon, and headings: lines without a stop over a line with a dash.
    """
    lines = [Content.styled(tidy(first), "bold")] if first else []
    said = tidy(text).split("\n")
    for one, after in zip(said, [*said[1:], ""], strict=True):
        found = _LEAD.match(one)
        lead = found[0] if found else one if _heads(one, after) else ""
        loud = _LOUD.get(lead.strip(" -:"), "bold")
        lines.append(Content.assemble((lead, loud), one[len(lead) :]) if lead else Content(one))
    return Content("\n").join(lines)


def _heads(one: str, after: str) -> bool:
    return one[-1:].isalnum() and after[:2] in _ITEMS and one[:2] not in _ITEMS


def grid(*widths: int) -> Table:
    """Columns of so many cells; those of 0 share what is left, their words wrapped."""
    made = Table.grid(padding=(0, 1), expand=True)
    for width in widths:
        if width:
            made.add_column(width=width)
        else:
            made.add_column(ratio=1, overflow="fold")
    return made


def head_of(pane: Widget, name: str, instead: str) -> str:
    """Put a name into the edge of a pane; where it has no room there, it comes back to stand inside."""
    fits = len(name) <= pane.size.width - EDGE
    pane.border_title = line(name if fits else instead)
    return "" if fits else name


def _piece(text: str, style: str) -> Content:
    return Content.styled(tidy(text), style) if style else Content(tidy(text))


def labelled(label: str, words: str, width: int, room: int, style: str = "") -> list[Content]:
    """A dim label of ``width`` cells and words beside it, wrapped into ``room`` cells under themselves."""
    lines = wrap(tidy(words, multiline=False), max(10, room - width - 1)) or [""]
    heads = [cut(label, width).ljust(width), *[" " * width] * (len(lines) - 1)]
    return [
        Content.styled(f"{head} " if width else "", "$secondary") + _piece(text, style)
        for head, text in zip(heads, lines, strict=True)
    ]
