"""Work that goes in steps, of a recipe or of a pressing: ticks, timers, and taking all of them back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from kb.desk.making.steps import timer_key
from kb.science.numbers import counted
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.making.recipe_pane import StepsPane
from kb.tui.screens.making.recipe_words import NO_TIME, aim_s
from kb.tui.widgets.frame import TitleBar

if TYPE_CHECKING:
    from kb.desk.making.steps import StepsState

Verb = Callable[..., Any]
Verbs = tuple[Verb, Verb, Verb, Verb]


class AtWork(DeskScreen[None]):
    """A screen of work in steps."""

    @property
    def pane(self) -> StepsPane:
        return self.query_one(StepsPane)

    @property
    def state(self) -> StepsState | None:
        """How far the work has got; None while none is open."""
        raise NotImplementedError

    @property
    def verbs(self) -> Verbs:
        """Tick, untick, start over and keep a timer at the desk, for the work that is open."""
        raise NotImplementedError

    @property
    def begun(self) -> bool:
        """Whether there is a tick or a timer to be taken back."""
        return self.state is not None and bool(self.state.ticked or self.bench.timers.of(self.state.recipe))

    def about(self, step: int) -> str:
        """What the bell says of a step."""
        raise NotImplementedError

    def draw(self) -> None:
        """The lines as they stand, with what the timers show."""
        raise NotImplementedError

    def _ticked(self, step: int, answer: Any) -> None:
        """Show what was ticked; step 0 where a tick was taken back."""
        raise NotImplementedError

    def tick(self) -> None:
        """Draw the timers while one counts."""
        if self.bench.timers.any_runs and self.is_active:
            self.draw()

    def action_tick_here(self) -> None:
        here, state = self.pane.here, self.state
        if state is None or here is None or not here.step:
            self.bench.say("Stand on a step to tick it.")
            return
        done = here.step not in state.ticked
        tick, untick, *_ = self.verbs
        verb = partial(tick if done else untick, step=here.step)
        self.ask(verb, partial(self._ticked, here.step if done else 0), group="tick")

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
        keep = partial(self.verbs[-1], step=here.step, timer=self.bench.timers.kept(key))
        self.ask(keep, lambda _: None, group=f"timer {key}")
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
            self.ask(self.verbs[2], partial(self._ticked, 0), group="tick")
