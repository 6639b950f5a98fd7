"""Washing: which is possible for a sheet, a reading of each bath in one line, and when to stop.

A reading of a bath from one typed line: ``bath 2, 10 min, pH 6.9, 320 uS, 18 C, colour pale straw``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any, ClassVar, NamedTuple

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Input, Static

from kb.book.kinds.bath_reading import BathReading
from kb.book.kinds.field import fields
from kb.desk.amounts import BY_UNIT, per_area_g_m2, size_mm
from kb.desk.errors import DeskError
from kb.desk.records.record import Written, storable
from kb.desk.studio import Studio
from kb.desk.water.readings import READ, ReadingView, add_reading, all_readings, over_baths
from kb.desk.water.wash import NAMES, Size, Washing, plan_known
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.drawing import drawn
from kb.tui.screens.ask_why import AskWhy, withdraw
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.screens.water.bath_form import QUESTION, InReach, asked_of, of_question
from kb.tui.text import cut, plain
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field, FormInput, SheetField
from kb.tui.widgets.page import OPENS, Page, PageScreen
from kb.tui.widgets.plain_input import PlainInput

EXAMPLE = "bath 2, 10 min, pH 6.9, 320 uS, 18 C, colour pale straw"
WORDS = "also: water ..., by float, batch 01ABC, note ..."
_BATH = re.compile(r"bath\s*(\d+)", re.IGNORECASE)
_PH = re.compile(r"ph\s*=?\s*(\d+(?:[.,]\d+)?)", re.IGNORECASE)
_AMOUNTS = {one.name: BY_UNIT[one.says.unit] for one in fields(BathReading) if one.says.unit in BY_UNIT}
"""Figures that are known by their unit, and how each is read."""
_TOLD = re.compile(r"(colour|color|water|by|method|batch|note|remarks)\s*[:=]?\s+(.+)", re.IGNORECASE)
_FIELDS = {"color": "colour", "by": "method", "note": "remarks"}


def reading(studio: Studio, sheet: str, text: str) -> BathReading:
    """The reading that a line says. Without "bath N" it goes on in the last bath of the sheet.

    Raises DeskError naming the piece that is not understood, so that nothing is written down half.
    """
    from kb.desk.making.batches import batch_id

    if not sheet.strip():
        raise DeskError("Name the sheet first.")
    fields: dict[str, Any] = {}
    for piece in re.split(r";|,(?!\d)", text):
        if piece.strip():
            name, value = _piece(piece.strip())
            if name in fields:
                raise DeskError(f'"{piece.strip()}": {name.split("_")[0]} is said twice.')
            fields[name] = value
    if not set(fields) - {"bath", "minutes"}:
        raise DeskError(f"Nothing was read yet. Write, for instance: {EXAMPLE}.")
    if "batch" in fields:
        fields["batch"] = batch_id(studio, fields["batch"])
    if "bath" not in fields:
        fields["bath"] = max((one.reading.bath for one in all_readings(studio, sheet)), default=1)
    return BathReading(sheet=sheet.strip(), **fields)


def _piece(text: str) -> tuple[str, Any]:
    if found := _figure(text):
        return found
    if text.lower() in NAMES:
        return "method", text.lower()
    if told := _TOLD.fullmatch(text):
        word = told[1].lower()
        if word in {"colour", "color"} and re.search(r"\d", told[2]):
            raise DeskError(f'"{text}": a colour has no figures; put commas between what was read.')
        return _FIELDS.get(word, word), told[2].strip()
    words = text.split(" ")
    for count in range(len(words) - 1, 0, -1):
        if _figure(before := " ".join(words[:count])):
            raise DeskError(f'"{text}": a comma is missing after "{before}". {WORDS[:1].upper()}{WORDS[1:]}.')
    if re.search(r"\d,\d{3}(?!\d)", text):
        raise DeskError(f'"{text}" can be read in two ways: write it without the comma.')
    raise DeskError(f'"{text}" is not understood. Write, for instance: {EXAMPLE}; {WORDS}.')


def _figure(text: str) -> tuple[str, Any] | None:
    """The field and its value, where a number with its unit or its name says it."""
    if found := _BATH.fullmatch(text):
        return "bath", int(found[1])
    if found := _PH.fullmatch(text):
        return "ph", float(found[1].replace(",", "."))
    if re.fullmatch(r"[\d.,\s]*", text):
        return None
    for name, read in _AMOUNTS.items():
        try:
            return name, read(text)
        except DeskError:
            continue
    return None


WASH = (
    Act("reading", "r", "Reading", "Write down a reading of the bath in one line"),
    Act("form", "slash", "Form", "To the lines above", shown="/"),
    Act("take_back", "w", "Withdraw", "The last reading was written down by mistake; say why"),
    Act("to_page", "escape", "Back", "From a line to the plan, where the letters are keys; then back"),
)
LETTERS = {"reading", "form", "take_back"}
NOT_YET = "Not stored yet: {}. R, then Enter stores it; Esc again leaves without it."


class ReadingLine(PlainInput):
    """The line for a reading. R before all else is the key that leads here, pressed by who is here already.

    "remarks" is the one word of a reading that begins with it.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "submit", "Store", key_display="Enter")]

    def on_key(self, event: events.Key) -> None:
        """What follows the R takes its place."""
        if self.value in {"r", "R"} and event.is_printable and (event.character or "").casefold() != "e":
            self.value = ""


HINTS = {"size": "such as 420 x 594 mm", "grammage": "such as 100 g/m2"}
ALKALI = (
    One("w", "water", "water only", "W water"),
    One("a", "alkaline", "more is forbidden, and more to be tested", "A alkaline"),
)


class Typed(NamedTuple):
    sheet: str
    size: str
    tray: str
    grammage: str
    alkaline: bool


class Washed(NamedTuple):
    """What there is to show of a sheet. ``said`` is the answer, and whether it forbids."""

    sections: list[tuple[str, list[str]]]
    readings: Sequence[ReadingView] = ()
    said: str = ""
    forbids: bool = False
    on_record: Mapping[str, str] = MappingProxyType({})
    """What the record of the sheet says of size and grammage: it counts where nothing is typed."""

    @property
    def last(self) -> ReadingView | None:
        return self.readings[-1] if self.readings else None


class WashScreen(PageScreen[None]):
    """Sheet and sizes above, the plan in the middle, the line for a reading below."""

    TITLE_WORDS = "Washing"
    HELP = (
        "Which washing is possible at all for the media and paper of the question (F2) or of the sheet "
        "opened last (F10), as the heading says, the gentlest first. "
        "Without a test with water on this very sheet the answer is to test first. It is a plan and no "
        "permission.\n\n"
        f"A reading is one line, in any order, what was not measured left out: {EXAMPLE}; {WORDS}. Without "
        "'bath 2' it belongs to the last bath. After each one the stop rule is told: when two readings "
        "agree, change the water or stop.\n\n"
        f"{keys_in_words(WASH)}\n{OPENS}\nEnter    In the line for a reading: store it"
    )
    BINDINGS = bindings(WASH)
    CSS = """
    WashScreen #wash-form { height: auto; background: $surface; }
    WashScreen #wash-said { height: auto; max-height: 4; padding: 0 1; }
    WashScreen #wash-verdict { height: auto; padding: 0 1; color: $primary; text-style: bold; }
    WashScreen #wash-verdict.-stop { color: $error; }
    WashScreen Page { height: 1fr; border-top: solid $secondary; }
    WashScreen #wash-ask { height: 1; padding: 0 1; }
    WashScreen #wash-ask Static { width: 9; }
    WashScreen #wash-line { width: 1fr; }
    """

    typing = getters.query_one("#wash-line", Input)

    def __init__(self, near: InReach, *, alkaline: bool = False) -> None:
        super().__init__()
        self.near = near
        self._alkaline = alkaline
        self.last: ReadingView | None = None
        self._storing = False
        self._warned = ""
        """What the key before, if it was Esc, has said is not stored."""

    def body(self) -> ComposeResult:
        with Vertical(id="wash-form"):
            yield SheetField("sheet", "Sheet", self.near.sheet, "which object; ^E lists those there are")
            with Horizontal(classes="pair"):
                for name, label in (("size", "Size"), ("grammage", "Grammage")):
                    yield Field(name, label, "", HINTS[name])
            yield Field("tray", "Tray", "", "such as 700 x 500 mm")
            yield ChoiceRow("alkali", "Bath", ALKALI, "alkaline" if self._alkaline else "water")
        yield Static("", id="wash-verdict", markup=False)
        said = Static("", id="wash-said", markup=False)
        said.display = False
        yield said
        yield Page()
        with Horizontal(id="wash-ask"):
            yield Static("Reading ", markup=False)
            yield ReadingLine(id="wash-line", compact=True, placeholder=f"such as {EXAMPLE}")

    def on_mount(self) -> None:
        """With a sheet one reads the plan; without one its name is wanted."""
        if self.near.sheet:
            self.set_focus(self.page)
        else:
            self.set_focus(self.query_one("#field-sheet", FormInput))

    def on_screen_resume(self) -> None:
        """Tests and readings may have been stored meanwhile."""
        self._warned = ""
        self.look()

    def _typed(self) -> Typed:
        values = {field.name: field.value.strip() for field in self.query(FormInput)}
        alkaline = self.query_one(ChoiceRow).value == "alkaline"
        return Typed(values["sheet"], values["size"], values["tray"], values["grammage"], alkaline)

    @property
    def nothing_typed(self) -> bool:
        """Whether no reading is being written."""
        return not self.typing.value.strip()

    @property
    def unkept(self) -> str:
        """What would go with the program: a half typed name of a sheet could not say whose draft it is."""
        text = self.typing.value.strip()
        return text and f"A reading is not stored yet, and no draft keeps it: {text}."

    def look(self) -> None:
        typed = self._typed()
        near = self.near
        if near.sheet and not typed.sheet and self.bench.in_hand != "nothing":
            # Without its sheet what F2 asks is what is left to plan for.
            near = of_question(asked_of(self.bench))
        verb = partial(fetch, near=near, typed=typed)
        self.ask(verb, self._show, group="wash", failed=self.tell)

    def _show(self, found: Washed) -> None:
        self.last = found.last
        verdict = self.query_one("#wash-verdict", Static)
        verdict.update(plain(found.said))
        verdict.set_class(found.forbids, "-stop")
        for name, hint in HINTS.items():
            known = found.on_record.get(name, "")
            field = self.query_one(f"#field-{name}", FormInput)
            field.placeholder = f"{known}, on record" if known else hint
        self.page.show(found.sections, first=self._curve(found.readings))
        self.refresh_bindings()

    def _curve(self, readings: Sequence[ReadingView]) -> list[Content]:
        """How the conductivity falls, from bath to bath."""
        canvas = over_baths(readings, min(72, max(30, self.page.size.width - 4)), 6)
        return [] if canvas is None else [drawn(canvas.runs(), {READ: "$primary"}), Content("")]

    def tell(self, words: str) -> None:
        said = self.query_one("#wash-said", Static)
        said.update(plain(words))
        said.display = bool(words)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Every letter of the form plans anew; words about what was typed before go."""
        self.tell("")
        if event.input is not self.typing:
            self.look()

    def on_choice_row_changed(self) -> None:
        self.look()

    # -- readings ---------------------------------------------------------------------------------

    @on(Input.Submitted, "#wash-line")
    def store(self) -> None:
        if self._storing:
            return
        self._storing = True
        with_sheet_known(self, self._typed().sheet, self._store, self._not_stored)

    def _store(self, sheet: str, new: bool) -> None:
        text = self.typing.value
        verb = partial(_store, sheet=sheet, new=new, text=text)
        self.ask(verb, partial(self._stored, text=text), group="store", failed=self._not_stored)

    def _stored(self, told: str, text: str) -> None:
        self._storing = False
        # Who reads on the next figure while this one goes to the disk has typed it already.
        if self.typing.value == text:
            with self.prevent(Input.Changed):
                self.typing.value = ""
        # What forbids the bath stands over it already, unless it does so only now.
        above = str(self.query_one("#wash-verdict", Static).content)
        self.tell(f"Stored and on disk.{'' if told.strip() == above else told}")
        self.page.scroll_home(animate=False)
        self.look()

    def _not_stored(self, words: str) -> None:
        self._storing = False
        self.tell(f"Not stored: {words}")
        # Words of the desk begin with the piece they are about: there the cursor is wanted.
        piece = re.match('"(.+?)"', words)
        if piece and (at := self.typing.value.find(piece[1])) >= 0:
            self.typing.cursor_position = at + len(piece[1])

    def action_take_back(self) -> None:
        """The last reading out of all comparisons."""
        if self.last is not None:
            from kb.desk.sheet.plan import reading_line

            says = (
                f"{reading_line(self.last)}\n\nNothing is erased: the reading stays readable, marked as "
                "withdrawn."
            )
            store = partial(withdraw, self.last.id)
            self.app.push_screen(AskWhy("Withdraw a reading", says, "Withdraw it", store), self._taken)

    def _taken(self, written: Written | None) -> None:
        if written is not None:
            self.tell("The reading is withdrawn; it stays readable.")

    # -- getting about ----------------------------------------------------------------------------

    def action_reading(self) -> None:
        """To the line for a reading. At once: what is typed right behind the key belongs there."""
        self.set_focus(self.typing)

    def action_form(self) -> None:
        self.set_focus(self.query_one("#field-sheet", FormInput))

    def on_key(self, event: events.Key) -> None:
        """Only Esc right after Esc leaves without what is typed."""
        if event.key != "escape":
            self._warned = ""

    def action_to_page(self) -> None:
        """To the plan; from there back to the baths. What is typed and not stored is told before it goes."""
        there, typed = self.focused is self.page, self.typing.value
        text = cut(typed.strip(), 40)
        self.page.focus()
        if self._storing:
            return
        # A letter in the line never comes to on_key: what was warned of is compared with what stands there.
        if text and self._warned != typed:
            self._warned = typed
            self.bench.say(NOT_YET.format(text))
        elif there:
            if text:
                self.bench.say(f"Left without: {text}.")
            self.dismiss(None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """In a line letters are letters."""
        on_page = isinstance(self.focused, Page)
        if action == "take_back":
            return on_page and self.last is not None
        return on_page or action not in LETTERS


def fetch(studio: Studio, *, near: InReach, typed: Typed) -> Washed:
    """Stop rule, readings and plan of a sheet."""
    from kb.desk.sheet.facts import SheetFacts, sheet_facts
    from kb.desk.sheet.plan import reading_lines, stop_line, wash_lines

    studio.refresh()
    width, height = size_mm(typed.size) if typed.size else (0.0, 0.0)
    tray = size_mm(typed.tray) if typed.tray else (0.0, 0.0)
    size = Size(
        width_mm=width,
        height_mm=height,
        grammage_g_m2=per_area_g_m2(typed.grammage) if typed.grammage else 0.0,
        tray_w_mm=tray[0],
        tray_h_mm=tray[1],
    )
    # What a question says of another sheet says nothing of this one.
    here = near if near.sheet in {"", typed.sheet} or not typed.sheet else InReach()
    found = plan_known(studio, Washing(typed.sheet, here.media, here.paper, typed.alkaline, size))
    readings = all_readings(studio, typed.sheet) if typed.sheet else []
    facts = sheet_facts(studio, typed.sheet) if typed.sheet else SheetFacts()
    what = ", ".join(one.name for one in found.reach if one.id or one.kind == "medium")
    of = [QUESTION] if here.media or here.paper else []
    of += [f"of sheet {typed.sheet}"] if typed.sheet else []
    parts = [
        (
            f"Washing of {what}, {' and '.join(of)}"
            if what
            else "Washing: no medium and no paper is named (F2)",
            wash_lines(found)[1:],
        ),
        ("Stop rule", [stop_line(found.stop)]),
        ("Readings", reading_lines(readings)),
    ]
    # While one washes the readings are what one looks at, and whether to go on is the answer; what was never
    # tested with water stays said.
    untested = found.verdict in {"no", "test first"}
    goes_on = stop_line(found.stop) if readings and found.verdict != "no" else ""
    said = f"{found.headline if untested or not goes_on else ''} {goes_on}".strip()
    return Washed(
        parts[1:] + parts[:1] if readings else parts,
        readings,
        said,
        found.verdict == "no",
        {"size": facts.size, "grammage": facts.grammage},
    )


def _store(studio: Studio, *, sheet: str, new: bool, text: str) -> str:
    """Write a reading; what forbids the bath that it was read in. Whether to go on stands on the page."""
    from kb.desk.sheet.names import found_sheet

    read = storable("reading", reading(studio, sheet, text))
    if new:
        found_sheet(studio, sheet)
    add_reading(studio, read)
    plan = plan_known(studio, Washing(sheet))
    return f" {plan.headline}" if plan.verdict == "no" else ""
