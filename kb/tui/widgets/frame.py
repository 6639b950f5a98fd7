"""The frame of every screen: a line that says where one is, and the keys at the foot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from textual.containers import Vertical
from textual.content import Content
from textual.style import Style
from textual.widgets import Static

from kb.tui.clock import digits
from kb.tui.text import cut, line

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.tui.app import BenchleafApp

INVENTED = "Invented demo studio: sheets, people and tests are made up"
PLACES = (
    ("home", "F2", "Question", "app.show_home"),
    ("book", "F3", "Book", "app.show_book"),
    ("materials", "F4", "Materials", "app.show_materials"),
    ("", "F1", "Help", "app.help_here"),
    ("", "^P", "All", "app.command_palette"),
    ("", "^Q", "Quit", "app.quit"),
)
"""Mode, key, word and action. The place one is at stands in square brackets."""


class TitleBar(Static):
    """One line: the screens with their keys. A second one says when the studio is invented."""

    def __init__(self) -> None:
        super().__init__("", markup=False)

    def on_mount(self) -> None:
        """Words are known only once there is an app."""
        self.refresh_words()

    def on_resize(self) -> None:
        """The studio's name is shown where there is room."""
        self.refresh_words()

    def refresh_words(self) -> None:
        """Write the line anew, after the studio was opened or the place changed."""
        app = cast("BenchleafApp", self.app)
        here = app.current_mode
        # The clock runs on while other screens are shown, so every screen shows it.
        name = f"dwell {digits(app.clock.elapsed_s)} " if app.clock.running else "Benchleaf "
        parts: list[Content | tuple[str, Style]] = [Content.styled(name, "bold")]
        for mode, key, word, action in PLACES:
            at = bool(mode) and mode == here
            label = f" [{key} {word}]" if at else f"  {key} {word}"
            parts.append((label, Style.from_meta({"@click": action}) + Style(bold=at)))
        room = app.size.width - sum(len(part[0]) if isinstance(part, tuple) else len(part) for part in parts)
        if app.studio_name and room >= 20:
            parts.append(Content(f"   {cut(app.studio_name, room - 6)}"))
        said = Content.assemble(*parts)
        if app.invented:
            said = Content("\n").join([said, Content.styled(INVENTED, "bold italic")])
        self.update(said)


class KeyBar(Static):
    """The keys that work here, on one line; a click presses one. One widget, so it paints at once."""

    def __init__(self) -> None:
        super().__init__("", markup=False)
        self._cells = 0

    def on_mount(self) -> None:
        """Follow what has the focus."""
        self.screen.bindings_updated_signal.subscribe(self, self._keys_changed)

    @property
    def fits(self) -> bool:
        """Whether no key is cut off."""
        return self._cells <= self.content_size.width

    def _keys_changed(self, screen: Screen[Any]) -> None:
        if self.is_attached and screen is self.screen:
            words = self._words(screen)
            self._cells = words.rstrip().cell_length
            self.update(words)

    def _words(self, screen: Screen[Any]) -> Content:
        """Each action once, with the key it is known by."""
        seen: set[str] = set()
        parts: list[Content] = []
        for active in screen.active_bindings.values():
            binding = active.binding
            if not binding.show or binding.action in seen or not binding.description:
                continue
            seen.add(binding.action)
            press = Style.from_meta({"@click": f"app.simulate_key('{binding.key}')"})
            key = Content.styled(self.app.get_key_display(binding), "bold $footer-key-foreground")
            parts.append((key + Content(f" {binding.description}")).stylize(press))
            parts.append(Content("  "))
        return Content.assemble(*parts)


class Sheet(Vertical):
    """The box of a pop-up: its heading in the upper edge, its keys in the lower."""

    def __init__(self, title: str, keys: str, *, id: str | None = None) -> None:
        super().__init__(id=id, classes="sheet")
        self.border_title = line(title)
        self.border_subtitle = line(keys)
