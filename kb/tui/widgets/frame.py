"""The frame of every screen: a line that says where one is, and the keys at the foot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from rich.segment import Segment
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.strip import Strip
from textual.style import Style
from textual.widgets import Static

from kb.tui.clock import digits
from kb.tui.places import PLACES, SHEET
from kb.tui.text import cut, fit, line

if TYPE_CHECKING:
    from textual.binding import ActiveBinding
    from textual.screen import Screen

    from kb.tui.bench import Bench

Labelled = tuple[str, str, str, str]
"""Mode, key, word and action of a place in the title line."""
INVENTED = "Invented demo studio: sheets, people and tests are made up"
LINE: tuple[Labelled, ...] = (
    *((place.mode, place.key.upper(), place.word, f"app.go('{place.mode}')") for place in PLACES),
    ("", "F1", "Help", "app.help_here"),
    ("", "^P", "All", "app.command_palette"),
    ("", "^Q", "Quit", "app.quit"),
)
"""Mode, key, word and action. The place one is at stands in square brackets."""
KEPT = "Kept as a draft: {}. Ctrl+B goes on with it."
TAKES_BACK = "Ctrl+Z takes it back within a minute."
"""What forms say when they are left, and when they are stored."""
LEAST = {"^P", "^Q"}
"""Left out where the line is short; the help of every screen names them."""
SHORT = {"Materials": "Material", "Identify": "Ident"}
SHORTER = {"Materials": "Mats", "Identify": "Ident"}
"""For a line that holds a clock as well: no room for the sheet, which palette and help name."""
FEW = 5
"""Keys at the foot for hands in gloves."""
EDGES = 2
"""Cells left blank at both ends of the line."""


class TitleBar(Static):
    """One line: the screens with their keys. A second one says when the studio is invented."""

    def __init__(self) -> None:
        super().__init__("", markup=False)
        self.timing = False
        """Whether the time of a clock stands in the line."""

    def refresh_words(self) -> None:
        """Write the line anew, after the studio was opened or the place changed."""
        app = cast("Bench", self.app)
        here = app.current_mode
        self.timing = app.clock.running or bool(app.timers.short)
        name, places = fitted(clocks(app), here, app.size.width)
        labels = [label for label, _, _ in places]
        taken = len(name) + sum(len(label) for label in labels)
        gap = "  " if taken + 2 * len(labels) + EDGES <= app.size.width else " "
        parts: list[Content | tuple[str, Style]] = [Content.styled(name, "bold")]
        for place, (label, mode, action) in enumerate(places):
            before = gap if place or name else ""
            parts.append(Content(before))
            parts.append((label, Style.from_meta({"@click": action}) + Style(bold=mode == here)))
        room = app.size.width - taken - len(gap) * len(labels)
        if app.studio_name and room >= 20:
            parts.append(Content(f"   {cut(app.studio_name, room - 6)}"))
        said = Content.assemble(*parts)
        if app.invented:
            said = Content("\n").join([said, Content.styled(INVENTED, "bold italic")])
        before_said = self.content
        # A clock that runs asks four times a second, and an update lays out the whole screen anew.
        if not (isinstance(before_said, Content) and said.is_same(before_said)):
            self.update(said)

    # Words are known only once there is an app; the studio's name is shown where there is room.
    on_mount = on_resize = refresh_words


def clocks(app: Bench) -> tuple[str, ...]:
    """What the line begins with, the longest first. Clocks run on while other screens are shown."""
    if app.clock.running:
        short = digits(app.clock.elapsed_s)
        return f"dwell {short}", short
    if short := app.timers.short:
        return f"timer {short}", short
    return "Benchleaf", ""


def fitted(names: tuple[str, ...], here: str, width: int) -> tuple[str, list[tuple[str, str, str]]]:
    """The name and the places (label, mode, action), as much of both as fits in one line."""
    fewer = tuple(one for one in LINE if one[1] not in LEAST)
    short, shorter = (worded(fewer, words) for words in (SHORT, SHORTER))
    no_sheet = tuple(one for one in shorter if one[0] != SHEET)
    tries = [(names[0], LINE), *((name, fewer) for name in names)]
    if names[-1]:
        # A clock keeps the word that says what it times as long as short words of places make room.
        tries[2:2] = [(names[0], shorter), (names[0], no_sheet)]
    tries += [(names[-1], short), (names[-1], shorter), (names[-1], no_sheet)]
    for name, listed in tries:
        places = [
            (f"[{key} {word}]" if mode == here else f"{key} {word}", mode, action)
            for mode, key, word, action in listed
        ]
        if len(name) + sum(len(one[0]) + 1 for one in places) - (not name) + EDGES <= width:
            break
    return name, places


def worded(listed: tuple[Labelled, ...], words: Mapping[str, str]) -> tuple[Labelled, ...]:
    """The places by shorter words."""
    return tuple((mode, key, words.get(word, word), action) for mode, key, word, action in listed)


class KeyBar(Static):
    """The keys that work here, on one line; a click presses one. One widget, so it paints at once."""

    auto_links = False
    """Else what can be clicked has one colour, and the keys could not be told from their words."""

    def __init__(self) -> None:
        super().__init__("", markup=False)
        self._cells = 0

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self._keys_changed)

    @property
    def fits(self) -> bool:
        return self._cells <= self.content_size.width

    def _keys_changed(self, screen: Screen[Any]) -> None:
        if self.is_attached and screen is self.screen:
            words = self._words(screen)
            self._cells = words.rstrip().cell_length
            self.update(words, layout=False)

    def _words(self, screen: Screen[Any]) -> Content:
        """Each action once, with the key it is known by; wide apart for hands in gloves."""
        gloves = cast("Bench", self.app).gloves
        own = [one.action for one in screen.BINDINGS if isinstance(one, Binding)]
        shown: dict[str, ActiveBinding] = {}
        for active in screen.active_bindings.values():
            if active.binding.show and active.binding.description:
                shown.setdefault(active.binding.action, active)

        def declared(one: ActiveBinding) -> int:
            """A key that some lines one types in bind too changed its place with the line."""
            return own.index(one.binding.action) if one.node is screen and one.binding.action in own else -1

        listed = [one.binding for one in sorted(shown.values(), key=declared)]
        if gloves and len(listed) > FEW:
            # The rest is one key away, in the help and the palette; the way back is no part of the rest.
            back = [one for one in listed[FEW - 1 :] if one.key == "escape"]
            listed = [*listed[: FEW - len(back)], *back]
        parts: list[Content] = []
        for binding in listed:
            press = Style.from_meta({"@click": f"app.simulate_key('{binding.key}')"})
            key = Content.styled(self.app.get_key_display(binding), "bold $footer-key-foreground")
            parts.append((key + Content(f" {binding.description}")).stylize(press))
            parts.append(Content("    " if gloves else "  "))
        return Content.assemble(*parts[:-1])


class Said(Static):
    """Words over an answer. Where the screen has no room for the last of them, three dots say so."""

    def render_line(self, y: int) -> Strip:
        strip, (width, height) = super().render_line(y), self.size
        if y + 1 < height or self.visual.get_height({}, width) <= height:
            return strip
        words = strip.text.rstrip()
        while len(words) > width - 2:
            words = words.rpartition(" ")[0]
        return Strip([Segment(fit(f"{words.rstrip(',')} …", width), next(iter(strip)).style)], width)


class Sheet(Vertical):
    """The box of a pop-up: its heading in the upper edge, its keys in the lower."""

    def __init__(self, title: str, keys: str, *, id: str | None = None) -> None:
        super().__init__(id=id, classes="sheet")
        self.border_title = line(title)
        self.border_subtitle = line(keys)
