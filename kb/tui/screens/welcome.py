"""The first minute: three ways to begin, an example, and a tour from place to place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from kb.tui.actions import Act, bindings
from kb.tui.bench import app_of
from kb.tui.text import plain
from kb.tui.widgets.frame import Sheet

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.tui.bench import Bench
    from kb.tui.screens.choose.find import Whole

WAYS = (
    Act("dismiss('home')", "1", "Ask", "Ask which liquid to test next on a tape (F2)"),
    Act("dismiss('identify')", "2", "Identify", "Tell from what you see what a tape may be (F5)"),
    Act("dismiss('materials')", "3", "Look up", "Look up a liquid, a tape, an ink, a paper (F4)"),
    Act("dismiss('example')", "4", "Example", "Fill the question with an example and see its answer"),
    Act("dismiss('tour')", "5", "Tour", "A tour of one minute through the places"),
    Act("dismiss('')", "escape", "Close", "Close this; it does not come again (F1 helps everywhere)"),
)
EMPTY = (
    "No spot test stands in this bench book yet. The catalogue of liquids, tapes, inks and papers is there, "
    "and answers rest on chemistry and on reports in print until you store tests of your own."
)
EXAMPLE = "oily masking tape over letterpress on newsprint"
"""A question that the catalogue answers well, as one types it."""


class Stop(NamedTuple):
    """One stop of the tour: the place, its heading, and what to look at there."""

    mode: str
    title: str
    text: str


STOPS = (
    Stop(
        "home",
        "Ask",
        "A sentence with blanks. Type part of a name into a blank; what you do not know may stay empty. "
        "The liquids worth a test are listed, best first. T on a row starts a spot test with a dwell clock.",
    ),
    Stop(
        "identify",
        "Identify",
        "If you do not know the tape: say what you see, one look after the other. It tells what the tape may "
        "be and which look would tell most next.",
    ),
    Stop(
        "materials",
        "Materials",
        "Type any part of a name. Each figure stands with its unit; O shows where it comes from, L what it "
        "is connected with, S the safety note of a liquid.",
    ),
    Stop(
        "air",
        "Air",
        "How much of a liquid one would breathe in your room, against the limits that your studio goes by, "
        "and what would do about it.",
    ),
    Stop(
        "recipes",
        "Make and bath",
        "Pastes, gels and baths in the amount you want, step by step with timers (F6); alkaline baths and "
        "washing with their readings (F7).",
    ),
    Stop(
        "book",
        "Book",
        "Everything that was stored, newest first. Nothing is ever erased; Ctrl+Z takes back what was stored "
        "in the last minute. Forms are kept as drafts when you leave them (Esc): opened again they "
        "say what you wrote. Ctrl+B goes on with one; F9 throws it away.",
    ),
)


class WelcomeScreen(ModalScreen[str]):
    """Gives back what was chosen: a mode, ``example``, ``tour``, or nothing."""

    TITLE_WORDS = "Welcome"
    HELP = (
        "Press the figure of what you want to do first; Esc closes this. What you type in letters is your "
        "question: it goes into the first blank. F2 to F10 lead to their places from here too."
    )
    passing = True
    """It names keys of places, and whoever presses one of them is greeted enough."""
    BINDINGS = bindings(WAYS)

    def __init__(self, *, empty: bool) -> None:
        super().__init__()
        self.empty = empty
        """Whether no spot test is in the book yet; sheets may be."""

    def compose(self) -> ComposeResult:
        lines = [f"  {act.key.upper():<3}  {act.says}" for act in WAYS[:-1]]
        parts = ["Type your question, or press a figure:", "", *lines[:3], "", *lines[3:]]
        with Sheet("Benchleaf", "A figure chooses; letters are your question; Esc closes"):
            yield Static(plain("\n".join([*parts, *(["", EMPTY] if self.empty else [])])), markup=False)

    def on_key(self, event: events.Key) -> None:
        """Whoever types at once means the question: no letter of it is obeyed, none is lost."""
        typed_on = self.app.screen is not self
        if not typed_on and (not event.is_printable or (event.character or "").isdigit()):
            return
        from kb.tui.screens.choose.home import HomeScreen

        event.stop()
        self.query_one(Sheet).display = False
        for home in app_of(self).screens_at("home"):
            if isinstance(home, HomeScreen):
                # It opens over this screen, which goes only when something is taken: keys typed while this
                # one closed would reach the blank before the first letter does.
                home.ask_by(event, before=lambda: self.dismiss(""))


OPEN_HERE = " What you have open here stays as it is; Esc on it leads to what this speaks of."


class Room(Static):
    """Lines of the screen that is shown, which the box lies on: so it covers nothing."""

    DEFAULT_CSS = "Room { dock: bottom; margin: 0 0 1 0; }"

    def on_resize(self) -> None:
        """The line one types in stays in sight."""
        if self.screen.focused is not None:
            self.screen.focused.scroll_visible(animate=False)


class TourScreen(ModalScreen[bool]):
    """One stop, under the place it speaks of, which keeps clear of it. True: on to the next."""

    TITLE_WORDS = "Tour"
    HELP = "Enter goes on to the next place, Esc ends the tour."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space", "next", "Next", key_display="Enter"),
        Binding("escape", "end", "End the tour"),
    ]
    CSS = """
    TourScreen { align: center bottom; background: transparent; }
    TourScreen > .sheet { width: 100%; max-width: 100%; margin-bottom: 1; }
    """

    def __init__(self, place: int, shown: Screen[Any], *, covered: bool) -> None:
        super().__init__()
        self.place, self.shown, self.covered = place, shown, covered
        self.room = Room(id="tour-room")

    def compose(self) -> ComposeResult:
        stop = STOPS[self.place]
        heading = f"{stop.title}   {self.place + 1} of {len(STOPS)}"
        with Sheet(heading, "Enter goes on; Esc ends the tour"):
            yield Static(plain(stop.text + (OPEN_HERE if self.covered else "")), markup=False)

    def on_mount(self) -> None:
        self.shown.mount(self.room)

    def on_resize(self) -> None:
        """The room is as high as the box is at this width."""
        self.call_after_refresh(self._make_room)

    def _make_room(self) -> None:
        self.room.styles.height = self.query_one(Sheet).outer_size.height

    def action_next(self) -> None:
        self._end(on=True)

    def action_end(self) -> None:
        self._end(on=False)

    def _end(self, *, on: bool) -> None:
        self.room.remove()
        self.dismiss(on)


def welcome(app: Bench, *, empty: bool) -> None:
    """Offer what there is to do, and do what is chosen."""

    def chosen(what: str | None) -> None:
        from kb.desk.memory import remember

        # Not before: there is no folder to keep it in until the settings over this have stored who writes.
        remember(app.studio.root, welcomed=True)
        if what == "example":
            whole = app.desk(_example)
            app.put_into_question(lambda asked: asked.put_whole(whole.question, whole.filled))
        elif what == "tour":
            tour(app)
        elif what:
            app.action_go(what)

    app.push_screen(WelcomeScreen(empty=empty), chosen)


def _example(studio: Studio) -> Whole:
    from kb.desk.choose.spoken import spoken
    from kb.tui.screens.choose.find import whole_of

    return whole_of(studio, spoken(studio, EXAMPLE))


def tour(app: Bench, place: int = 0) -> None:
    """From place to place; it ends where it began."""
    if place >= len(STOPS):
        app.action_go("home")
        return
    app.action_go(STOPS[place].mode)

    def gone_on(on: bool | None) -> None:
        if on:
            tour(app, place + 1)

    def show() -> None:
        app.push_screen(TourScreen(place, app.screen, covered=len(app.screen_stack) > 1), gone_on)

    app.call_later(show)
