"""Materials: find an entry of the catalogue by any of its names, read it, follow its links, compare it.

Keys, kinds and words of the materials screen.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Input, OptionList, Static

from kb.model.kinds import KINDS as ENTRY_KINDS
from kb.tui.actions import FIND, Act, bindings, keys_in_words
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.choose.ranking import full_safety
from kb.tui.screens.materials import materials_ask as desk
from kb.tui.screens.materials.marks import Mark, Marking, Marks, Owning
from kb.tui.screens.materials.materials_ask import AT_MOST, LISTED, Filter
from kb.tui.screens.materials.reading_pane import ReadingPane, SourceView, source_words
from kb.tui.text import line
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.plain_input import FindLine
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.materials.links_near import Link
    from kb.desk.materials.lookup import Found, Reading

MATERIALS = (
    FIND,
    Act("choose_kind", "ctrl+k", "Kind", "Narrow to one kind of entry", first=True),
    Act("sources", "o", "Sources", "Where the line under the cursor comes from"),
    Act("links", "l", "Links", "What this entry has to do with others, both ways; L again: its lines"),
    Act("safety", "s", "Safety", "Safety note of this liquid"),
    Act("mark", "m", "Mark", "Mark this entry for comparison, or unmark it; four of one kind at most"),
    Act("compare", "v", "Compare", "The marked entries side by side"),
    Act("filter", "f", "Filter", "Narrow the liquids: family, hazard, evaporation, held, allowed"),
    Act("shelf", "h", "Shelf", "What this studio holds and forbids, and its bottles"),
    Act("back", "escape", "Back", "Back: from links to lines, to the list, to the line to type in"),
    Act("unmark", "u", "Unmark", "Take all marks away", foot=False),
    Act("depends", "d", "Depends", "What depends on this entry, and a reading list", foot=False),
    Act("weights", "w", "Weights", "All sources, the one that most rests on first", foot=False),
    Act("own", "n", "New", "Write an entry of your own: liquid, recipe, paper ...", foot=False),
    Act("before", "backspace", "Before", "The entry before, after a link was followed", foot=False),
    Act("next_kind(1)", "right", "Next kind", "In the list: narrow to the next kind", foot=False),
    Act("next_kind(-1)", "left", "Kind before", "In the list: narrow to the kind before", foot=False),
)
USUAL = ("liquid", "adhesive", "tape", "carrier", "polymer", "medium", "paper", "stage", "method", "report")
"""Kinds that are looked up most; they come first."""
KINDS = ("", *USUAL, *(kind.word for kind in reversed(ENTRY_KINDS) if kind.word not in USUAL))
"""The empty one means: every kind."""
ON_A_READING = {"sources", "links", "safety"}
LETTERS = {*ON_A_READING, "find", "mark", "unmark", "compare", "filter", "shelf", "depends", "weights", "own"}
"""Actions whose keys are letters: while one types they are letters."""
HINT = (
    "Type any part of a name, another name of it, a CAS number or words of the text; the spelling need only "
    "be near. Ctrl+K narrows to one kind, and with nothing typed lists all of it."
)
NOTHING = "Nothing like that is known. Try fewer letters, or another kind with Ctrl+K."
HELP = (
    f"{HINT} In the line letters are letters: Down, or Esc when it is empty, goes to the list, where they "
    "are keys.\n\n"
    "Enter reads an entry. Its lines give figures with their unit; the word on the right says how far "
    "to trust a line: '~ from memory' was not looked up, '? not read here' is quoted from a text that "
    "was not read for this catalogue, '= common practice' has no text, '# this project's own choice' "
    "is no measurement, '! unverified' is an exposure limit that nobody saw in its list. A line without a "
    "word rests on something that was read, or names no source of its own. Nothing that is missing is "
    "guessed.\n"
    "O opens the sources of the line under the cursor, or of the entry where the line names none.\n"
    "L shows what the entry has to do with others: what it names and what names it, distances, tests "
    "in the bench book, bottles. Enter follows a link, Backspace comes back; Left and Right go from group "
    "to group.\n\n"
    f"{keys_in_words(MATERIALS)}\n"
    "Y        Copy the value of the line under the cursor, or in the list the row"
)


COLUMNS = (
    Column("name", "Name"),
    Column("kind", "Kind", whole=True),
    Column("also", "Also called", spare=True, most=24),
    Column("mark", "Marked", whole=True),
)
REST_S = 0.15
"""Who types on is not shown beside the list what he passes by."""
COUNTED = "tests here"
"""The line of links that counts tests of the entry itself; others count blends, or such a tape."""


class Place(NamedTuple):
    """An entry that was read, and the row of its links that was followed (-1: its lines were shown)."""

    kind: str
    id: str
    link: int = -1


class MaterialsScreen(Owning, Marking, DeskScreen[None]):
    """Find on the left, read on the right; on a narrow screen one after the other."""

    TITLE_WORDS = "Materials"
    HELP = HELP
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(MATERIALS), Binding("down", "into_list", show=False)]
    CSS = """
    MaterialsScreen #material-ask { height: 1; padding: 0 1; }
    MaterialsScreen #material-ask Static { width: 6; }
    MaterialsScreen #material-typed { width: 1fr; }
    MaterialsScreen #material-kind { height: auto; max-height: 4; padding: 0 1; color: $secondary; }
    MaterialsScreen #material-body { height: 1fr; }
    MaterialsScreen #material-found { width: 1fr; height: 100%; padding: 0 1; }
    MaterialsScreen #material-reading { width: 60%; min-width: 68; height: 100%; }
    MaterialsScreen #material-reading { border-left: solid $secondary; }
    MaterialsScreen #reading-lines, MaterialsScreen #reading-links { padding: 0 0 0 1; }
    MaterialsScreen.-narrow #material-reading { display: none; width: 1fr; min-width: 0; border-left: none; }
    MaterialsScreen.-narrow.-reading #material-reading { display: block; }
    MaterialsScreen.-narrow.-reading #material-found { display: none; }
    """

    typed = getters.query_one("#material-typed", Input)
    hits = getters.query_one("#material-found", Table)
    pane = getters.query_one(ReadingPane)

    def __init__(self) -> None:
        super().__init__()
        self.kind = 0
        self.narrowed = Filter()
        self.found: list[Found] = []
        self.marks = Marks()
        self.trail: list[Place] = []
        """Entries that links led through; the last one is being read."""
        self._said: list[str] = []
        """What stands above the list."""
        self._rest: Timer | None = None

    def body(self) -> ComposeResult:
        with Horizontal(id="material-ask"):
            yield Static("Find ", markup=False)
            yield FindLine(id="material-typed", compact=True, placeholder="a name, a CAS number, any words")
        yield Static("", id="material-kind", markup=False)
        with Horizontal(id="material-body"):
            yield Table(COLUMNS, id="material-found")
            yield ReadingPane(id="material-reading")

    def kind_here(self) -> str:
        return KINDS[self.kind]

    @property
    def hit(self) -> Found | None:
        """What the cursor stands on in the list."""
        key = self.hits.key_here
        return next((one for one in self.found if key_of(one) == key), None)

    def on_mount(self) -> None:
        self.set_focus(self.typed)

    def on_screen_resume(self) -> None:
        """The catalogue may have changed while another screen was shown."""
        self.look(fresh=True)

    # -- finding ----------------------------------------------------------------------------------

    def look(self, *, fresh: bool = False) -> None:
        verb = partial(
            desk.find, text=self.typed.value, kind=KINDS[self.kind], narrowed=self.narrowed, fresh=fresh
        )
        self.ask(verb, self._found, group="find", failed=self._tell)

    def _found(self, found: list[Found]) -> None:
        same = found == self.found
        self.found = found
        self._tell(self._counted())
        if same and found and self.hits.row_count:
            return
        self.hits.nothing = NOTHING if self.typed.value.strip() or self._filtering else HINT
        named = any(not one.near for one in found)
        self.hits.show(list(map(self._row, found)), key_of(found[0]) if named else "", nowhere=not named)
        if not found and self.pane.reading is not None and not self.has_class("-reading"):
            self.pane.say("")

    def _counted(self) -> str:
        if not self.found:
            return "nothing found" if self.typed.value.strip() else "nothing typed yet"
        if all(one.near for one in self.found):
            return "nothing by that name; near in spelling (Down, Enter opens)"
        count = len(self.found)
        capped = count >= (AT_MOST if self.typed.value.strip() else LISTED)
        return f"the first {count}; type more to narrow" if capped else f"{count} found"

    @property
    def _filtering(self) -> bool:
        """Whether the filter narrows what is listed: it is one of liquids."""
        return KINDS[self.kind] == "liquid" and bool(self.narrowed.words)

    def _tell(self, words: str) -> None:
        """Kind, count, filter and marks, above the list."""
        said = [f"Kind: {KINDS[self.kind] or 'every kind'} - {words}"]
        if self._filtering:
            said.append(f"Only: {self.narrowed.words} (F changes it, F then C clears it)")
        if self.marks.held:
            said.append(self.marks.words)
        room = self.size.width - 2
        # A line in place of a line: nothing else moves, and the screen need not be laid out anew.
        fits = len(said) == len(self._said) and all(len(one) <= room for one in (*said, *self._said))
        if said == self._said:
            return
        self._said = said
        self.query_one("#material-kind", Static).update(Content("\n").join(map(line, said)), layout=not fits)

    def _row(self, one: Found) -> TableRow:
        """Name, kind unless it is the only one asked for, the other name that matched, and the mark."""
        kind = "" if one.kind == KINDS[self.kind] else one.kind
        also = "" if one.matched in one.name.casefold() else one.matched
        return TableRow(
            key_of(one), (one.name, kind, also, "yes" if self.marks.holds(one.kind, one.id) else "")
        )

    @on(Input.Changed, "#material-typed")
    def typing(self) -> None:
        if self._rest is not None:
            self._rest.reset()
        self.look()

    @on(Input.Submitted, "#material-typed")
    def first_found(self) -> None:
        """Enter: read what stands first, or the one under the cursor; of a scanned id its record."""
        from kb.tui.screens.records.record_view import open_scanned

        open_scanned(self, self.typed.value, self._read_here)

    def action_choose_kind(self) -> None:
        from kb.tui.screens.materials.filter_form import ValuesScreen

        words = [kind or "every kind" for kind in KINDS]
        self.app.push_screen(ValuesScreen("Kind of entry", words, self.kind), self._of_kind)

    def _of_kind(self, at: int | None) -> None:
        if at is not None and at != self.kind:
            self.kind = at
            self._to_list()
            self._tell("looking ...")
            self.look()

    def action_next_kind(self, step: int) -> None:
        self._of_kind((self.kind + step) % len(KINDS))

    def action_find(self) -> None:
        self._to_list()
        self.typed.focus()

    def action_into_list(self) -> None:
        if self.focused is self.typed:
            if not self.hits.key_here:
                # Nothing bears the name that was typed: whoever goes down chooses the nearest.
                self.hits.action_end()
            self.hits.focus()

    # -- reading ----------------------------------------------------------------------------------

    @on(Table.RowHighlighted)
    def preview(self) -> None:
        """On a wide screen the entry under the cursor is shown beside the list, once one rests on it."""
        if self._rest is not None:
            self._rest.stop()
        if self.has_class("-wide"):
            self._rest = self.set_timer(REST_S, self._rested)

    def _rested(self) -> None:
        if (one := self.hit) and not self.has_class("-reading"):
            self.trail = [Place(one.kind, one.id)]
            self._fetch()

    @on(Table.RowSelected)
    def _read_here(self) -> None:
        if one := self.hit:
            self.trail = [Place(one.kind, one.id)]
            self._fetch(focus=True)

    def _fetch(self, *, focus: bool = False) -> None:
        from kb.desk.materials.lookup import read

        here = self.trail[-1]
        verb = partial(read, kind=here.kind, entry_id=here.id)
        self.ask(verb, partial(self._show, focus=focus), group="read", failed=self.pane.say)

    def _show(self, reading: Reading, *, focus: bool) -> None:
        self.pane.show(reading)
        if focus:
            self.add_class("-reading")
            self.call_after_refresh(self.pane.lines.focus)
            if self.trail[-1].link >= 0:
                self.action_links()
        self.refresh_bindings()

    @on(OptionList.OptionSelected, "#reading-lines")
    def action_sources(self) -> None:
        reading = self.pane.reading
        if reading is not None:
            one = self.pane.line_here
            title = f"Sources: {reading.name}{', ' + one.label if one else ''}"
            self.app.push_screen(SourceView(title, source_words(reading, one)))

    def action_links(self) -> None:
        """What this entry has to do with others; or, from there, its lines again."""
        from kb.desk.materials.links import links

        reading = self.pane.reading
        if self.pane.in_links:
            self.trail[-1] = self.trail[-1]._replace(link=-1)
            self.pane.show_lines()
            self.pane.lines.focus()
        elif reading is not None:
            verb = partial(links, kind=reading.kind, entry_id=reading.id)
            self.ask(verb, partial(self._links, reading), group="links")

    def _links(self, reading: Reading, found: list[Link]) -> None:
        if self.pane.reading is reading:
            self.add_class("-reading")
            self.pane.show_links(found, max(0, self.trail[-1].link))
            self.call_after_refresh(self.pane.linked.focus)
            self.refresh_bindings()

    @on(OptionList.OptionSelected, "#reading-links")
    async def follow(self) -> None:
        """Read what the link leads to: an entry, tests in the bench book, or a bottle on the shelf."""
        link = self.pane.linked.here
        if link is None:
            return
        if link.kind == "bottle":
            self.action_shelf()
        elif link.kind == "test":
            await self._to_book(link)
        else:
            self.trail[-1] = self.trail[-1]._replace(link=self.pane.linked.highlighted or 0)
            self.trail.append(Place(link.kind, link.id))
            self._fetch(focus=True)

    async def _to_book(self, link: Link) -> None:
        """The tests that a line counts, in the bench book."""
        from kb.tui.screens.records.book import BookScreen

        reading = self.pane.reading
        await self.app.switch_mode("book")
        screen = self.app.screen
        if isinstance(screen, BookScreen) and reading is not None and link.name == COUNTED:
            screen.narrow_to(f"{reading.kind} {reading.id}")

    def action_before(self) -> None:
        if len(self.trail) > 1:
            self.trail.pop()
            self._fetch(focus=True)

    def action_safety(self) -> None:
        from kb.desk.materials.safety import safety_note

        reading = self.pane.reading
        if reading is not None and reading.kind == "liquid":
            verb = partial(safety_note, parts={reading.id: 1.0})
            self.ask(verb, lambda it: self.note(f"Safety: {it.name}", full_safety(it)), group="safety")

    # -- marking, comparing, narrowing ------------------------------------------------------------

    def entry_here(self) -> Mark | None:
        """The entry that is being read, else the one under the cursor."""
        reading, one = self.pane.reading, self.hit
        if reading is not None and (self.has_class("-reading") or self.focused is self.pane.front):
            return Mark(reading.kind, reading.id, reading.name)
        return Mark(one.kind, one.id, one.name) if one else None

    def marks_changed(self) -> None:
        """The list and the words above it say what is marked."""
        self.hits.show(list(map(self._row, self.found)))
        self._tell(self._counted())
        self.refresh_bindings()

    def action_filter(self) -> None:
        from kb.tui.screens.materials.filter_form import FilterScreen

        self.app.push_screen(FilterScreen(self.narrowed), self._narrow)

    def _narrow(self, narrowed: Filter | None) -> None:
        if narrowed is not None and narrowed != self.narrowed:
            self.narrowed = narrowed
            self.kind = KINDS.index("liquid") if narrowed.words else self.kind
            self._to_list()
            self._tell("looking ...")
            self.look()
            self.hits.focus()

    def action_shelf(self) -> None:
        from kb.tui.screens.shelf.shelf import ShelfScreen

        self.app.push_screen(ShelfScreen())

    # -- getting about ----------------------------------------------------------------------------

    def action_back(self) -> None:
        """One step back: links, lines, list, line to type in; from an empty line to the list."""
        if self.pane.in_links and (self.focused is self.pane.linked or self.has_class("-reading")):
            self.action_links()
        elif self.focused is self.pane.lines or self.has_class("-reading"):
            self._to_list()
            self.hits.focus()
        elif self.focused is self.typed and self.typed.value:
            self.typed.value = ""
        elif self.focused is self.typed:
            self.hits.focus()
        else:
            self.typed.focus()

    def _to_list(self) -> None:
        """On a narrow screen the list takes the place of what was read."""
        self.remove_class("-reading")
        if self.focused in {self.pane.lines, self.pane.linked}:
            self.hits.focus()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if isinstance(self.focused, Input) and action in LETTERS:
            return False
        narrow_reading = self.has_class("-reading") and not self.has_class("-wide")
        if action in ON_A_READING:
            reading = self.pane.reading
            shown = self.has_class("-wide") or self.has_class("-reading")
            if action == "sources" and self.pane.in_links:
                return False
            return reading is not None and shown and (action != "safety" or reading.kind == "liquid")
        if action in {"filter", "choose_kind"}:
            return not narrow_reading
        if action == "next_kind":
            return self.focused is self.hits
        if action in {"mark", "depends"}:
            return self.entry_here() is not None
        if action == "compare":
            return len(self.marks.held) > 1
        return action != "before" or len(self.trail) > 1


def key_of(one: Found) -> str:
    """What tells it apart: ids are unique within a kind."""
    return f"{one.kind} {one.id}"
