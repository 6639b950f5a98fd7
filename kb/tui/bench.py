"""What a screen may ask of the app, and nothing else: the studio, words to the user, what outlives a screen.

Screens know this class; the app that builds on it knows the screens. So the two do not import each other.
What every screen may rely on:

* ``studio`` is used under ``desk_lock`` and in a thread only; ``desk(verb)`` sees to the lock.
* a screen has ``HELP`` (what F1 shows) and ``TITLE_WORDS``, and refreshes in ``on_screen_resume``; its
  ``body`` stands between the two lines of :class:`kb.tui.screens.at_desk.DeskScreen`.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from threading import RLock
from time import time
from typing import TYPE_CHECKING, Any, Literal, TypeVar, cast

from textual import events
from textual.app import App
from textual.message import Message
from textual.message_pump import MessagePump

from kb.tui.actions import LEADING, key_name
from kb.tui.clock import DwellClock, Timers, passing_s
from kb.tui.inside_textual import desktop_notice, every_screen, forget_notices, screens_at
from kb.tui.text import tidy, without_commands

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.drafts import Draft as KeptDraft
    from kb.desk.studio import Studio
    from kb.model.question import Dials
    from kb.tui.screens.choose.asked import Asked
    from kb.tui.screens.identify.looking import Looked
    from kb.tui.screens.records.draft import Draft
    from kb.tui.screens.sheet.comparing import Comparing

T = TypeVar("T")
SPOT = "spot-test"
"""Under which the draft of a spot test is kept."""
ASIDE = f"{SPOT}-aside-"
"""Before the number of one that was put aside for another."""
WIDTHS = [(0, "-narrow"), (100, "-wide")]
HEIGHTS = [(0, "-low"), (32, "-high")]
"""Classes of a screen by its columns and rows; the stylesheet lays out by them."""
OPEN = "Close what is open first; Esc does."
NEAR = 4
"""Names near in spelling that a screen lists."""
PLACE = "-0123456789"
"""Stands behind the name of a draft where more than one of a form were left."""


class StudioOpened(Message):
    """The index is open; ``trouble`` says in words what is wrong, empty if nothing is."""

    def __init__(self, trouble: str = "") -> None:
        self.trouble = trouble
        super().__init__()


class Bench(App[None]):
    """The app as its screens see it. ``now`` is the time function of clocks, ``wall`` the time of day, in s.

    Instead of a studio a function that makes one may be given; it is called after the first paint.
    """

    HORIZONTAL_BREAKPOINTS = WIDTHS
    VERTICAL_BREAKPOINTS = HEIGHTS

    open_studio: Callable[[], None]
    """Open the index in a thread and tell the screens by :class:`StudioOpened`."""
    put_into_question: Callable[[Callable[[Asked], None]], None]
    """Fill blanks of the question with what was found, and show it."""

    def __init__(
        self,
        studio: Studio | Callable[[], Studio],
        *,
        now: Callable[[], float] = passing_s,
        wall: Callable[[], float] = time,
    ) -> None:
        super().__init__()
        self._given = studio
        self.desk_lock = RLock()
        """Held by whoever uses the studio; never taken in the thread that draws."""
        self.opened = False
        self.settings_wanted = False
        """Whether settings were asked for before the studio was open: they come with it."""
        self.invented = False
        self.studio_name = ""
        self.dials: Dials | None = None
        """None until the user turns one: the studio's own settings hold."""
        self.settings_dials: Dials
        """The studio's own; there once it is opened."""
        self.clock = DwellClock(now)
        self.timers = Timers(now, wall)
        self.draft: Draft | None = None
        """The spot test that is being written and not yet stored."""
        self.stored_draft: tuple[str, Draft] | None = None
        """The spot test that was stored last, by its id: taken back, it is on the form again."""
        self.comparing: Comparing | None = None
        """Photographs that are compared in the background; None until the first are."""
        self.looked: Looked | None = None
        """What was seen of the tape that is to be identified; None until one looks."""
        self.first_words = False
        """Whether a start offers, once, what there is to do, and asks who writes if nobody has said so."""
        self.nobody_writes = False
        """Whether nobody has said who writes."""
        self.empty_book = False
        self.gloves = False
        """Fewer and larger aims, for hands in gloves."""
        self.came_from = "home"
        """The place one was at before that of sheets."""
        self.leads_back: Screen[Any] | None = None
        """A screen of a sheet that was opened from another place: whoever leaves it is back there."""
        self.sheet_before = ""
        """The sheet that was last asked for by its name, also before the program was started."""
        self.new_sheet = ""
        """The name last chosen as that of a new sheet, where those near in spelling stood beside it."""
        self.in_hand: Literal["question", "sheet", "nothing"] = "question"
        """What was touched last and baths are planned for; nothing once that was cleared."""
        self.drafts: dict[str, KeptDraft] = {}
        """Forms that were begun and not stored, as they lie on disk; the one written last first."""

    async def on_event(self, event: events.Event) -> None:
        """A key that the screen is deaf to reaches no line of it; what waits for settings is for no other."""
        typed = isinstance(event, events.Key) and not event.is_forwarded and bool(self.screen_stack)
        if typed and self.settings_wanted and not self.opened and getattr(event, "is_printable", False):
            return
        if not typed or getattr(self.screen, "hears", lambda _: True)(event):
            if isinstance(event, events.Key) and typed and self._waits(event.key):
                self.say(f"{key_name(event.key)}: {OPEN}")
            await super().on_event(event)

    def _waits(self, key: str) -> bool:
        """Whether a key would lead elsewhere and must not: what lies on top is to be answered first."""
        leads = next((name.partition("(")[0] for name, own, *_ in LEADING if own == key), "")
        return bool(leads) and not (self.check_action(leads, ()) or key in self.screen.active_bindings)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What leads elsewhere waits until a pop-up is answered, unless that only greets."""
        over = self.screen_stack and self.screen.is_modal and not getattr(self.screen, "passing", False)
        return not (over and any(name.partition("(")[0] == action for name, *_ in LEADING))

    @property
    def studio(self) -> Studio:
        """The studio; made the first time it is asked for."""
        if callable(self._given):
            self._given = self._given()
        return self._given

    def desk(self, verb: Callable[[Studio], T]) -> T:
        """Do something at the desk, from a thread. Raises what the verb raises."""
        with self.desk_lock:
            return verb(self.studio)

    def keep_draft(self, form: str, says: str, values: Any, again: Any = None) -> None:
        """Have a form on disk as it is now. Called at every letter, so it waits for nothing."""
        from kb.desk.drafts import Draft, keep_draft

        if self.opened:
            keep_draft(self.studio.root, form, says, values, again)
        made = Draft(form=form, says=says, at="", values=values, again=again)
        self.drafts = {form: made, **{name: one for name, one in self.drafts.items() if name != form}}

    @property
    def size_classes(self) -> list[str]:
        """Those of WIDTHS and HEIGHTS that hold now."""
        limits = ((WIDTHS, self.size.width), (HEIGHTS, self.size.height))
        return [max(one for one in each if one[0] <= cells)[1] for each, cells in limits]

    @property
    def row_lines(self) -> int:
        """Lines of a row in a table: fingers in gloves want a larger aim."""
        return 2 if self.gloves else 1

    def keep_sheet(self, sheet: str) -> None:
        """Where a sheet is asked for the next time, one stands on this one."""
        if self.opened and sheet != self.sheet_before:
            from kb.desk.memory import remember

            remember(self.studio.root, sheet=sheet)
        self.sheet_before = sheet

    def drop_draft(self, form: str) -> None:
        """The form was stored, or thrown away."""
        from kb.desk.drafts import drop_draft

        if self.drafts.pop(form, None) is not None and self.opened:
            # "Kept as a draft" would else still be read.
            forget_notices(self)
            drop_draft(self.studio.root, form)

    def draft_like(self, stem: str, ours: Callable[[Any], bool]) -> tuple[str, Any]:
        """What was left of a form and is ours, None where nothing is; and the name to keep it under.

        What was left of another sheet or recipe keeps its own name.
        """
        kept = {name: one.values for name, one in self.drafts.items() if name.rstrip(PLACE) == stem}
        names = (stem, *(f"{stem}-{place}" for place in range(2, len(kept) + 2)))
        free = next(name for name in names if name not in kept)
        return next(((name, values) for name, values in kept.items() if ours(values)), (free, None))

    def put_test_aside(self) -> None:
        """The form is free for another spot test; what was typed there is kept among the drafts."""
        test, clock = self.draft, self.clock
        if test is not None and clock.running:
            clock.pause()
            test.clock_stopped(clock.elapsed_s)
            self.say(
                "Its clock ran, and was stopped: look at that dwell before you store the test.", warn=True
            )
        if test is not None and test.dirty:
            form = next(name for place in count(1) if (name := f"{ASIDE}{place}") not in self.drafts)
            self.keep_draft(form, f"{test.says}, put aside", test)
        self.free_the_form()

    def free_the_form(self) -> None:
        """Of the spot test that was stored, thrown away or put aside nothing is left on it."""
        self.draft = None
        self.drop_draft(SPOT)
        self.clock.reset()

    def say(self, text: str, *, title: str = "", warn: bool = False) -> None:
        """A short notice over the keys, never read as markup. The next takes its place, unless it warns."""
        if not warn:
            forget_notices(self)
        self.notify(
            tidy(f"{title}: {text}" if title else text),
            severity="warning" if warn else "information",
            markup=False,
            timeout=8,
        )

    def ring(self, text: str, *, title: str) -> None:
        """A time is reached: the bell, a notice, and one of the desktop."""
        self.bell()
        self.say(text, title=title, warn=True)
        # The title stands first: some terminals read a number at the start of the words as a command.
        desktop_notice(self, tidy(f"{title}: {text}", multiline=False))

    def screens_at(self, mode: str) -> tuple[Screen[Any], ...]:
        """The screens of a mode, the one on top last; none if it was not opened yet."""
        return screens_at(self, mode)

    def every_screen(self) -> tuple[Screen[Any], ...]:
        return tuple(every_screen(self))

    def action_go(self, mode: str) -> None:
        """To one of the places of :mod:`kb.tui.places`."""
        self.switch_mode(mode)


def app_of(node: MessagePump) -> Bench:
    """The app that the node belongs to."""
    return cast("Bench", node.app)


def in_words(error: BaseException) -> str:
    """What went wrong, for a person."""
    from kb.desk.errors import DeskError, Unclear

    if type(error) is Unclear and error.word not in {"id", "sheet"}:
        # By ids one asks the command again; here a name is typed, and six of either are a wall of words.
        listed = "; ".join(one.name for one in error.choices[:NEAR])
        near = f"; near in spelling: {listed}" if listed else ""
        meant = f"may mean {len(error.choices)}: {listed}. Type more of it" if error.borne else ""
        return tidy(f'{error.word} "{error.text}": {meant or f"nothing by that name{near}"}.')
    if isinstance(error, DeskError):
        return tidy(without_commands(str(error)))
    if isinstance(error, OSError) and error.strerror:
        place = f" ({error.filename})" if error.filename else ""
        return tidy(f"{error.strerror}{place}.")
    return tidy(f"{type(error).__name__}: {error}")
