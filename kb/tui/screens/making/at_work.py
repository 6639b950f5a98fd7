"""What one does on a recipe that is open: its ticks, its timers, and the batch that comes of it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, cast

from textual.widgets import Input

from kb.desk.making.steps import timer_key
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.making import recipes_ask as desk
from kb.tui.screens.making.recipe_pane import RecipePane
from kb.tui.screens.making.recipe_words import NO_TIME, aim_s
from kb.tui.widgets.frame import TitleBar

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.making.steps import StepsState
    from kb.tui.screens.making.batch_draft import BatchDraft


class AtWork(AtDesk):
    """Mixed into the screen of recipes, which stays short enough to be read by it."""

    @property
    def pane(self) -> RecipePane:
        raise NotImplementedError

    @property
    def amount(self) -> Input:
        """How much is made."""
        raise NotImplementedError

    @property
    def _screen(self) -> Screen[Any]:
        return cast("Screen[Any]", self)

    def _ticked(self, step: int, state: StepsState) -> None:
        opened = self.pane.opened
        if opened is None or opened.recipe.id != state.recipe:
            return
        self.pane.show(opened._replace(state=state), self.bench.timers)
        # Where something is ticked there is a key that takes it back.
        self._screen.refresh_bindings()
        if step:
            self.bench.timers.drop(timer_key(state.recipe, step))
            self.pane.renew(self.bench.timers)
            later = (number for number in range(step, len(state.steps) + 1) if number not in state.ticked)
            self.pane.go_to_step(next(later, state.next))

    def action_timer(self) -> None:
        here, opened = self.pane.here, self.pane.opened
        if here is None or opened is None or not here.step:
            self.bench.say("Stand on a step to time it.")
            return
        step = opened.recipe.steps[here.step - 1]
        about = f"{opened.recipe.name}, step {here.step}"
        key = timer_key(opened.recipe.id, here.step)
        self.bench.timers.toggle(key, about, aim_s(step))
        keep = partial(
            desk.keep_timer, recipe_id=opened.recipe.id, step=here.step, timer=self.bench.timers.kept(key)
        )
        self.ask(keep, lambda _: None, group=f"timer {key}")
        if aim_s(step) is None:
            self.bench.say(NO_TIME)
        self.pane.renew(self.bench.timers)
        self._screen.query_one(TitleBar).refresh_words()

    def action_start_over(self) -> None:
        """Take all ticks back, after asking."""
        from kb.tui.screens.note import AskScreen

        opened = self.pane.opened
        if opened is not None and opened.state.ticked:
            answers = (("k", "keep", "Keep the ticks"), ("delete", "take", "Take them all back"))
            ticked = len(opened.state.ticked)
            text = f"{ticked} step{'s' * (ticked > 1)} of {opened.recipe.name} ticked."
            self._screen.app.push_screen(AskScreen("Take the ticks back?", text, answers), self._start_over)

    def _start_over(self, answer: str | None) -> None:
        opened = self.pane.opened
        if answer == "take" and opened is not None:
            self.bench.timers.drop_all(f"{opened.recipe.id}/")
            verb = partial(desk.start_over, recipe_id=opened.recipe.id, by=self.amount.value.strip())
            self.ask(verb, partial(self._ticked, 0), group="tick")

    # -- batches ----------------------------------------------------------------------------------

    def action_batch(self) -> None:
        """Write down what was made."""
        from kb.tui.screens.making.batch_form import begin

        opened = self.pane.opened
        if opened is not None:
            self.ask(partial(begin, opened=opened), self._begun, group="batch")

    def _begun(self, draft: BatchDraft) -> None:
        from kb.desk.drafts import restored
        from kb.tui.screens.making.batch_draft import BatchDraft
        from kb.tui.screens.making.batch_form import FORM, BatchFormScreen

        kept = self.bench.drafts.get(FORM)
        begun = restored(kept.values, BatchDraft) if kept is not None else None
        if begun is not None and (begun.recipe, begun.name) == (draft.recipe, draft.name):
            draft = begun
        self._screen.app.push_screen(BatchFormScreen(draft), self._recorded)

    def _recorded(self, batch_id: str | None) -> None:
        if batch_id:
            self.action_batches(batch_id)

    def action_batches(self, at: str = "") -> None:
        from kb.tui.screens.making.batches import BatchesScreen

        self._screen.app.push_screen(BatchesScreen(at))
