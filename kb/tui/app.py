"""The terminal app: shows one screen at a time, opens the studio, and rings when a time is reached.

First paint needs only this file, the home screen and its widgets; the index is opened afterwards in a
thread. What screens may ask of it is :class:`kb.tui.bench.Bench`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen

from kb.tui.actions import APP, bindings
from kb.tui.bench import Bench, StudioOpened, in_words
from kb.tui.inside_textual import every_screen, forget_painted
from kb.tui.places import PLACES, SHEET
from kb.tui.themes import DEFAULT, THEMES

if TYPE_CHECKING:
    from textual.await_complete import AwaitComplete
    from textual.widget import AwaitMount

    from kb.desk.drafts import Draft
    from kb.desk.making.steps import KeptTimer
    from kb.desk.memory import Memory
    from kb.desk.studio import Studio
    from kb.tui.screens.choose.asked import Asked

T = TypeVar("T")
TICK_S = 0.25
HERE = Path(__file__).parent
LATER_CSS = HERE / "later.tcss"


class BenchleafApp(Bench):
    """The app with its places, keys and looks."""

    TITLE = "Benchleaf"
    CSS_PATH = HERE / "benchleaf.tcss"
    ENABLE_COMMAND_PALETTE = True
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {place.mode: place.make for place in PLACES}
    DEFAULT_MODE = "home"
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(APP),
        # What hands expect of a list and of help. A line that is typed in takes these letters for itself.
        Binding("question_mark", "help_here", show=False),
        Binding("j,J", "simulate_key('down')", show=False),
        Binding("k,K", "simulate_key('up')", show=False),
    ]

    def __init__(self, *given: Any, **clocks: Any) -> None:
        super().__init__(*given, **clocks)
        for theme in THEMES:
            self.register_theme(theme)
        # Assigning would parse every rule twice more before the first paint.
        self.set_reactive(App.theme, DEFAULT)
        self.stylesheet.set_variables(self.get_css_variables())
        self.set_class(self.current_theme.dark, "-dark-mode", update=False)
        self.set_class(not self.current_theme.dark, "-light-mode", update=False)
        self._was_painted = False

    # -- the studio ------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Draw first, open the index afterwards."""
        self.set_interval(TICK_S, self.tick)
        self.call_after_refresh(self.first_painted)

    def first_painted(self) -> None:
        """What the first paint can do without."""
        self._was_painted = True
        self.stylesheet.read(LATER_CSS)
        self.refresh_css(animate=False)
        self.open_studio()

    def refresh_css(self, animate: bool = True) -> None:
        """Not before the first paint: a widget takes its rules as it is mounted, so all were parsed twice."""
        if self._was_painted:
            super().refresh_css(animate)

    def open_studio(self) -> None:
        """Open the index in a thread and tell the screen."""
        self.run_worker(self._open, thread=True, exclusive=True, group="open", exit_on_error=False)

    def _open(self) -> None:
        from kb.desk.making.steps import kept_timers

        trouble = ""
        timers: dict[str, KeptTimer] = {}
        looks = None
        try:
            notice = partial(self.call_later, self.say, title="The bench book", warn=True)
            self.desk(lambda studio: setattr(studio, "notice", notice))
            settings = self.desk(lambda studio: studio.settings)
            self.invented, self.studio_name = settings.invented, settings.name
            self.settings_dials = settings.dials
            timers = self.desk(kept_timers)
            looks, kept, self.empty_book = self.desk(_remembered)
            self.nobody_writes = not (settings.invented or settings.who)
            self.drafts = kept | self.drafts
        except Exception as error:
            trouble = in_words(error)
        self.call_from_thread(self._opened, trouble, timers, looks)

    def _opened(self, trouble: str, timers: dict[str, KeptTimer], looks: Memory | None) -> None:
        self.timers.take_up(timers)
        if looks is not None:
            from kb.tui.going_on import as_it_was

            as_it_was(self, looks)
        # Only now: whoever waits for it would else open a form under what is still to be put on top.
        self.opened = not trouble
        if self.settings_wanted and self.opened:
            self.action_settings()
        self.settings_wanted = False
        for screen in every_screen(self):
            self._title_anew(screen)
            screen.post_message(StudioOpened(trouble))

    def watch_theme(self, theme: str) -> None:
        """The colours are those of the next start too."""
        if self.opened:
            from kb.desk.memory import remember

            remember(self.studio.root, theme=theme)

    def pop_screen(self) -> AwaitComplete:
        """Take the top screen away, and what was painted of it."""
        forget_painted()
        left, done = self.screen, super().pop_screen()
        if left is self.leads_back:
            self.switch_mode(self.came_from)
        return done

    # -- the clock -------------------------------------------------------------------------------

    def tick(self) -> None:
        """Show what runs, and ring once when an aim is reached, whichever screen is shown."""
        if not self.screen_stack:
            # The app is closing: there is no screen any more.
            return
        if not (self.clock.running or self.timers.any_runs):
            # Away with the time of a clock that no longer runs, also where it ran out on another screen.
            self._title_anew(self.screen, timing=True)
            return
        self._title_anew(self.screen)
        for about in self.timers.due():
            self.ring(f"{about}: the time is reached.", title="Timer")
        if self.clock.running and self.clock.due():
            self.ring("The dwell you aimed at is reached.", title="Dwell clock")

    def _title_anew(self, screen: Screen[Any], *, timing: bool = False) -> None:
        """``timing``: only where the time of a clock stands."""
        from kb.tui.widgets.frame import TitleBar

        for bar in screen.query(TitleBar):
            if bar.timing or not timing:
                bar.refresh_words()

    # -- getting about ---------------------------------------------------------------------------

    def action_help_here(self) -> None:
        from kb.tui.screens.note import HelpScreen

        screen = self.screen
        if isinstance(screen, HelpScreen):
            screen.dismiss(None)
            return
        words = getattr(screen, "TITLE_WORDS", "")
        text = getattr(screen, "HELP", "")
        if text:
            self.push_screen(HelpScreen(words, text))

    async def action_show_shelf(self) -> None:
        """What this studio holds and forbids, over the materials."""
        from kb.tui.going_on import found_over
        from kb.tui.screens.shelf.shelf import ShelfScreen

        if not await found_over(self, "materials", ShelfScreen):
            self.push_screen(ShelfScreen())

    async def action_show_pool(self) -> None:
        """Counts of other studios, over the shelf."""
        from kb.tui.going_on import found_over
        from kb.tui.screens.pool.pool import PoolScreen
        from kb.tui.screens.shelf.shelf import ShelfScreen

        if await found_over(self, "materials", PoolScreen):
            return
        await self.action_show_shelf()
        if isinstance(self.screen, ShelfScreen):
            self.screen.action_others()

    async def action_show_batches(self) -> None:
        from kb.tui.going_on import at, found_over
        from kb.tui.screens.making.batches import BatchesScreen

        if not await found_over(self, "recipes", BatchesScreen):
            at(self, "recipes", "action_batches")

    def action_show_sheet(self) -> None:
        from kb.tui.screens.sheet.sheet_choice import show_sheet

        show_sheet(self)

    def action_go(self, mode: str) -> None:
        """To one of the places; to that of sheets with the one that is meant."""
        if mode != SHEET:
            self.switch_mode(mode)
            return
        from kb.tui.screens.sheet.sheet_choice import show_faces

        show_faces(self)

    def switch_mode(self, mode: str) -> AwaitMount:
        """Show a place. What lies over the one that is left and holds nothing typed is closed."""
        if mode == SHEET:
            self.in_hand = "sheet"
        if mode != self.current_mode and mode == SHEET:
            self.came_from = self.current_mode
        while self.screen_stack and getattr(self.screen, "passing", False):
            self.screen.dismiss(None)
        return super().switch_mode(mode)

    def put_into_question(self, put: Callable[[Asked], None]) -> None:
        """Fill blanks of the question with what was found, and show it."""
        from kb.tui.screens.choose.home import HomeScreen

        for screen in self.screens_at("home"):
            if isinstance(screen, HomeScreen):
                screen.take(put)
        self.switch_mode("home")
        if not isinstance(self.screen, HomeScreen):
            self.say("The question is filled in; you see it when you leave this form.")

    @property
    def unstored(self) -> str:
        """What is typed on a form and written down nowhere but there; empty if there is nothing."""
        if self.draft is not None and self.draft.dirty:
            return "A spot test on the form"
        return next((words for one in every_screen(self) if (words := getattr(one, "unstored", ""))), "")

    def action_drafts(self) -> None:
        from kb.tui.going_on import go_on

        go_on(self)

    def action_tour(self) -> None:
        from kb.tui.screens.welcome import tour

        tour(self)

    def action_settings(self) -> None:
        from kb.tui.screens.settings import SettingsScreen

        if not self.opened:
            self.settings_wanted = True
            self.say(
                "The studio is not open yet. The settings come with it; what is typed until then is lost."
            )
        elif not isinstance(self.screen, SettingsScreen):
            self.push_screen(SettingsScreen())

    def action_take_back(self) -> None:
        from kb.tui.going_on import take_back

        take_back(self)

    def action_copy_value(self) -> None:
        from kb.tui.going_on import value_here

        if value := value_here(self.focused):
            self.copy_to_clipboard(value)
            self.say(f"Copied: {value}")

    async def action_quit(self) -> None:
        """Leave; ask first while something is written down nowhere but here."""
        kept = "{} is not stored yet. It is kept as a draft: Ctrl+B goes on with it, also at the next start."
        said = [kept.format(self.unstored)] if self.unstored else []
        said += [words for one in every_screen(self) if (words := getattr(one, "unkept", ""))]
        if not said:
            self.exit()
            return
        from kb.tui.screens.note import AskScreen

        if isinstance(self.screen, AskScreen):
            return
        answers = (("s", "stay", "Stay"), ("l", "leave", "Leave without storing"))
        asked = AskScreen("Leave Benchleaf", " ".join(said), answers)
        self.push_screen(asked, lambda answer: self.exit() if answer == "leave" else None)

    def action_help_quit(self) -> None:
        self.say("Ctrl+Q leaves Benchleaf. Ctrl+C copies text that is marked.")

    def action_command_palette(self) -> None:
        """Open the palette, once; without an id, which one that is just closing may still bear."""
        from kb.tui.palette import Palette

        if not any(isinstance(screen, Palette) for screen in self.screen_stack):
            self.push_screen(Palette())

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Every action of this screen and of the app, for the palette."""
        from kb.tui.palette import commands

        yield from commands(self, screen)
        if not hasattr(screen, "action_shelf"):
            says = "What this studio holds and forbids, and its bottles (key: H in the materials)"
            yield SystemCommand("Shelf", says, self.action_show_shelf)
        # They lie over a place, and nobody finds the key before the place.
        says = "Counts of tests that other studios gave (key: O on the shelf)"
        yield SystemCommand("Pool of other studios", says, self.action_show_pool)
        says = "What was made up, what expires, labels (key: L in Make)"
        yield SystemCommand("Batches and labels", says, self.action_show_batches)
        from kb.tui.screens.long_work import keeping
        from kb.tui.screens.sheet.sheet_choice import work_commands

        yield from work_commands(self, screen)
        yield from keeping(self)


def _remembered(studio: Studio) -> tuple[Memory, dict[str, Draft], bool]:
    from kb.desk.drafts import drafts
    from kb.desk.memory import memory
    from kb.desk.records.record import book_size

    return memory(studio.root), drafts(studio.root), not book_size(studio)[0]
