"""Narrowing the list of liquids: family, statement on the label, evaporation, held and allowed here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import ClassVar, NamedTuple

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static

from kb.science.numbers import counted
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.materials.materials_ask import Choices, Filter, choices, count
from kb.tui.text import cut, fit, line
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.two_clicks import ClickList

ANY = "any"
LABEL = 22
KEYS = "Left, Right: change; Enter: list; C: clear all; Esc: take"
EVAPORATION = (
    "fast is a relative rate above 3, slow below 0.8 (n-butyl acetate = 1; bounds from memory). Where no "
    "rate is known, a liquid meets none of them."
)


class Value(NamedTuple):
    """One value that a line can have: how it changes the filter, and its words."""

    takes: Callable[[Filter], Filter]
    words: str


class Row(NamedTuple):
    """One line of the form. The first value is: any."""

    label: str
    values: tuple[Value, ...]
    now: Callable[[Filter], bool | str | None]


def rows_of(known: Choices) -> tuple[Row, ...]:
    """The lines of the form for what the catalogue holds."""
    families = [
        Value(partial(_put, family=key, family_name=name), cut(name, 60)) for key, name in known.families
    ]
    hazards = [Value(partial(_put, hazard=code), cut(f"{code} {text}", 60)) for code, text in known.hazards]
    rates = [Value(partial(_put, evaporation=one), one) for one in ("fast", "medium", "slow")]
    held = [Value(partial(_put, held=True), "held here"), Value(partial(_put, held=False), "not held here")]
    allowed = [
        Value(partial(_put, allowed=True), "allowed here"),
        Value(partial(_put, allowed=False), "forbidden here"),
    ]
    return (
        _row("Family", [Value(partial(_put, family="", family_name=""), ANY), *families], "family"),
        _row("Statement on the label", [Value(partial(_put, hazard=""), ANY), *hazards], "hazard"),
        _row("Evaporation", [Value(partial(_put, evaporation=None), ANY), *rates], "evaporation"),
        _row("Held", [Value(partial(_put, held=None), ANY), *held], "held"),
        _row("Allowed", [Value(partial(_put, allowed=None), ANY), *allowed], "allowed"),
    )


def _put(old: Filter, **changed: object) -> Filter:
    return old._replace(**changed)  # type: ignore[arg-type]


def _row(label: str, values: Sequence[Value], field: str) -> Row:
    return Row(label, tuple(values), lambda now: getattr(now, field))


def place(row: Row, now: Filter) -> int:
    """Which value of a line holds; 0 (any) if it is none of those offered."""
    held = row.now(now)
    return next((at for at, one in enumerate(row.values) if row.now(one.takes(Filter())) == held), 0)


class FilterList(ClickList):
    """The lines; left and right change the one under the cursor."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "screen.change(-1)", "Before", show=False),
        Binding("right", "screen.change(1)", "Next", show=False),
    ]


class FilterScreen(AtDesk, ModalScreen[Filter]):
    """Five lines. What is set holds when the form is left; C takes all of it away."""

    SAID = "#filter-said"
    TITLE_WORDS = "Filter of liquids"
    HELP = (
        "Narrows the list of liquids. Left and Right go through the values of a line, Enter lists them. A "
        "liquid must meet every line that is not 'any'.\n\n"
        f"Evaporation: {EVAPORATION}\n"
        "Held and Allowed follow this studio's shelf (H in the materials); with nothing listed there, "
        f"everything counts as held.\n\n{KEYS}."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,f,F,ctrl+s", "take", "Take", key_display="Esc"),
        Binding("c,C", "clear", "Clear", key_display="C"),
    ]

    def __init__(self, now: Filter) -> None:
        super().__init__()
        self.now = now
        self.rows: tuple[Row, ...] = ()

    def compose(self) -> ComposeResult:
        with Sheet(self.TITLE_WORDS, KEYS):
            yield FilterList(id="filter-lines")
            yield Static("", id="filter-said", classes="quiet", markup=False)

    def on_mount(self) -> None:
        """Ask what there is to choose from."""
        self.set_focus(self.query_one(FilterList))
        self.ask(choices, self._known, group="choices", failed=self.tell)

    def _known(self, known: Choices) -> None:
        self.rows = rows_of(known)
        self._draw(0)

    def _draw(self, at: int) -> None:
        self.query_one(FilterList).fill(map(self._words, self.rows), at)
        self.ask(partial(count, narrowed=self.now), self._counted, group="count", failed=self.tell)

    def _words(self, row: Row) -> Text:
        value = row.values[place(row, self.now)].words
        return Text(f"{fit(row.label, LABEL)} {value if value == ANY else f'[{value}]'}", no_wrap=True)

    def _counted(self, found: int) -> None:
        words = self.now.words
        self.tell(f"{counted(found, 'liquid')}{f': {words}' if words else '; nothing is narrowed'}")

    @property
    def _here(self) -> int:
        return self.query_one(FilterList).highlighted or 0

    def action_change(self, step: int) -> None:
        """The value before or after, round and round."""
        if self.rows:
            row = self.rows[self._here]
            self._take(row, (place(row, self.now) + step) % len(row.values))

    def _take(self, row: Row, at: int | None) -> None:
        if at is not None:
            self.now = row.values[at].takes(self.now)
            self._draw(self._here)

    @on(OptionList.OptionSelected, "#filter-lines")
    def list_values(self, event: OptionList.OptionSelected) -> None:
        row = self.rows[event.option_index]
        values = ValuesScreen(row.label, [one.words for one in row.values], place(row, self.now))
        self.app.push_screen(values, partial(self._take, row))

    def action_clear(self) -> None:
        self.dismiss(Filter())

    def action_take(self) -> None:
        self.dismiss(self.now)


class ValuesScreen(ModalScreen[int]):
    """The values of one line; Enter takes one."""

    TITLE_WORDS = "Choose a value"
    HELP = "Arrow keys move, Enter takes the value, Esc leaves it as it was."
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    CSS = "ValuesScreen OptionList { height: auto; max-height: 16; }"

    def __init__(self, title: str, values: Sequence[str], at: int) -> None:
        super().__init__()
        self.heading, self.values, self.at = title, values, at

    def compose(self) -> ComposeResult:
        with Sheet(self.heading, "Enter takes, Esc leaves it"):
            yield ClickList(*map(line, self.values))

    def on_mount(self) -> None:
        """Stand on what holds now."""
        self.query_one(OptionList).highlighted = self.at

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(event.option_index)
