"""Gauges and drawings of the desk in the colours of the screen; shapes tell the parts apart without them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from textual.content import Content
from textual.widgets import Static

from kb.desk import canvas
from kb.tui.text import cut, tidy

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


def _piece(text: str, style: str) -> Content:
    return Content.styled(tidy(text), style) if style else Content(tidy(text))


def labelled(label: str, words: str, width: int, room: int, style: str = "") -> list[Content]:
    """A dim label of ``width`` cells and words beside it, wrapped into ``room`` cells under themselves."""
    from textwrap import wrap

    lines = wrap(tidy(words, multiline=False), max(10, room - width - 1)) or [""]
    heads = [cut(label, width).ljust(width), *[" " * width] * (len(lines) - 1)]
    return [
        Content.styled(f"{head} " if width else "", "$secondary") + _piece(text, style)
        for head, text in zip(heads, lines, strict=True)
    ]
