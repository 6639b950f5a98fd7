"""Batches: what was made up, what expires, labels, and where a batch went.

Batches in words, and the label written beside the book. Called in a thread, under the desk's lock.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import partial
from pathlib import Path
from typing import NamedTuple

from textual import getters, on
from textual.app import ComposeResult
from textual.widgets import Static

from kb.desk.errors import DeskError
from kb.desk.making import batches as desk
from kb.desk.making.batches import BatchView, Trace, facts
from kb.desk.records.record import Written
from kb.desk.studio import Studio
from kb.tui.actions import FRESH, Act, bindings, keys_in_words
from kb.tui.day import minute_of, today
from kb.tui.exports import EXPORTS
from kb.tui.screens.ask_why import AskWhy, stores, withdraw
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.records.record_words import kind_shown, where_used
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.table import Table

MOST_LABELS = 1000


class Listed(NamedTuple):
    """A batch in the list. ``due`` says why it stands on top; empty for the others."""

    batch: BatchView
    due: str

    @property
    def words(self) -> str:
        """The label and the name, where one is asked about it."""
        return f"{self.batch.short} {self.batch.name}"


def fetch(studio: Studio, *, day: date, finished: bool) -> list[Listed]:
    """Batches, those that are bad or go off first, then the newest."""
    studio.refresh()
    known = {one.id: one for one in desk.all_batches(studio, finished=finished)}
    due = {one.batch: one.what for one in desk.expiring(studio, day) if one.batch in known}
    first = [Listed(known[batch_id], what) for batch_id, what in due.items()]
    return first + [Listed(one, "") for one in known.values() if one.id not in due]


COLUMNS = (
    Column("name", "Batch"),
    Column("made", "Made on"),
    Column("by", "Use by"),
    Column("mind", "To look at"),
    Column("id", "Label"),
)


def row(one: Listed) -> TableRow:
    """What it is, its two days, what to look at, and the beginning of its id, which stands on its label."""
    batch = one.batch
    words = one.due.upper() or ("withdrawn" if batch.state == "withdrawn" else "")
    if batch.finished:
        words = f"used up {batch.finished}"
    cells = (batch.name, batch.made_at, batch.expires or "not known", words, batch.short)
    return TableRow(batch.id, cells)


def batch_lines(studio: Studio, *, batch_id: str) -> tuple[str, str]:
    """Heading and text: the batch with everything in it, and where it went."""
    found = desk.trace(studio, batch_id)
    return f"Batch {found.batch.short}", "\n".join((*_batch(found.batch), "", *_went(found)))


def _batch(one: BatchView) -> Iterator[str]:
    yield from (f"{label}: {text}" for label, text in facts(one))
    if not one.weights:
        yield "weighed: nothing was written down"
    yield f"written: {minute_of(one.at)} by {one.who}{f', {one.state}' if one.state else ''}"


def _went(found: Trace) -> Iterator[str]:
    if not (found.uses or found.made_into):
        yield "No record names this batch yet."
        return
    yield "Where it went"
    for into in found.made_into:
        yield f"- into batch {into.short}, {into.name}"
    yield from (f"- {kind_shown(use.kind)} {where_used(use)}" for use in found.uses)
    if found.sheets:
        yield f"Sheets: {', '.join(found.sheets)}"


def labelled(studio: Studio, *, batch_id: str) -> tuple[str, str]:
    """The text of a label, and where its drawing was written. A drawing that is there is not overwritten."""
    made = desk.label(studio, batch_id)
    folder = studio.root / EXPORTS
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeskError(f"The folder {folder} cannot be made ({error.strerror}).") from error
    for number in range(1, MOST_LABELS):
        path = folder / f"label-{made.short}{'' if number == 1 else f'-{number}'}.svg"
        if _holds(path, made.svg):
            return made.text, str(path)
        if not path.exists():
            desk.save_svg(made, path)
            return made.text, str(path)
    raise DeskError(f"There are too many drawings of this label in {folder}.")


def _holds(path: Path, svg: str) -> bool:
    try:
        return path.read_text(encoding="utf-8") == svg
    except (OSError, ValueError):
        return False


BATCHES = (
    Act("label", "p", "Label", "Show the label of this batch, and write it as a drawing to print"),
    Act("used_up", "u", "Used up", "This batch was used up or thrown away, today"),
    Act("bad", "d", "Bad", "This batch must not be used any more; say why"),
    Act("withdraw", "w", "Withdraw", "This batch was written down by mistake; say why"),
    Act("all", "a", "All", "Also those that were used up, or only those in use"),
    Act("dismiss", "escape", "Back", "Back to the recipes"),
    FRESH,
)
ON_A_ROW = {"label", "used_up", "bad", "withdraw"}
EMPTY = "No batch is in use. B on a recipe writes one down."


class BatchesScreen(DeskScreen[None]):
    """One list; Enter reads a batch with all the sheets it touched."""

    SAID = "#batch-said"
    TITLE_WORDS = "Batches"
    HELP = (
        "Everything that was made up and not yet used up: first what is bad, past its day or near it, then "
        "the rest, the newest first. The word in its row says which.\n\n"
        "Enter reads a batch: what was weighed, the recipe as it was used, and every test, reading and sheet "
        "that it touched, also through batches made from it. Nothing is erased: a correction stands beside "
        "the record.\n\n"
        f"{keys_in_words(BATCHES)}\nEnter    Read the batch, and where it went"
    )
    BINDINGS = bindings(BATCHES)
    CSS = """
    BatchesScreen #batch-said { height: auto; max-height: 3; padding: 0 1; color: $secondary; }
    BatchesScreen #batch-list { height: 1fr; padding: 0 1; }
    """

    rows = getters.query_one(Table)

    def __init__(self, at: str = "") -> None:
        super().__init__()
        self.at = at
        """Id of the batch to stand on first."""
        self.all = False
        self.listed: list[Listed] = []

    def body(self) -> ComposeResult:
        yield Static("", id="batch-said", markup=False)
        yield Table(COLUMNS, id="batch-list")

    @property
    def here(self) -> Listed | None:
        key = self.rows.key_here
        return next((one for one in self.listed if one.batch.id == key), None)

    def on_mount(self) -> None:
        self.rows.focus()

    def action_fresh(self) -> None:
        self.ask(partial(fetch, day=today(), finished=self.all), self._show, group="list", failed=self.tell)

    def _show(self, listed: list[Listed]) -> None:
        self.listed = listed
        self.rows.show([row(one) for one in listed], self.at)
        self.at = ""
        due = sum(1 for one in listed if one.due)
        which = "written down" if self.all else "in use"
        self.tell(f"{len(listed)} {which}, {due} of them to look at" if listed else EMPTY)
        self.refresh_bindings()

    def action_all(self) -> None:
        self.all = not self.all
        self.action_fresh()

    @on(Table.RowSelected)
    def read(self) -> None:
        if here := self.here:
            verb = partial(batch_lines, batch_id=here.batch.id)
            self.ask(verb, lambda found: self.note(*found), group="read")

    def action_label(self) -> None:
        if here := self.here:
            self.ask(partial(labelled, batch_id=here.batch.id), self._labelled, group="label")

    def _labelled(self, found: tuple[str, str]) -> None:
        text, path = found
        words = f"{text}\nWritten as a drawing of 80 by 50 mm, to be printed:\n{path}"
        self.note("Label", words)

    def action_used_up(self) -> None:
        if here := self.here:
            answers = (("k", "keep", "No, it is in use"), ("y", "used", "Used up or thrown away today"))
            self.sure("Used up?", here.words, answers, partial(self._used_up, here.batch.id))

    def _used_up(self, batch_id: str) -> None:
        day = today()
        verb = partial(desk.finish, batch_id=batch_id, on=day.isoformat(), today=day)
        self.ask(verb, self._changed, group="change")

    def action_bad(self) -> None:
        if here := self.here:
            says = (
                f"{here.words}\n\nThe batch stays in the book, marked as bad, and its label says so. Enter "
                "on it then lists every sheet that it touched."
            )
            asked = AskWhy("A bad batch", says, "Mark it as bad", partial(_bad, here.batch.id))
            self.app.push_screen(asked, self._changed)

    def action_withdraw(self) -> None:
        if here := self.here:
            says = f"{here.words}\n\nNothing is erased: the record stays readable, marked as withdrawn."
            asked = AskWhy("Withdraw a batch", says, "Withdraw it", partial(withdraw, here.batch.id))
            self.app.push_screen(asked, self._changed)

    def _changed(self, written: Written | None) -> None:
        if written is not None:
            self.bench.say("Stored; what was first written stays beside it.")
            self.action_fresh()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action not in ON_A_ROW or bool(self.listed)


@stores
def _bad(batch_id: str, studio: Studio, why: str) -> Written:
    return desk.mark_bad(studio, batch_id, why)
