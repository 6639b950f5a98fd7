"""Counts of other studios: who is in the pool, how much each weighs, and giving one's own."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING

from textual import getters, on
from textual.app import ComposeResult
from textual.widgets import Static

from kb.book.storage import from_home
from kb.desk.amounts import number
from kb.desk.errors import DeskError
from kb.science.numbers import counted, percent
from kb.tui.actions import FRESH, Act, bindings, keys_in_words
from kb.tui.day import today
from kb.tui.exports import EXPORTS
from kb.tui.screens.ask_why import stores
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.text import line
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.pool.pool import InPool, PoolView
    from kb.desk.studio import Studio

POOL = (
    Act("add", "a", "Add", "Take in a counts file of another studio"),
    Act("weigh", "w", "Weight", "Let this studio count less, or in full again"),
    Act("drop", "x", "Drop", "Take this studio out of the pool"),
    Act("give", "g", "Give", "Write the counts of the own book to a file for others"),
    FRESH,
    Act("dismiss", "escape", "Back", "Back to the shelf"),
)
ON_A_STUDIO = {"weigh", "drop"}
NOBODY = "No other studio is in the pool. A takes in a counts file that another studio gave you."
ADDING = (
    "A counts file holds how often each grade was given, and nothing of sheets or people. It is checked "
    "first and taken in whole or not at all."
)
GIVING = (
    "How often each grade was given on which tape, medium and paper: no sheets, people, dates, batches or "
    "remarks. A combination met once or twice can point to one object: 3 in the last line leaves it out."
)
COLUMNS = (
    Column("name", "Studio"),
    Column("state", "Counts", whole=True),
    Column("share", "Of the pool", figure=True),
    Column("tests", "Tests", figure=True),
    Column("looks", "Looks for harm", figure=True),
)


class PoolScreen(DeskScreen[None]):
    """A list of studios, and below it the row under the cursor in full."""

    SAID = "#pool-said"
    TITLE_WORDS = "Other studios"
    shows_only = True
    HELP = (
        "Counts of tests that other studios gave you. They weigh less than your own tests; where your own "
        "say otherwise they are held back, and the reasons of a row say so.\n"
        "A weight from 0 to 1 lets a studio count less: 0 is as if it were not there.\n\n"
        f"{keys_in_words(POOL)}"
    )
    BINDINGS = bindings(POOL)
    CSS = """
    PoolScreen #pool-head { padding: 0 1; }
    PoolScreen #pool-list { height: 1fr; padding: 0 1; }
    PoolScreen #pool-said { height: 8; padding: 0 1; border-top: solid $secondary; overflow-y: auto; }
    """

    listed = getters.query_one("#pool-list", Table)
    pool: PoolView | None = None

    def body(self) -> ComposeResult:
        yield Static("", id="pool-head", classes="heading", markup=False)
        yield Table(COLUMNS, id="pool-list", nothing=NOBODY, opens=False)
        yield Static("Reading the pool ...", id="pool-said", markup=False)

    @property
    def here(self) -> InPool | None:
        studios = self.pool.studios if self.pool else ()
        return next((one for one in studios if one.studio == self.listed.key_here), None)

    def on_mount(self) -> None:
        self.listed.focus()

    def action_fresh(self) -> None:
        self.ask(_look, self._show, group="pool", failed=self.tell)

    def _show(self, pool: PoolView) -> None:
        self.pool = pool
        tests = sum(one.release_tests for one in pool.studios)
        looks = sum(one.harm_tests for one in pool.studios)
        head = f"Other studios: {len(pool.studios) or 'none'}"
        if pool.studios:
            head += f"; {counted(tests, 'test')} of release, {counted(looks, 'look')} for harm"
        self.query_one("#pool-head", Static).update(line(head))
        self.listed.show(list(map(_row, pool.studios)))
        self._tell_row()
        self.refresh_bindings()

    @on(Table.RowHighlighted)
    def _tell_row(self) -> None:
        """The row in full, and what to mind of the whole pool."""
        if self.pool is None:
            return
        one = self.here
        said = [_in_full(one)] if one else []
        self.tell("\n".join([*said, *(f"! {text}" for text in self.pool.warnings)]))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return self.here is not None if action in ON_A_STUDIO else True

    # -- changing ---------------------------------------------------------------------------------

    def action_add(self) -> None:
        lines = (Asked("file", "File", "where the file is"),)
        self.app.push_screen(FewLines("Add a studio", lines, _add, says=ADDING), self.tell_done)

    def action_weigh(self) -> None:
        if one := self.here:
            lines = (Asked("weight", "Weight", "0 to 1", f"{one.weight:g}"),)
            says = f"{one.name}: 1 counts in full, 0 not at all."
            store = partial(_weigh, which=one.studio)
            self.app.push_screen(FewLines("Weight of a studio", lines, store, says=says), self.tell_done)

    def action_drop(self) -> None:
        if one := self.here:
            answers = (("k", "keep", "Keep it"), ("delete", "drop", f"Drop {one.name}"))
            drop = partial(self.ask, partial(_drop, which=one.studio), self.tell_done, group="change")
            self.sure("Out of the pool", "Its file can be added again.", answers, drop)

    def action_give(self) -> None:
        lines = (
            Asked("label", "Called", "what others shall call you; may be empty"),
            Asked("least", "At least", "tests in a row of counts; others stay", "1"),
        )
        self.app.push_screen(FewLines("Give your counts", lines, _give, says=GIVING), self.tell_done)


def _row(one: InPool) -> TableRow:
    state = "NOT COUNTED" if one.problem else f"weight {one.weight:g}"
    counts = (one.release_tests, one.harm_tests)
    cells = (one.name, state, percent(one.share), *(f"{count:,}" for count in counts))
    return TableRow(one.studio, cells, (one.name, state, one.share, *counts))


def _in_full(one: InPool) -> str:
    from kb.desk.pool.pool import held_words, unknown_words

    added = f", added {one.added}" if one.added else ""
    parts = [
        f"{one.name} ({one.studio[:8]}): {held_words(one.release_tests, one.harm_tests)}{added}; "
        f"weight {one.weight:g}, {percent(one.share)} of the pool."
    ]
    if one.problem:
        parts.append(f"Not counted: {one.problem}")
    elif one.weight and one.not_counted:
        parts.append(f"Not entering answers: {one.not_counted:,} of these counts.")
    if words := unknown_words(one):
        parts.append(f"{words[:1].upper()}{words[1:]}.")
    return " ".join(parts)


# -- in a thread -----------------------------------------------------------------------------------


def _look(studio: Studio) -> PoolView:
    from kb.desk.pool.pool import view

    studio.refresh()
    return view(studio)


@stores
def _add(studio: Studio, values: Mapping[str, str]) -> str:
    from kb.desk.pool.pool import add

    name = values["file"].strip()
    if not name:
        raise DeskError("Say where the file is.")
    (done,) = add(studio, [from_home(name)], today())
    if done.result == "refused":
        raise DeskError(done.text)
    return done.text


@stores
def _weigh(studio: Studio, values: Mapping[str, str], *, which: str) -> str:
    from kb.desk.pool.pool import weigh

    weight = number(values["weight"], "a weight from 0 to 1", 1)
    if weight is None:
        raise DeskError("A weight is a number from 0 to 1, for instance 0.5.")
    return weigh(studio, which, weight).text


def _drop(studio: Studio, *, which: str) -> str:
    from kb.desk.pool.pool import drop

    return drop(studio, which).text


@stores
def _give(studio: Studio, values: Mapping[str, str]) -> str:
    from kb.desk.pool.export import FEW, export

    least = values["least"].strip() or "1"
    if not least.isascii() or not least.isdigit():
        raise DeskError("The least number of tests in a row is a whole number, for instance 3.")
    studio.make()
    folder = studio.root / EXPORTS
    folder.mkdir(parents=True, exist_ok=True)
    done = export(studio, folder / "counts.json", label=values["label"], at_least=int(least))
    rows, rare = done.release_rows + done.harm_rows, counted(done.rare_rows, "row")
    said = f"The file is {EXPORTS}/counts.json in the studio's folder: {counted(rows, 'row')}."
    again = f"can point to one object; G again with at least {FEW} leaves them out."
    # A notice holds three lines on a low screen: what was left out stood there, and not what to mind.
    return f"{said} Mind: {rare} of fewer than {FEW} tests {again}" if done.rare_rows else said
