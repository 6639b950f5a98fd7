"""Pressing and drying of one sheet, step by step, with ticks and timers for the blotters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.app import ComposeResult
from textual.widgets import OptionList, Static

from kb.book.kinds.mend import JOBS
from kb.desk.making.steps import timer_key
from kb.desk.signs import Signs
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.clock import Timers
from kb.tui.screens.making.at_work import AtWork, StepsPane
from kb.tui.screens.making.recipe_words import DAY_MIN, HOUR_MIN, Line, step_lines, time_words
from kb.tui.text import line
from kb.tui.widgets.frame import TAKES_BACK

if TYPE_CHECKING:
    from kb.desk.making.steps import StepsState, Work
    from kb.desk.records.record import Written
    from kb.desk.sheet.press import Pressing
    from kb.desk.studio import Studio

PRESS = (
    Act("timer", "t", "Timer", "Start or pause the timer of the step under the cursor"),
    Act("store", "s", "Store", "All steps are ticked: write into the book that it was pressed"),
    Act("start_over", "z", "Untick", "Take all ticks and timers of this plan back"),
    Act("job('wash')", "w", "Wash", "The plan for drying after a wash"),
    Act("job('mend')", "m", "Mend", "The plan for pressing a mend"),
    Act("job('flatten')", "f", "Flatten", "The plan for flattening"),
    Act("job('hinge')", "h", "Hinge", "The plan for pressing a hinge"),
    Act("dismiss", "escape", "Back", "Back to the plan of the sheet"),
)


class PressScreen(AtWork):
    """The steps after one job; which job is chosen by its letter."""

    SAID = "#press-said"
    TITLE_WORDS = "Pressing and drying"
    nothing_typed = True
    """Ticks are on disk as they are made."""
    HELP = (
        "What lies on the sheet, for how long, and when the blotters change: after a wash, a mend, "
        "flattening or hinging. Each plan of each sheet has its own ticks.\n\n"
        "On a step: Space ticks it, once more takes the tick back; Down goes on. When the last is ticked, S "
        "writes into the book that it was pressed, which then stands in what was done. T starts the "
        "timer of the step; it rings at the shortest time, whatever screen is shown: then look at the "
        "blotters. Ticks are on disk at once; a timer that runs goes on while the program is closed, for "
        "instance overnight.\n\n"
        "The times are customary. The sheet decides: it is dry when it no longer feels cool.\n\n"
        f"{keys_in_words(PRESS)}\nSpace    Tick the step under the cursor"
    )
    BINDINGS = bindings(PRESS)
    CSS = """
    PressScreen #press-said { height: 1; padding: 0 1; color: $secondary; }
    PressScreen #press-lines { height: 1fr; padding: 0 1; }
    """

    def __init__(self, sheet: str, after: str = "") -> None:
        super().__init__()
        self.sheet = sheet
        self.after = after
        """The job; empty until it is known which is under way."""
        self.found: Pressing | None = None

    def body(self) -> ComposeResult:
        yield Static("", id="press-head", classes="heading", markup=False)
        yield Static("", id="press-said", markup=False)
        yield StepsPane("press-lines")

    def on_mount(self) -> None:
        """One stands on the steps; timers are drawn as they count."""
        self.pane.focus()
        self.set_interval(0.25, self.tick)
        self.look(first=True)

    def look(self, *, first: bool = False) -> None:
        verb = partial(fetch, sheet=self.sheet, after=self.after)
        self.ask(verb, partial(self._show, first=first), group="press", failed=self.tell)

    def _show(self, found: Pressing, *, first: bool = False) -> None:
        self.found, self.after = found, found.plan.after
        others = ", ".join(words for after, words in JOBS.items() if after != self.after)
        head = f"Pressing of {self.sheet} after {JOBS[self.after]}"
        self.query_one("#press-head", Static).update(line(head))
        self.tell(f"Also: after {others}")
        self.draw()
        if first:
            self.pane.go_to_step(found.state.next or 1)
        self.refresh_bindings()

    def draw(self) -> None:
        if self.found is not None:
            self.pane.put(self.found.state.recipe, list(lines(self.found, self.bench.timers)))

    @property
    def state(self) -> StepsState | None:
        return self.found.state if self.found is not None else None

    def work(self, key: str) -> Callable[[Studio], Work]:
        from kb.desk.sheet.press import work

        return partial(work, sheet=self.sheet, after=self.after)

    def about(self, step: int) -> str:
        """Of which sheet and step, and whether fresh blotters come next."""
        following = self.found.plan.steps[step : step + 1] if self.found is not None else ()
        blotters = " - change the blotters" if following and following[0].blotters else ""
        return f"{self.sheet}, step {step} of pressing{blotters}"

    @on(OptionList.OptionSelected, "#press-lines")
    def enter(self) -> None:
        self.action_tick_here()

    def _ticked(self, step: int, state: StepsState) -> None:
        if self.found is None or state.recipe != self.found.state.recipe:
            return
        if step:
            self.bench.timers.drop(timer_key(state.recipe, step))
        self._show(msgspec.structs.replace(self.found, state=state))
        if step and state.next:
            # The cursor stays: a second Space takes the tick back and ticks nothing not done yet.
            self.tell(f"Step {step} is ticked. Space takes it back; Down goes on to the next.")
        elif step:
            self.action_store()

    def action_store(self) -> None:
        """Write down that it was pressed, after asking: ticks are no record."""
        if self.found is not None:
            answers = (("l", "later", "Later; S does it"), ("s", "store", "Store it; the ticks come off"))
            text = f"All steps of pressing {self.sheet} after {JOBS[self.after]} are ticked."
            self.sure("Write into the book that it was pressed?", text, answers, self._store)

    def _store(self) -> None:
        from kb.desk.sheet.press import store

        self.ask(partial(store, sheet=self.sheet, after=self.after), self._stored, group="store")

    def _stored(self, written: Written) -> None:
        self.bench.say(f"Stored and on disk: pressing {written.id}. {TAKES_BACK}")
        self.look()

    def action_job(self, after: str) -> None:
        # Until it is there no key acts: one typed ahead ticked a step of the plan that was gone from.
        self.after, self.found = after, None
        self.look(first=True)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "job":
            return parameters != (self.after,)
        if action == "store":
            return self.found is not None and bool(self.found.state.ticked) and not self.found.state.next
        return action != "start_over" or self.begun


def lines(found: Pressing, timers: Timers) -> Iterator[Line]:
    """Steps first, then the whole, practice, and what the times rest on."""
    signs = Signs()
    for one in (*step_lines(found.state, timers), *_around(found)):
        yield one._replace(text=signs.short(one.text))
    if signs.key:
        yield Line(signs.key)


def _around(found: Pressing) -> Iterator[Line]:
    plan = found.plan
    yield Line("In all", head=True)
    changes = f"fresh blotters {plan.blotter_changes} times" if plan.blotter_changes > 1 else "blotters once"
    mark = f" ~ {plan.in_all.mark}" if plan.in_all.mark else ""
    yield Line(f"  {rough_words(plan.in_all.low or 0.0, plan.in_all.high or 0.0)}{mark}, {changes}")
    yield Line(f"  {plan.note}", hangs=2)
    yield Line("Mind", head=True)
    yield from (Line(f"  {rule.words}", hangs=2) for rule in plan.rules)


def rough_words(low_min: float, high_min: float) -> str:
    """``about 8 to 22 days``: a sum of customary times is no better known than that."""
    for unit, length in (("days", DAY_MIN), ("h", HOUR_MIN)):
        if high_min >= 2 * length:
            low, high = low_min / length, high_min / length
            return f"about {low:.0f} to {high:.0f} {unit}" if low >= 1 else f"up to about {high:.0f} {unit}"
    return time_words(low_min, high_min)


def fetch(studio: Studio, *, sheet: str, after: str) -> Pressing:
    """The plan after that job; without one of what is under way, or was done last, else of a wash."""
    from kb.desk.sheet.press import begun, last_done, pressing

    job = after or begun(studio, sheet) or last_done(studio, sheet) or next(iter(JOBS))
    return pressing(studio, sheet, job)
