"""Making up: find a recipe, say how much, follow its steps with timers and ticks, write down the batch."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, get_args

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Input, OptionList, Static

from kb.desk.errors import DeskError
from kb.desk.making.recipe import make, recipe, recipes, steps_state, work
from kb.desk.making.steps import timer_key
from kb.desk.materials import lookup
from kb.model.recipe import HowOften
from kb.science.numbers import counted
from kb.tui.actions import FIND, Act, bindings, keys_in_words
from kb.tui.day import today
from kb.tui.inside_textual import keyed
from kb.tui.screens.making.at_work import AtWork, StepsPane
from kb.tui.screens.making.recipe_words import Opened, lines
from kb.tui.screens.materials.marks import Owning
from kb.tui.text import line
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.plain_input import FindLine, PlainInput
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.making.steps import StepsState, Work
    from kb.desk.studio import Studio
    from kb.tui.screens.making.batch_form import BatchDraft

EXAMPLES = '120 ml, 500 g, 0.5 m2, wheat starch 20 g, x 3, "12 mends of 60 x 8 mm"'
RECIPES = (
    FIND,
    Act("amount", "m", "Amount", f"How much to make, or what is at hand: {EXAMPLES}"),
    Act("timer", "t", "Timer", "Start or pause the timer of the step under the cursor"),
    Act("start_over", "z", "Untick", "Take all ticks and timers of this recipe back"),
    Act("batch", "b", "Batch", "Write down what was made of this recipe"),
    Act("batches", "l", "Batches", "What was made up, what expires, labels"),
    Act("own", "n", "New", "Write a recipe of your own", foot=False),
    Act("back", "escape", "Back", "From the recipe to the list, to the line to type in, to an empty line"),
)
ON_A_RECIPE = {"timer", "start_over", "batch"}
LETTERS = {"amount", "timer", "start_over", "batch", "batches", "find", "own"}
HINT = "Type part of the name of a recipe, in any spelling near it. With nothing typed all are listed."
AS_WRITTEN = "as written"
NOTHING = "No recipe is named like that. Try fewer letters."
HOW = (
    f"{HINT} Enter opens a recipe.\n\n"
    f"Amount: what it should make, or an ingredient at hand and how much: {EXAMPLES}. Empty: as "
    "written. Weights, volumes and parts are kept apart; what cannot be converted is named as not "
    "known.\n\n"
    "On a step: Space ticks it and goes on to the next, once more takes the tick back. Ticks are on disk "
    "at once and survive a restart. T starts and pauses the timer of the step; it rings at the shortest "
    "time that the step names, whatever screen is shown, and several may run. A timer that runs goes on "
    "while the program is closed. Times of steps do not grow with the amount.\n\n"
    "A batch keeps the recipe as it was used, what was really weighed, the water and the pH. Its label "
    "can be shown and written as a drawing (L, then P).\n\n"
    f"{keys_in_words(RECIPES)}\nSpace    Tick the step under the cursor\n"
    "Enter    Open the recipe, or the one that a line names"
)
COLUMNS = (Column("name", "Recipe", most=57), Column("kind", "Kind", whole=True, spare=True))


IN_NAME = (
    Binding("enter", "submit", "Open the marked one", key_display="Enter"),
    Binding("tab", "app.focus_next", "Amount", key_display="Tab"),
    Binding("down", "screen.into_list", "List", key_display="Down"),
)
IN_AMOUNT = (
    Binding("enter", "submit", "Make this much", key_display="Enter"),
    Binding("down", "screen.into_list", "Recipe", key_display="Down"),
)
"""Keys of the two lines, by which the foot says what ends them."""


class RecipesScreen(Owning, AtWork):
    """Find on the left, work on the right; on a narrow screen one after the other."""

    TITLE_WORDS = "Making up"
    HELP = HOW
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(RECIPES), Binding("down", "into_list", show=False)]
    CSS = """
    RecipesScreen #recipe-ask { height: 1; padding: 0 1; }
    RecipesScreen #recipe-ask Static { width: 6; }
    RecipesScreen #recipe-ask #amount-word { width: 9; padding: 0 0 0 1; }
    RecipesScreen #recipe-typed, RecipesScreen #recipe-amount { width: 1fr; }
    RecipesScreen #recipe-said { height: auto; max-height: 3; padding: 0 1; color: $secondary; }
    RecipesScreen #recipe-body { height: 1fr; }
    RecipesScreen #recipe-found { width: 2fr; height: 100%; padding: 0 1; }
    RecipesScreen #recipe-lines { width: 3fr; height: 100%; border-left: solid $secondary; padding: 0 1; }
    RecipesScreen.-narrow #recipe-lines { display: none; width: 1fr; border-left: none; }
    RecipesScreen.-narrow.-reading #recipe-lines { display: block; }
    RecipesScreen.-narrow.-reading #recipe-found { display: none; }
    """

    typed = getters.query_one("#recipe-typed", Input)
    amount = getters.query_one("#recipe-amount", Input)
    hits = getters.query_one("#recipe-found", Table)

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Found] = []
        self.opened: Opened | None = None
        self.counted = ""
        self.due = ""
        self.worked, self.stood = "", ""
        """The recipe that was opened last, by its id, and the amount as it stood for it."""

    def body(self) -> ComposeResult:
        with Horizontal(id="recipe-ask"):
            yield Static("Find ", markup=False)
            name = FindLine(id="recipe-typed", compact=True, placeholder="part of a name")
            yield keyed(name, *IN_NAME)
            yield Static("Amount ", id="amount-word", markup=False)
            much = PlainInput(id="recipe-amount", compact=True, placeholder="e.g. 120 ml, starch 20 g")
            yield keyed(much, *IN_AMOUNT)
        yield Static("", id="recipe-said", markup=False)
        with Horizontal(id="recipe-body"):
            yield Table(COLUMNS, id="recipe-found", nothing=NOTHING)
            yield StepsPane("recipe-lines")

    def on_mount(self) -> None:
        """One starts by typing; timers are drawn as they count."""
        self.set_focus(self.typed)
        self.set_interval(0.25, self.tick)

    def on_screen_resume(self) -> None:
        """The catalogue, the ticks and the batches may have changed meanwhile."""
        self.look(fresh=True)
        self.ask(due_words, self._due, group="due")
        if self.opened is not None:
            self._open(self.opened.recipe.id)

    # -- finding ----------------------------------------------------------------------------------

    def look(self, *, fresh: bool = False) -> None:
        self.ask(partial(find, text=self.typed.value, fresh=fresh), self._found, group="find")

    def _found(self, found: list[Found]) -> None:
        same, self.found = found == self.found, found
        named = any(not one.near for one in found)
        self.counted = counted(len(found), "recipe")
        if found and not named:
            self.counted = "Nothing by that name; near in spelling (Down, Enter opens)"
        self._tell()
        if not (same and self.hits.row_count):
            rows = [TableRow(one.id, (one.name, one.category)) for one in found]
            self.hits.show(rows, found[0].id if named else "", nowhere=not named)

    def _due(self, words: str) -> None:
        self.due = words
        self._tell()

    def _tell(self, trouble: str = "") -> None:
        """What went wrong, else what is open, how many were found and what expires."""
        opened = self.opened
        said = [trouble or (opened.trouble if opened else "")]
        if opened and self.has_class("-reading"):
            said.append(opened.recipe.name)
        else:
            said.append(self.counted)
        said.append(self.due)
        self.query_one("#recipe-said", Static).update(line(". ".join(one.rstrip(".") for one in said if one)))

    def desk_failed(self, words: str) -> None:
        self._tell(words)
        super().desk_failed(words)

    @on(Input.Changed, "#recipe-typed")
    def typing(self) -> None:
        self.look()

    @on(Input.Submitted, "#recipe-typed")
    @on(Table.RowSelected)
    def open_here(self) -> None:
        """Open the recipe under the cursor, which is the first while one types."""
        if here := self.hits.key_here:
            self._open(here, focus=True)

    @on(Table.RowHighlighted)
    def preview(self) -> None:
        """On a wide screen the recipe under the cursor is shown beside the list."""
        if self.has_class("-wide") and not self.has_class("-reading") and self.hits.key_here:
            self._open(self.hits.key_here)

    # -- one recipe -------------------------------------------------------------------------------

    def _open(self, recipe_id: str, *, focus: bool = False) -> None:
        verb = partial(opened, recipe_id=recipe_id, by=self.amount.value)
        self.ask(verb, partial(self._opened, focus=focus), group="open", failed=self._tell)

    def _opened(self, opened: Opened, *, focus: bool) -> None:
        new = self.opened is None or self.opened.recipe.id != opened.recipe.id
        self.opened = opened
        self.draw()
        if focus:
            self.add_class("-reading")
            self.call_after_refresh(self.pane.focus)
            if new and opened.state.ticked:
                self.pane.go_to_step(opened.state.next)
            if opened.recipe.id != self.worked and self.amount.value in {"", self.stood}:
                # Nobody typed an amount for this one; begun before, it has that of its ticks.
                self.amount.value = opened.state.by if opened.state.ticked else ""
            self.worked, self.stood = opened.recipe.id, self.amount.value
        self._tell()
        self.refresh_bindings()

    @on(Input.Changed, "#recipe-amount")
    def amount_changed(self) -> None:
        if self.has_class("-reading"):
            self.stood = self.amount.value
        if self.opened is not None:
            self._open(self.opened.recipe.id)

    @on(Input.Submitted, "#recipe-amount")
    def amount_done(self) -> None:
        """Enter: to the recipe, or open the one under the cursor in this amount."""
        if self.opened is not None and self.has_class("-reading"):
            self._open(self.opened.recipe.id, focus=True)
        else:
            self.stood = ""
            self.open_here()

    @on(OptionList.OptionSelected, "#recipe-lines")
    def follow(self) -> None:
        """Enter: tick a step; open the recipe that a line names."""
        here = self.pane.here
        if here is not None and here.step:
            self.action_tick_here()
        elif here is not None and here.recipe:
            self._open(here.recipe, focus=True)
        elif here is not None and here.more:
            self.note("Sources", here.more)

    @property
    def state(self) -> StepsState | None:
        return self.opened.state if self.opened is not None else None

    def action_tick_here(self) -> None:
        """A tick that says another amount than those before it asks first which is meant."""
        here, state, now = self.pane.here, self.state, self.amount.value.strip() or AS_WRITTEN
        was = state.by or AS_WRITTEN if state is not None else ""
        if here is None or state is None or here.step in {0, *state.ticked} or not state.ticked or was == now:
            super().action_tick_here()
            return
        from kb.tui.screens.note import AskScreen

        answers = (
            ("l", "", "Tick nothing yet"),
            ("t", "ticked", f"Go on with: {was}"),
            ("n", "now", f"From here on: {now}"),
        )
        text = f"The steps ticked so far were for: {was}. The amount now is: {now}."
        self.app.push_screen(AskScreen("For which amount?", text, answers), self._tick_for)

    def _tick_for(self, answer: str | None) -> None:
        if answer and self.state is not None:
            if answer == "ticked":
                self.amount.value = self.state.by
            super().action_tick_here()

    @property
    def by(self) -> str:
        return self.amount.value.strip()

    def work(self, key: str) -> Callable[[Studio], Work]:
        return partial(work, recipe_id=key)

    def about(self, step: int) -> str:
        return f"{self.state.name}, step {step}" if self.state is not None else ""

    def draw(self) -> None:
        if self.opened is not None:
            self.pane.put(self.opened.recipe.id, lines(self.opened, self.bench.timers))

    def _ticked(self, step: int, answer: StepsState) -> None:
        if self.opened is None or self.opened.recipe.id != answer.recipe:
            return
        self.opened = self.opened._replace(state=answer)
        self.draw()
        # Where something is ticked there is a key that takes it back.
        self.refresh_bindings()
        if step:
            self.bench.timers.drop(timer_key(answer.recipe, step))
            self.draw()
            later = (number for number in range(step, len(answer.steps) + 1) if number not in answer.ticked)
            self.pane.go_to_step(next(later, answer.next))

    # -- batches ----------------------------------------------------------------------------------

    def action_batch(self) -> None:
        from kb.tui.screens.making.batch_form import begin

        if self.opened is not None:
            self.ask(partial(begin, opened=self.opened), self._begun, group="batch")

    def _begun(self, draft: BatchDraft, name: str = "") -> None:
        from kb.desk.drafts import restored
        from kb.tui.screens.making.batch_form import FORM, BatchDraft, BatchFormScreen

        def ours(values: Any) -> bool:
            begun = restored(values, BatchDraft)
            return begun is not None and (begun.recipe, begun.name) == (draft.recipe, draft.name)

        name, kept = (name, draft) if name else self.bench.draft_like(FORM, ours)
        self.app.push_screen(BatchFormScreen(restored(kept, BatchDraft) or draft, name), self._recorded)

    def _recorded(self, batch_id: str | None) -> None:
        if batch_id:
            self.action_batches(batch_id)

    def action_batches(self, at: str = "") -> None:
        from kb.tui.screens.making.batches import BatchesScreen

        self.app.push_screen(BatchesScreen(at))

    def kind_here(self) -> str:
        return "recipe"

    # -- getting about ----------------------------------------------------------------------------

    def action_find(self) -> None:
        self.remove_class("-reading")
        self.typed.focus()

    def action_amount(self) -> None:
        self.amount.focus()

    def action_into_list(self) -> None:
        if isinstance(self.focused, Input):
            target = self.pane if self.has_class("-reading") else self.hits
            if target is self.hits and not self.hits.key_here:
                # Nothing bears the name that was typed: whoever goes down chooses the nearest.
                self.hits.action_end()
            target.focus()

    def action_back(self) -> None:
        if self.focused is self.amount and self.has_class("-reading"):
            self.pane.focus()
        elif self.has_class("-reading"):
            self.remove_class("-reading")
            self.hits.focus()
            self._tell()
        elif self.focused is self.typed:
            self.typed.value = ""
        else:
            self.typed.focus()
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if isinstance(self.focused, Input) and action in LETTERS:
            return False
        if action in ON_A_RECIPE:
            if self.opened is None or not (self.has_class("-wide") or self.has_class("-reading")):
                return False
            return action != "start_over" or self.begun
        return True


AT_MOST = 40
OFTEN: tuple[HowOften, ...] = get_args(HowOften)


class Found(NamedTuple):
    """One recipe in the list."""

    id: str
    name: str
    category: str
    made: HowOften = "sometimes"
    near: bool = False
    """Only the spelling is alike."""


def find(studio: Studio, *, text: str, fresh: bool) -> list[Found]:
    """Recipes that fit what is typed; all of them while nothing is. What is made every day comes first.

    Where a recipe or its kind is called so, those that only speak of it are left out: who looks for paste
    wants no bleach that is rinsed before pasting.
    """
    if fresh:
        studio.refresh()
    words = text.casefold().split()
    known: dict[str, Found] = {}
    called: dict[str, Found] = {}
    for one in sorted(recipes(studio), key=lambda one: (OFTEN.index(one.made), one.name.casefold())):
        known[one.id] = found = Found(one.id, one.name, one.category, one.made)
        names = " ".join((one.name, one.category, *one.also)).casefold()
        if all(f" {word}" in f" {names}" for word in words):
            called[one.id] = found
    if not words:
        return [*known.values()]
    hits = lookup.find(studio, text, ("recipe",), AT_MOST)
    if not called:
        return [known[one.id]._replace(near=one.near) for one in hits if one.id in known]
    likely = {one.id: place for place, one in enumerate(hits)}

    def order(one: Found) -> tuple[bool, int, int]:
        whole = one.name.casefold() == text.strip().casefold()
        return not whole, OFTEN.index(one.made), likely.get(one.id, AT_MOST)

    return sorted(called.values(), key=order)


def opened(studio: Studio, *, recipe_id: str, by: str) -> Opened:
    """A recipe in the amount that is wanted; as written, with the reason, if it cannot be had so."""
    known = recipe(studio, recipe_id).recipe
    state = steps_state(studio, recipe_id)
    if not known.ingredients:
        return Opened(known, None, state)
    try:
        return Opened(known, make(studio, recipe_id, by), state)
    except DeskError as error:
        trouble = f"Shown as written: {error}"
        return Opened(known, make(studio, recipe_id), state, trouble)


def due_words(studio: Studio) -> str:
    """How many batches expire or must not be used; empty if none does."""
    from kb.desk.making.batches import expiring

    due = len(expiring(studio, today()))
    return f"{counted(due, 'batch', 'batches')} to look at (L)" if due else ""
