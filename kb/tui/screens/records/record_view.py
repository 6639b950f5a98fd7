"""Reading one record of the bench book, and correcting it from wherever it is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from kb.tui.actions import CORRECT, Act, bindings, keys_in_words
from kb.tui.drawing import grid
from kb.tui.screens.ask_why import AskWhy, stores, withdraw
from kb.tui.screens.at_desk import AtDesk, DeskScreen
from kb.tui.screens.records.amend import AmendScreen, Draft, draft_of
from kb.tui.screens.records.record_words import Described, described
from kb.tui.text import tidy

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

RECORD = (
    *CORRECT,
    Act("restore", "b", "Bring back", "This record was withdrawn by mistake: count it again, and say why"),
    Act("dismiss", "escape", "Back", "Back to the list"),
)
LABEL_WIDTH, WIDEST_LABEL = 14, 22
BESIDE = 38
"""Cells from which a pane is wide enough for one more column of parts."""
WITHDRAW_SAYS = (
    "{called}.\n\nThe record is taken out of all counts and plans. Nothing is erased: it stays readable, "
    "marked as withdrawn, with your reason, your name ({who}) and the time."
)
RESTORE_SAYS = (
    "{called}.\n\nThe record counts again. The withdrawal stays readable beside it, with your reason, your "
    "name ({who}) and the time."
)
WITHDRAWN_ALREADY = "This record is withdrawn already; its history says why."
SHORTEST_ID = 8
"""Letters and figures of an id that are taken for one; a label prints no fewer for people to read."""
NOT_WITHDRAWN = "This record is not withdrawn."


def laid_out(record: Described, beside: int = 1) -> RenderableType:
    """The record as headings and two columns. Text only: nothing stored can act as markup.

    ``beside``: over how many columns its parts are spread, each about as long as the others.
    """
    longest = max((len(label) for _, lines in record.sections for label, _ in lines), default=0)
    width = (
        min(WIDEST_LABEL, max(LABEL_WIDTH, longest)) if record.kind != "test" or beside == 1 else LABEL_WIDTH
    )
    columns: list[list[RenderableType]] = [[] for _ in range(beside)]
    total, before = sum(len(lines) + 1 for _, lines in record.sections), 0
    for heading, lines in record.sections:
        # By where its middle falls: order is kept, and no part is torn.
        place = (2 * before + len(lines) + 1) * beside // (2 * total)
        columns[place] += [Text(heading, style="bold"), two_columns(lines, width)]
        before += len(lines) + 1
    if beside == 1:
        return Group(*columns[0])
    table = Table.grid(padding=(0, 2), expand=True)
    for _ in columns:
        table.add_column(ratio=1)
    table.add_row(*(Group(*one) for one in columns))
    return table


def two_columns(lines: Iterable[tuple[str, str]], width: int = LABEL_WIDTH) -> Table:
    """Label and words, the words wrapped within their own column."""
    table = grid(width, 0)
    for label, words in lines:
        table.add_row(Text(tidy(label)), Text(tidy(words)))
    return table


class RecordPane(VerticalScroll):
    """A record to read; the arrow keys move the text. ``spread``: its parts beside each other, not below."""

    DEFAULT_CSS = """
    RecordPane { padding: 0 0 0 1; }
    RecordPane > Static { height: auto; width: 100%; padding: 0 1 0 0; }
    """

    def __init__(self, *, id: str, spread: bool = False) -> None:
        super().__init__(id=id)
        self._spread = spread
        self._record: Described | None = None

    def compose(self) -> ComposeResult:
        yield Static("", markup=False)

    def show(self, record: Described) -> None:
        self._record = record
        self._lay_out()
        self.scroll_home(animate=False)

    def _lay_out(self) -> None:
        if self._record:
            beside = max(1, self.size.width // BESIDE) if self._spread else 1
            self.query_one(Static).update(laid_out(self._record, beside))

    def on_resize(self) -> None:
        """A record may be there before the pane has its width."""
        self._lay_out()

    def say(self, words: str) -> None:
        self._record = None
        self.query_one(Static).update(Text(tidy(words)))


class Corrects(AtDesk):
    """Mixed into a screen that has a record in view: amend it, withdraw it."""

    record_in_view: Callable[[], str]
    corrected: Callable[[Written | None], None]
    """A correction was stored, or (None) was left alone."""

    def action_amend(self) -> None:
        if record_id := self.record_in_view():
            self.correct(record_id)

    def correct(self, record_id: str) -> None:
        """The same of a record that need not be in view, for a correction that was begun."""
        self.ask(partial(draft_of, record_id=record_id), self._amend, group="correct")

    def _amend(self, draft: Draft) -> None:
        self._push(AmendScreen(draft), "The correction is stored; what was first written stays beside it.")

    def action_withdraw(self) -> None:
        if record_id := self.record_in_view():
            verb = partial(_to_withdraw, record_id=record_id)
            self.ask(verb, self._withdraw, group="correct")

    def _withdraw(self, found: tuple[Described, str]) -> None:
        record, who = found
        if record.withdrawn:
            self.bench.say(WITHDRAWN_ALREADY, warn=True)
            return
        says = WITHDRAW_SAYS.format(called=record.told_apart, who=who)
        store = partial(withdraw, record.id)
        asked = AskWhy("Withdraw a record", says, "Withdraw it", store)
        self._push(asked, "The record is withdrawn; it stays readable.")

    def action_restore(self) -> None:
        if record_id := self.record_in_view():
            self.ask(partial(_to_withdraw, record_id=record_id), self._restore, group="correct")

    def _restore(self, found: tuple[Described, str]) -> None:
        record, who = found
        if not record.withdrawn:
            self.bench.say(NOT_WITHDRAWN, warn=True)
            return
        says = RESTORE_SAYS.format(called=record.told_apart, who=who)
        asked = AskWhy("Bring a record back", says, "Bring it back", partial(_bring_back, record.id))
        self._push(asked, "The record counts again; its withdrawal stays readable.")

    def _push(self, screen: AmendScreen | AskWhy, done: str) -> None:
        def answered(written: Written | None) -> None:
            if written is not None:
                self.bench.say(done)
            self.corrected(written)

        cast("Screen[Any]", self).app.push_screen(screen, answered)


def _to_withdraw(studio: Studio, record_id: str) -> tuple[Described, str]:
    return described(studio, record_id), studio.who


@stores
def _bring_back(record_id: str, studio: Studio, why: str) -> Written:
    from kb.desk.records.book_list import restore_record

    return restore_record(studio, record_id, why)


class RecordScreen(Corrects, DeskScreen[None]):
    """One record, everything in it, over the whole screen."""

    TITLE_WORDS = "A record of the bench book"
    HELP = (
        "Everything this record says, what it does not say, and every later correction with who, when and "
        "why. The arrow keys move the text.\n\n"
        "A kind of harm that is 'not looked at' never counts as no harm.\n"
        "A record is never changed or erased: a correction or a withdrawal stands beside it.\n\n"
        f"{keys_in_words(RECORD)}"
    )
    BINDINGS = bindings(RECORD)
    CSS = "RecordScreen #record-written { height: 1; padding: 0 1; text-wrap: nowrap; }"

    def __init__(self, record_id: str) -> None:
        super().__init__()
        self.record_id = record_id
        self.withdrawn = False

    def body(self) -> ComposeResult:
        yield Static("", id="record-called", classes="heading", markup=False)
        yield Static("", id="record-written", classes="quiet", markup=False)
        yield RecordPane(id="record-pane")

    def on_mount(self) -> None:
        self.query_one(RecordPane).focus()
        self.fetch()

    def fetch(self) -> None:
        self.ask(partial(_fresh, record_id=self.record_id), self._show, group="show", failed=self._missing)

    def _show(self, record: Described) -> None:
        self.withdrawn = record.withdrawn
        self.query_one("#record-called", Static).update(Text(tidy(record.in_short, multiline=False)))
        self.query_one("#record-written", Static).update(Text(tidy(record.by_whom, multiline=False)))
        self.query_one(RecordPane).show(record)
        self.refresh_bindings()

    def _missing(self, words: str) -> None:
        self.query_one(RecordPane).say(words)

    def record_in_view(self) -> str:
        return self.record_id

    def corrected(self, written: Written | None) -> None:
        self.fetch()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return self.withdrawn if action == "restore" else True


def open_scanned(screen: AtDesk, typed: str, otherwise: Callable[[], object]) -> None:
    """Open the record that bears this id, scanned or typed whole; where none does, go on otherwise."""
    text = typed.strip()
    if len(text) < SHORTEST_ID or not text.isalnum() or not any(map(str.isdigit, text)):
        otherwise()
        return

    from kb.desk.records import book_list

    def found(record: str) -> None:
        screen.bench.push_screen(RecordScreen(record))

    def no_record(_: str) -> None:
        otherwise()

    screen.ask(partial(book_list.record_id, start=text), found, group="scanned", failed=no_record)


def _fresh(studio: Studio, record_id: str) -> Described:
    studio.refresh()
    return described(studio, record_id)
