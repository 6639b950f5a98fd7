"""The bench book: every test, or every record, newest first, narrowed by what is typed above it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Input, Static

from kb.desk.materials.names import Names
from kb.science.numbers import counted
from kb.tui.actions import CORRECT, FRESH, Act, bindings, keys_in_words
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.records.book_filter import Known, Page, Understood, known_to, understand, understand_kinds
from kb.tui.screens.records.record_view import Corrects, RecordPane, RecordScreen, open_scanned
from kb.tui.screens.records.record_words import Described, Row, any_row_words, described, row_words
from kb.tui.text import line, parts_cut
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.plain_input import FindLine
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

TESTS = (
    Column("date", "Date", whole=True),
    Column("sheet", "Sheet"),
    Column("tape", "Tape"),
    Column("liquid", "Liquid", shorten=parts_cut),
    Column("release", "Release", whole=True),
    Column("harm", "Harm", whole=True),
    Column("medium", "Medium", spare=True),
    Column("stage", "Stage", spare=True),
    Column("state", "State", whole=True, seldom=True),
)
EVERYTHING = (
    Column("date", "Date", whole=True),
    Column("kind", "Kind"),
    Column("sheet", "Sheet", most=26),
    Column("what", "What"),
    Column("state", "State", whole=True, seldom=True),
)
"""Spare columns are left to the line below where room is short."""


class BookTable(Table):
    """A page of the book, sorted within itself. Going past an end of it asks for the next one."""

    class Edge(Message):
        """The cursor was moved past the last row (1) or the first one (-1)."""

        def __init__(self, step: int) -> None:
            self.step = step
            super().__init__()

    def __init__(self) -> None:
        super().__init__(TESTS, id="book-tests")
        self._by_id: dict[str, Row] = {}

    @property
    def rows_shown(self) -> list[Row]:
        return [self._by_id[row.key] for row in self.in_order]

    @property
    def here(self) -> Row | None:
        return self._by_id.get(self.key_here)

    @property
    def value_here(self) -> str:
        return self.here.said if self.here else ""

    def turn_to(
        self, rows: Sequence[Row], at: str = "", *, last: bool = False, columns: Sequence[Column] = TESTS
    ) -> None:
        """Put a page here, with the cursor on the record ``at`` if it is there, else at an end."""
        if self.of_columns != columns:
            self.of_columns, self.order = tuple(columns), ("", False)
        self._by_id = {row.id: row for row in rows}
        self.show([TableRow(row.id, [getattr(row, one.key) for one in columns]) for row in rows], at)
        if at not in self._by_id:
            self.cursor_row = self.row_count - 1 if last else 0

    def action_cursor_down(self) -> None:
        if self.cursor_row >= self.row_count - 1:
            self.post_message(self.Edge(1))
        else:
            super().action_cursor_down()

    def action_cursor_up(self) -> None:
        if self.cursor_row <= 0:
            self.post_message(self.Edge(-1))
        else:
            super().action_cursor_up()


PAGE = 200
"""Tests fetched at a time, so that a book of a million opens at once."""
BOOK = (
    Act("filter", "slash", "Filter", "Type what the list is narrowed to", shown="/"),
    *CORRECT,
    Act("sheet", "p", "Plan", "All that is known and planned of this sheet"),
    Act(
        "everything", "e", "All kinds", "Records of every kind: mends, batches, readings, bottles, tests ..."
    ),
    Act("tests", "e", "Tests", "Spot tests only, with what was tested and the grades"),
    Act("older", "o", "Older", "The next page of older records", foot=False),
    Act("newer", "n", "Newer", "The page of newer records before this one", foot=False),
    Act("to_list", "escape", "List", "From the filter to the list; once more empties the filter"),
    FRESH,
)
ON_A_ROW = {"amend", "withdraw", "sheet"}
LETTERS = {"filter", "amend", "withdraw", "sheet", "everything", "tests", "older", "newer"}
"""Actions whose keys are letters: while one types they are letters."""
EMPTY_BOOK = "The bench book is empty. A test is started from the question: F2, then T on a row."
NOTHING_FITS = "No test fits. Change the filter, or empty it with Esc."
NO_RECORD_FITS = "No record fits. Change the filter, or empty it with Esc."
NO_RECORD = "The bench book is empty. A mend, a batch, a reading or a test is its first record."
HINTS = ("sheet, adhesive, medium, liquid, by AB", "sheet, mends, batches, readings, by AB")
"""What the filter takes, of tests and of everything."""


class BookScreen(Corrects, DeskScreen[None]):
    """List and filter; on a large screen the record under it, so that names have the whole width."""

    TITLE_WORDS = "Bench book"
    HELP = (
        "All tests, newest first, a page of 200 at a time; '.' or a click on a heading sorts the page. Enter "
        "opens a record and everything in it. E goes on to records of every kind: mends, toning tests, "
        "housing, bath readings, batches, bottles and tests together; E once more comes back.\n\n"
        "The filter takes any words: a sheet by its exact name, an adhesive, a tape, a medium, a paper, a "
        "liquid or a method by any of its names and in any spelling near it, and 'by AB' for who wrote it. "
        "Among records of every kind it takes a sheet, a kind (mends, batches) and 'by AB'. Under it stands "
        "how it was understood.\n\n"
        "'not looked' in the column of harm means that no kind of harm was looked at; it never counts as "
        "no harm; 'paper only' that nobody looked for what an ink can show. Times are local. A record is "
        "never changed or erased: amended and withdrawn ones say so.\n\n"
        f"{keys_in_words(BOOK)}\nEnter    Open the record"
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(BOOK), Binding("down", "into_list", show=False)]
    CSS = """
    BookScreen #book-ask { height: 1; padding: 0 1; }
    BookScreen #book-ask Static { width: 10; }
    BookScreen #book-filter { width: 1fr; }
    BookScreen #book-understood, BookScreen #book-row {
        height: auto; max-height: 3; padding: 0 1; color: $secondary;
    }
    BookScreen #book-body { height: 1fr; }
    BookScreen #book-tests { height: 1fr; padding: 0 0 0 1; }
    BookScreen #book-under { display: none; height: 13; border-top: solid $secondary; }
    BookScreen.-wide.-high #book-under { display: block; }
    BookScreen.-wide.-high #book-row { display: none; }
    """

    table = getters.query_one(BookTable)

    def __init__(self) -> None:
        super().__init__()
        self.befores: list[str] = [""]
        """The id that each page up to this one goes on from."""
        self.page = Page([], False, Understood({}, ""), Known((), ()))
        self._on_its_way = False
        """Whether a page was asked for and is not there yet."""
        self.size_words = ""
        self.everything = False
        """Whether records of every kind are listed, and not tests only."""

    def body(self) -> ComposeResult:
        with Horizontal(id="book-ask"):
            yield Static("Narrow to ", markup=False)
            yield FindLine(id="book-filter", compact=True, placeholder=HINTS[0])
        yield Static("Reading the bench book ...", id="book-understood", markup=False)
        with Vertical(id="book-body"):
            yield BookTable()
            yield RecordPane(id="book-under", spread=True)
        yield Static("", id="book-row", markup=False)

    # -- fetching ---------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """The list is where one starts, at once: E right behind F3 was else a word of the filter."""
        self.set_focus(self.table)

    def action_fresh(self) -> None:
        """Take in what is new, and keep one's place."""
        self.page = self.page._replace(known=Known((), ()))
        self.load(fresh=True)
        self.ask(_size_words, self._sized, group="size")

    def load(self, *, fresh: bool = False, last: bool = False, stay: bool = True) -> None:
        """Fetch the page again, or another one."""
        here = self.table.here if stay else None
        self._on_its_way = True
        verb = partial(
            fetch,
            text=self.query_one("#book-filter", Input).value,
            before=self.befores[-1],
            known=self.page.known,
            fresh=fresh,
            everything=self.everything,
        )
        self.ask(verb, partial(self._loaded, at=here.id if here else "", last=last), group="list")

    def _loaded(self, page: Page, at: str, *, last: bool) -> None:
        self.page = page
        self._on_its_way = False
        self.table.turn_to(page.rows, at, last=last, columns=EVERYTHING if self.everything else TESTS)
        self._tell()
        self._on_row()
        self.refresh_bindings()

    def _sized(self, words: str) -> None:
        self.size_words = words
        self._tell()

    def desk_failed(self, words: str) -> None:
        """What went wrong stands where the count stood."""
        self._on_its_way = False
        self.query_one("#book-understood", Static).update(line(words))
        super().desk_failed(words)

    def _tell(self) -> None:
        """How the filter was understood, how much there is, where one is."""
        page, first = self.page, (len(self.befores) - 1) * PAGE
        typed = bool(self.query_one("#book-filter", Input).value.strip())
        order = f"sorted by {by.lower()}" if (by := self.table.sorted_by) else "newest first"
        place = f"Shown: {first + 1} to {first + len(page.rows)}, {order}" if page.rows else ""
        if not page.rows:
            words = (NO_RECORD_FITS, NO_RECORD) if self.everything else (NOTHING_FITS, EMPTY_BOOK)
            place = words[0] if page.understood.filters else words[1]
        ways = ("O shows older ones" if page.more else "", "N newer ones" if first else "")
        more = ", ".join(one for one in ways if one)
        size = "Records of every kind" if self.everything and page.rows else self.size_words
        said = [page.understood.words if typed else size, place, more]
        self.query_one("#book-understood", Static).update(line(". ".join(one for one in said if one)))

    # -- moving -----------------------------------------------------------------------------------

    @on(Input.Changed, "#book-filter")
    def narrowed(self) -> None:
        """Every letter narrows anew, from the first page."""
        self.befores = [""]
        self.load()

    @on(Input.Submitted, "#book-filter")
    def filter_done(self) -> None:
        """Enter: into the list; of a scanned id its record."""
        open_scanned(self, self.query_one("#book-filter", Input).value, self.table.focus)

    @on(BookTable.RowHighlighted)
    def _on_row(self) -> None:
        """Show the row one stands on: in words below, or the record."""
        here = self.table.here
        self.query_one("#book-row", Static).update(line(here.said if here else ""))
        if not (self.has_class("-wide") and self.has_class("-high")):
            return
        if here is None:
            self.query_one(RecordPane).say("")
            return
        pane = self.query_one(RecordPane)
        self.ask(partial(described, record_id=here.id), self._under, group="under", failed=pane.say)

    def _under(self, record: Described) -> None:
        self.query_one(RecordPane).show(record)

    @on(BookTable.Sorted)
    def sorted_anew(self) -> None:
        self._tell()

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self._on_row)

    @on(BookTable.RowSelected)
    def opened(self) -> None:
        if here := self.table.here:
            self.app.push_screen(RecordScreen(here.id))

    @on(BookTable.Edge)
    def over_the_edge(self, event: BookTable.Edge) -> None:
        """On to the next page; from the top of the first one to the filter."""
        if event.step > 0:
            self.action_older()
        elif len(self.befores) > 1:
            self.befores.pop()
            self.load(last=True)
        else:
            self.action_filter()

    def narrow_to(self, text: str) -> None:
        """Fill in the filter from another screen, which is about tests."""
        self._show_everything(False)
        self.query_one("#book-filter", Input).value = text
        self.table.focus()

    def action_everything(self) -> None:
        self._show_everything(True)

    def action_tests(self) -> None:
        self._show_everything(False)

    def _show_everything(self, everything: bool) -> None:
        """The other list, from its first page. A sheet and a person mean the same there, other words not."""
        if everything == self.everything:
            return
        self.everything = everything
        field = self.query_one("#book-filter", Input)
        if not self.page.understood.filters.keys() <= {"sheet", "who"}:
            with self.prevent(Input.Changed):
                field.value = ""
        field.placeholder = HINTS[everything]
        self.befores = [""]
        self.page = self.page._replace(known=Known((), ()))
        self.load(stay=False)

    def action_filter(self) -> None:
        self.query_one("#book-filter", Input).focus()

    def action_to_list(self) -> None:
        """From the filter to the list; from the list, empty the filter."""
        field = self.query_one("#book-filter", Input)
        if not field.has_focus:
            field.value = ""
        self.table.focus()

    def action_into_list(self) -> None:
        self.table.focus()

    def action_older(self) -> None:
        """The next page. Until a page is there, nobody knows what comes after it."""
        if self.page.more and not self._on_its_way:
            self.befores.append(self.page.rows[-1].id)
            self.load()

    def action_newer(self) -> None:
        if len(self.befores) > 1:
            self.befores.pop()
            self.load()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        typing = isinstance(self.focused, Input)
        if action in LETTERS and typing:
            return False
        if action == "to_list":
            return typing or bool(self.query_one("#book-filter", Input).value)
        if action in ON_A_ROW:
            return bool(self.page.rows)
        if action in {"everything", "tests"}:
            return self.everything == (action == "tests")
        if action in {"older", "newer"}:
            return self.page.more if action == "older" else len(self.befores) > 1
        return True

    # -- correcting -------------------------------------------------------------------------------

    def record_in_view(self) -> str:
        here = self.table.here
        return here.id if here else ""

    @property
    def sheet_here(self) -> str:
        here = self.table.here
        return here.sheet if here else ""

    async def action_sheet(self) -> None:
        if self.sheet_here:
            await self.run_action("app.show_sheet")
        else:
            self.bench.say("This record names no sheet.")

    def corrected(self, written: Written | None) -> None:
        """The list is fetched anew when this screen comes back, which is now."""


def _everything(studio: Studio, *, text: str, before: str, known: Known) -> Page:
    """One page of the records of every kind that the typed words mean, newest first."""
    from kb.desk.records.book_list import list_records
    from kb.desk.sheet.names import all_sheets

    understood = Understood({}, "")
    if text.strip():
        if not known.people:
            known = known_to(studio, all_sheets(studio), list_records(studio, limit=PAGE))
        understood = understand_kinds(text, known)
    by = understood.filters
    kinds = (by["kind"],) if "kind" in by else ()
    found = list_records(
        studio, kinds=kinds, sheet=by.get("sheet", ""), who=by.get("who", ""), limit=PAGE + 1, before=before
    )
    return Page([any_row_words(one) for one in found[:PAGE]], len(found) > PAGE, understood, known)


def fetch(
    studio: Studio, *, text: str, before: str, known: Known, fresh: bool, everything: bool = False
) -> Page:
    """One page of the tests, or of the records of every kind, that the typed words mean."""
    from kb.desk.records.record import list_tests, sheet_names

    if fresh:
        studio.refresh()
    if everything:
        return _everything(studio, text=text, before=before, known=known)
    understood = Understood({}, "")
    names = Names(studio)
    if text.strip():
        if not known.people:
            sheets = (name for name, _ in sheet_names(studio))
            known = known_to(studio, sheets, list_tests(studio, limit=PAGE))
        understood = understand(studio, text, known)
    found = list_tests(studio, understood.filters, limit=PAGE + 1, before=before)
    return Page([row_words(names, one) for one in found[:PAGE]], len(found) > PAGE, understood, known)


def _size_words(studio: Studio) -> str:
    """How much the book holds: ``1,204 tests, 3 of them withdrawn``."""
    from kb.desk.records.record import book_size

    tests, withdrawn = book_size(studio)
    if not tests:
        return ""
    words = counted(tests, "test")
    return f"{words}, {withdrawn:,} of them withdrawn" if withdrawn else words
