"""The dwell clock in big figures, or in one line where rows are few, with words for what it does."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Digits, Static

from kb.tui.clock import DwellClock, digits
from kb.tui.text import line


class ClockPanel(Horizontal, can_focus=True):
    """Shows a clock that lives elsewhere; asks for start and pause by a message."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "press", "Start, pause", key_display="Space"),
        Binding("up", "app.focus_previous", "Up", show=False),
        Binding("down,enter", "app.focus_next", "Down", show=False),
    ]

    class Pressed(Message):
        """The user wants to start or pause."""

    def __init__(self, clock: DwellClock, about: str) -> None:
        super().__init__(id="clock")
        self.clock = clock
        self.about = about
        self.round_number = 1
        self._shown: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        """Figures on the left, words on the right; the words alone on a low screen."""
        yield Digits("00:00", id="figures")
        with Vertical(id="clock-words"):
            # A blank as before the lines below, which bear the mark of the focus there.
            yield Static(line(f" {self.about}"), id="clock-about", markup=False)
            yield Static("", id="clock-state", markup=False)
            yield Static("", id="clock-keys", classes="quiet", markup=False)

    def show(self) -> None:
        """Draw the clock as it stands."""
        clock = self.clock
        state = "running" if clock.running else "paused" if clock.elapsed_s else "ready"
        aim = ""
        if clock.aim_s:
            reached = clock.elapsed_s >= clock.aim_s
            aim = f", aim {digits(clock.aim_s)}{' REACHED' if reached else ''}"
        mark = "»" if self.has_focus else " "
        verb = "pauses" if clock.running else "goes on" if clock.elapsed_s else "starts"
        key = "Space or Ctrl+T" if self.has_focus else "Ctrl+T"
        more = ", Ctrl+R next round" if clock.elapsed_s and not clock.running else ""
        said = f"Dwell of round {self.round_number}: {state}{aim}"
        if self.screen.has_class("-low"):
            said = f"{digits(clock.elapsed_s)}  {said}. {key} {verb}{more}"
        shown = (digits(clock.elapsed_s), f"{mark}{said}", f" {key} {verb}{more}")
        # Asked for four times a second: each update would lay out the whole form anew.
        if shown == self._shown:
            return
        self._shown = shown
        self.query_one(Digits).update(shown[0])
        self.query_one("#clock-state", Static).update(line(shown[1]))
        self.query_one("#clock-keys", Static).update(line(shown[2]))

    # It may be running already when it is shown first; keys work on it only where it has the cursor.
    on_mount = on_focus = on_blur = show

    def action_press(self) -> None:
        self.post_message(self.Pressed())

    def on_click(self) -> None:
        self.focus()
        self.post_message(self.Pressed())
