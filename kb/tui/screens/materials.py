"""Materials: find an entry of the catalogue by any of its names, and read it with its sources."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from kb.model.kinds import KINDS as ENTRY_KINDS
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.ranking import full_safety
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.reading_pane import ReadingPane
from kb.tui.screens.source_view import Link, LinksScreen, SourceView, links, source_words
from kb.tui.text import cut, line
from kb.tui.widgets.frame import KeyBar, TitleBar
from kb.tui.widgets.plain_input import PlainInput

if TYPE_CHECKING:
    from kb.desk.lookup import Found, Reading
    from kb.desk.safety import SafetyNote
    from kb.desk.studio import Studio

MATERIALS = (
    Act("find", "slash", "Find", "Type what to look for", shown="/"),
    Act("next_kind", "f6", "Kind", "Narrow to the next kind of entry"),
    Act("sources", "o", "Sources", "Where the line under the cursor comes from"),
    Act("links", "l", "Links", "Other entries that this one names"),
    Act("safety", "s", "Safety", "Safety note of this liquid"),
    Act("back", "escape", "Back", "Back: to the entry before, to the list, to the line to type in"),
    Act("previous_kind", "shift+f6", "Kind back", "Narrow to the kind before", foot=False),
)
USUAL = ("liquid", "adhesive", "tape", "carrier", "polymer", "medium", "paper", "stage", "method", "report")
"""Kinds that are looked up most; they come first."""
KINDS = ("", *USUAL, *(kind.word for kind in reversed(ENTRY_KINDS) if kind.word not in USUAL))
"""The empty one means: every kind."""
AT_MOST = 60
LISTED = 500
"""Entries of one kind that are listed with nothing typed; typing reaches the rest."""
ON_A_READING = {"sources", "links", "safety"}
HINT = (
    "Type any part of a name, an other name, a CAS number or words of the text; the spelling need only be "
    "near. F6 narrows to one kind, and with nothing typed lists all of it."
)
NOTHING = "Nothing like that is known. Try fewer letters, or another kind with F6."


class MaterialsScreen(AtDesk, Screen[None]):
    """Find on the left, read on the right; on a narrow screen one after the other."""

    TITLE_WORDS = "Materials"
    HELP = (
        f"{HINT}\n\n"
        "Enter reads an entry. Its lines give figures with their unit; the word on the right says how far "
        "to trust a line: '~ from memory' was not looked up, '? not read here' is quoted from a text that "
        "was not read for this catalogue, '= common practice' has no text, '# this project's own choice' "
        "is no measurement. A line without a word rests on something that was read, or names no source of "
        "its own. Nothing that is missing is guessed.\n"
        "O opens the sources of the line under the cursor, or of the entry where the line names none.\n\n"
        f"{keys_in_words(MATERIALS)}"
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(MATERIALS),
        Binding("O", "links", show=False),
        Binding("down", "into_list", show=False),
    ]
    CSS = """
    MaterialsScreen #material-ask { height: 1; padding: 0 1; }
    MaterialsScreen #material-ask Static { width: 6; }
    MaterialsScreen #material-typed { width: 1fr; }
    MaterialsScreen #material-kind { height: auto; max-height: 2; padding: 0 1; color: $secondary; }
    MaterialsScreen #material-body { height: 1fr; }
    MaterialsScreen #material-found { width: 1fr; height: 100%; padding: 0 1; }
    MaterialsScreen #material-reading { width: 2fr; height: 100%; border-left: solid $secondary; }
    MaterialsScreen #reading-lines { padding: 0 0 0 1; }
    MaterialsScreen.-narrow #material-reading { display: none; width: 1fr; border-left: none; }
    MaterialsScreen.-narrow.-reading #material-reading { display: block; }
    MaterialsScreen.-narrow.-reading #material-found { display: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.kind = 0
        self.found: list[Found] = []
        self.trail: list[tuple[str, str]] = []
        """Entries that links led through; the last one is being read."""

    def compose(self) -> ComposeResult:
        """Line to type in, kind, list, reading."""
        yield TitleBar()
        with Horizontal(id="material-ask"):
            yield Static("Find ", markup=False)
            yield PlainInput(id="material-typed", compact=True, placeholder="a name, a CAS number, any words")
        yield Static("", id="material-kind", markup=False)
        with Horizontal(id="material-body"):
            yield OptionList(id="material-found", markup=False, compact=True)
            yield ReadingPane(id="material-reading")
        yield KeyBar()

    @property
    def typed(self) -> Input:
        """The line to type in."""
        return self.query_one("#material-typed", Input)

    @property
    def hits(self) -> OptionList:
        """What was found."""
        return self.query_one("#material-found", OptionList)

    @property
    def pane(self) -> ReadingPane:
        """What is read."""
        return self.query_one(ReadingPane)

    def on_mount(self) -> None:
        """One starts by typing."""
        self.typed.focus()

    def on_screen_resume(self) -> None:
        """The catalogue may have changed while another screen was shown."""
        self.look(fresh=True)

    # -- finding ----------------------------------------------------------------------------------

    def look(self, *, fresh: bool = False) -> None:
        """Look for what is typed, in a thread; a later letter overtakes it."""
        verb = partial(find, text=self.typed.value, kind=KINDS[self.kind], fresh=fresh)
        self.ask(verb, self._found, group="find", failed=self._cannot)

    def _cannot(self, words: str) -> None:
        self._tell(words)

    def _found(self, found: list[Found]) -> None:
        same = [(one.kind, one.id) for one in found] == [(one.kind, one.id) for one in self.found]
        self.found = found
        self._tell(self._counted())
        if same and self.hits.option_count:
            return
        empty = NOTHING if self.typed.value.strip() else HINT
        rows = [Option(_found_row(one, KINDS[self.kind])) for one in found] or [
            Option(line(empty), disabled=True)
        ]
        self.hits.clear_options()
        self.hits.add_options(rows)
        self.hits.highlighted = 0 if found else None
        if not found and not self.has_class("-reading"):
            self.pane.say("")

    def _counted(self) -> str:
        if not self.found:
            return "nothing found" if self.typed.value.strip() else "nothing typed yet"
        count = len(self.found)
        capped = count >= (AT_MOST if self.typed.value.strip() else LISTED)
        return f"the first {count}; type more to narrow" if capped else f"{count} found"

    def _tell(self, words: str) -> None:
        kind = KINDS[self.kind] or "every kind"
        self.query_one("#material-kind", Static).update(line(f"Kind: {kind} - {words}"))

    @on(Input.Changed, "#material-typed")
    def typing(self) -> None:
        """Every letter looks anew."""
        self.look()

    @on(Input.Submitted, "#material-typed")
    def first_found(self) -> None:
        """Enter: read what stands first, or the one under the cursor."""
        self._read_here()

    def action_next_kind(self, step: int = 1) -> None:
        """Only entries of the next kind."""
        self.kind = (self.kind + step) % len(KINDS)
        self._to_list()
        self._tell("looking ...")
        self.look()

    def action_previous_kind(self) -> None:
        """Only entries of the kind before."""
        self.action_next_kind(-1)

    def action_find(self) -> None:
        """To the line to type in."""
        self._to_list()
        self.typed.focus()

    def action_into_list(self) -> None:
        """Down from the line to type in."""
        if self.focused is self.typed:
            self.hits.focus()

    # -- reading ----------------------------------------------------------------------------------

    @on(OptionList.OptionHighlighted, "#material-found")
    def preview(self, event: OptionList.OptionHighlighted) -> None:
        """On a wide screen the entry under the cursor is shown beside the list."""
        if self.has_class("-wide") and event.option_index < len(self.found):
            one = self.found[event.option_index]
            self.trail = [(one.kind, one.id)]
            self._fetch()

    @on(OptionList.OptionSelected, "#material-found")
    def _read_here(self) -> None:
        """Read the entry under the cursor."""
        at = self.hits.highlighted
        if at is not None and at < len(self.found):
            self.trail = [(self.found[at].kind, self.found[at].id)]
            self._fetch(focus=True)

    def _fetch(self, *, focus: bool = False) -> None:
        kind, entry_id = self.trail[-1]
        then = partial(self._show, focus=focus)
        self.ask(partial(_read, kind=kind, entry_id=entry_id), then, group="read", failed=self.pane.say)

    def _show(self, reading: Reading, *, focus: bool) -> None:
        self.pane.show(reading)
        if focus:
            self.add_class("-reading")
            self.call_after_refresh(self.pane.lines.focus)
        self.refresh_bindings()

    @on(OptionList.OptionSelected, "#reading-lines")
    def action_sources(self) -> None:
        """The sources of the line under the cursor."""
        reading = self.pane.reading
        if reading is not None:
            one = self.pane.line_here
            title = f"Sources: {reading.name}{', ' + one.label if one else ''}"
            self.app.push_screen(SourceView(title, source_words(reading, one)))

    def action_links(self) -> None:
        """Other entries that this one names."""
        reading = self.pane.reading
        if reading is not None:
            self.ask(partial(links, reading=reading), partial(self._links, reading), group="links")

    def _links(self, reading: Reading, found: list[Link]) -> None:
        if not found:
            self.bench.say(f"{reading.name} names no other entry.")
            return
        self.app.push_screen(LinksScreen(reading.name, found), self._go)

    def _go(self, link: Link | None) -> None:
        if link is not None:
            self.trail.append((link.kind, link.id))
            self._fetch(focus=True)

    def action_safety(self) -> None:
        """The safety note of a liquid."""
        reading = self.pane.reading
        if reading is not None and reading.kind == "liquid":
            self.ask(partial(_safety, liquid=reading.id), self._safety, group="safety")

    def _safety(self, note: SafetyNote) -> None:
        self.app.push_screen(NoteScreen(f"Safety: {note.name}", full_safety(note)))

    def action_back(self) -> None:
        """One step back: entry before, list, line to type in, nothing typed."""
        if self.focused is self.pane.lines or self.has_class("-reading"):
            if len(self.trail) > 1:
                self.trail.pop()
                self._fetch(focus=True)
                return
            self._to_list()
            self.hits.focus()
        elif self.focused is self.typed:
            self.typed.value = ""
        else:
            self.typed.focus()

    def _to_list(self) -> None:
        """On a narrow screen the list takes the place of what was read."""
        self.remove_class("-reading")
        if self.focused is self.pane.lines:
            self.hits.focus()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys that would do nothing here are not shown."""
        if isinstance(self.focused, Input) and action in {*ON_A_READING, "find"}:
            return False
        if action in ON_A_READING:
            reading = self.pane.reading
            shown = self.has_class("-wide") or self.has_class("-reading")
            return reading is not None and shown and (action != "safety" or reading.kind == "liquid")
        return True

    def on_descendant_focus(self) -> None:
        """Other keys work in the line than in the list."""
        self.refresh_bindings()


def _found_row(one: Found, only: str) -> Content:
    """Name, kind unless it is the only one asked for, and the other name that matched."""
    kind = "" if one.kind == only else f" - {one.kind}"
    also = f" ({cut(one.matched, 40)})" if one.matched and one.matched not in one.name.casefold() else ""
    return line(f"{cut(one.name, 100)}{kind}{also}")


def find(studio: Studio, *, text: str, kind: str, fresh: bool) -> list[Found]:
    """What fits the typed words, best first; with nothing typed all entries of the kind."""
    from kb.desk import lookup

    if fresh:
        studio.refresh()
    if text.strip():
        return lookup.find(studio, text, (kind,) if kind else (), AT_MOST)
    return lookup.all_of(studio, kind)[:LISTED] if kind else []


def _read(studio: Studio, *, kind: str, entry_id: str) -> Reading:
    from kb.desk.lookup import read

    return read(studio, kind, entry_id)


def _safety(studio: Studio, *, liquid: str) -> SafetyNote:
    from kb.desk.safety import safety_note

    return safety_note(studio, {liquid: 1.0})
