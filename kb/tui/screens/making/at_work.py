"""Work that goes in steps, of a recipe or of a pressing: ticks, timers, and taking all of them back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from textwrap import wrap
from typing import ClassVar

from textual import getters
from textual.binding import Binding, BindingType
from textual.content import Content

from kb.desk.making import steps
from kb.desk.making.steps import StepsState, Work, timer_key
from kb.desk.studio import Studio
from kb.science.numbers import counted
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.making.recipe_words import NO_TIME, Line, aim_s
from kb.tui.text import tidy
from kb.tui.widgets.frame import TitleBar
from kb.tui.widgets.page import WIDEST
from kb.tui.widgets.two_clicks import ClickList


class StepsPane(ClickList):
    """Lines of some work. The cursor goes through all of them, so that all of them can be read."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "screen.tick_here", "Tick", key_display="Space")
    ]

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self.work = ""
        """Of which work the lines are."""
        self.lines: list[Line] = []

    @property
    def here(self) -> Line | None:
        return self.row_of(self.lines)

    def put(self, work: str, found: list[Line]) -> None:
        """Put lines here; of the same work the cursor stays on its line."""
        same = self.work == work
        old, here = self.lines, self.here
        self.work, self.lines = work, found
        if same and len(old) == len(found):
            self._renew(old)
            return
        step = here.step if same and here else 0
        first = next((place for place, one in enumerate(found) if one.step == (step or -1)), 0)
        self.fill(map(self._drawn, found), first if found else None)

    def on_resize(self) -> None:
        self._renew([])

    def _renew(self, old: list[Line]) -> None:
        for place, one in enumerate(self.lines):
            if not old or one != old[place]:
                self.replace_option_prompt_at_index(place, self._drawn(one))

    def _drawn(self, one: Line) -> Content:
        """What goes on in a next line stands under its own words and not under the tick."""
        room = min(WIDEST, self.scrollable_content_region.width or WIDEST)
        broken = wrap(tidy(one.text), max(20, room), subsequent_indent=" " * one.hangs)
        text = "\n".join(broken)
        return Content.styled(text, "bold") if one.head else Content(text)

    def go_to_step(self, number: int) -> None:
        """Stand on a step, if there is one of that number."""
        for place, one in enumerate(self.lines):
            if number and one.step == number:
                self.highlighted = place


class AtWork(DeskScreen[None]):
    """A screen of work in steps."""

    pane = getters.query_one(StepsPane)

    work: Callable[[str], Callable[[Studio], Work]]
    """The work that is open, known by its key, for the desk to look up."""
    about: Callable[[int], str]
    """What the bell says of a step."""
    draw: Callable[[], None]
    """The lines as they stand, with what the timers show."""
    _ticked: Callable[[int, StepsState], None]
    """Show what was ticked; step 0 where a tick was taken back."""

    @property
    def state(self) -> StepsState | None:
        """How far the work has got; None while none is open."""
        raise NotImplementedError

    @property
    def by(self) -> str | None:
        """The amount that is being made, for a tick to note."""
        return None

    @property
    def begun(self) -> bool:
        """Whether there is a tick or a timer to be taken back."""
        return self.state is not None and bool(self.state.ticked or self.bench.timers.of(self.state.recipe))

    def tick(self) -> None:
        if self.bench.timers.any_runs and self.is_active:
            self.draw()

    def action_tick_here(self) -> None:
        here, state = self.pane.here, self.state
        if state is None or here is None or not here.step:
            self.bench.say("Stand on a step to tick it.")
            return
        done = here.step not in state.ticked
        verb = partial(steps.tick, by=self.by) if done else steps.untick
        self._do(partial(verb, step=here.step), partial(self._ticked, here.step if done else 0), "tick")

    def action_timer(self) -> None:
        here, state = self.pane.here, self.state
        if state is None or here is None or not here.step:
            self.bench.say("Stand on a step to time it.")
            return
        if here.step in state.ticked:
            self.bench.say("This step is ticked. Space takes the tick back.")
            return
        key, aim = timer_key(state.recipe, here.step), aim_s(state.steps[here.step - 1])
        self.bench.timers.toggle(key, self.about(here.step), aim)
        keep = partial(steps.keep_timer, step=here.step, timer=self.bench.timers.kept(key))
        self._do(keep, lambda _: None, f"timer {key}")
        if aim is None:
            self.bench.say(NO_TIME)
        self.draw()
        self.refresh_bindings()
        self.query_one(TitleBar).refresh_words()

    def action_start_over(self) -> None:
        if self.state is not None and self.begun:
            answers = (("k", "keep", "Keep the ticks"), ("delete", "take", "Take them all back"))
            text = f"{counted(len(self.state.ticked), 'step')} of {self.state.name} ticked. Timers go too."
            self.sure("Take the ticks back?", text, answers, self._start_over)

    def _start_over(self) -> None:
        if self.state is not None:
            for key in self.bench.timers.of(self.state.recipe):
                self.bench.timers.drop(key)
            verb = partial(steps.start_over, by=self.by or "")
            self._do(verb, partial(self._ticked, 0), "tick")

    def _do(self, verb: Callable[..., StepsState], then: Callable[[StepsState], None], group: str) -> None:
        assert self.state is not None
        # Taken now: by the time that the desk comes to it another work may be open.
        work = self.work(self.state.recipe)
        self.ask(lambda studio: verb(studio, work(studio)), then, group=group)
