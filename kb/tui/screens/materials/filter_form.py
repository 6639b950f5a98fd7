"""Narrowing the list of liquids: family, statement on the label, evaporation, held and allowed here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, ClassVar, NamedTuple

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static

from kb.science.numbers import counted
from kb.tui.inside_textual import keyed
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.materials.materials_ask import ALLOWED, HELD, Choices, Filter, choices, count
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


class Row(NamedTuple):
    """One line of the form: the field that it narrows by, what each of its values changes, and its words."""

    label: str
    field: str
    values: tuple[tuple[Mapping[str, Any], str], ...]

    def place(self, now: Filter) -> int:
        """Which value holds; 0 (any) if it is none of those offered."""
        held = getattr(now, self.field)
        return next((at for at, (changes, _) in enumerate(self.values) if changes[self.field] == held), 0)


def rows_of(known: Choices) -> tuple[Row, ...]:
    """The lines of the form for what the catalogue holds. The first value is: any."""
    families = (({"family": key, "family_name": name}, cut(name, 60)) for key, name in known.families)
    hazards = (({"hazard": code}, cut(f"{code} {text}", 60)) for code, text in known.hazards)
    return (
        Row("Family", "family", (({"family": "", "family_name": ""}, ANY), *families)),
        Row("Statement on the label", "hazard", (({"hazard": ""}, ANY), *hazards)),
        *(
            Row(field.capitalize(), field, tuple(({field: one}, words or ANY) for one, words in values))
            for field, values in (
                ("evaporation", ((None, ""), *((one, one) for one in ("fast", "medium", "slow")))),
                ("held", HELD.items()),
                ("allowed", ALLOWED.items()),
            )
        ),
    )


THROUGH = (
    Binding("left", "screen.change(-1)", "Before", show=False),
    Binding("right", "screen.change(1)", "Next", show=False),
)
"""Keys that change the line under the cursor."""


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
            yield keyed(
                ClickList(id="filter-lines"),
                Binding("left", "screen.change(-1)", "Before", show=False),
                Binding("right", "screen.change(1)", "Next", show=False),
            )
            yield Static("", id="filter-said", classes="quiet", markup=False)

    def on_mount(self) -> None:
        self.set_focus(self.query_one(ClickList))
        self.ask(choices, self._known, group="choices", failed=self.tell)

    def _known(self, known: Choices) -> None:
        self.rows = rows_of(known)
        self._draw(0)

    def _draw(self, at: int) -> None:
        self.query_one(ClickList).fill(map(self._words, self.rows), at)
        self.ask(partial(count, narrowed=self.now), self._counted, group="count", failed=self.tell)

    def _words(self, row: Row) -> Text:
        value = row.values[row.place(self.now)][1]
        return Text(f"{fit(row.label, LABEL)} {value if value == ANY else f'[{value}]'}", no_wrap=True)

    def _counted(self, found: int) -> None:
        words = self.now.words
        self.tell(f"{counted(found, 'liquid')}{f': {words}' if words else '; nothing is narrowed'}")

    @property
    def _here(self) -> int:
        return self.query_one(ClickList).highlighted or 0

    def action_change(self, step: int) -> None:
        """The value before or after, round and round."""
        if self.rows:
            row = self.rows[self._here]
            self._take(row, (row.place(self.now) + step) % len(row.values))

    def _take(self, row: Row, at: int | None) -> None:
        if at is not None:
            self.now = self.now._replace(**row.values[at][0])
            self._draw(self._here)

    @on(OptionList.OptionSelected, "#filter-lines")
    def list_values(self, event: OptionList.OptionSelected) -> None:
        row = self.rows[event.option_index]
        values = ValuesScreen(row.label, [words for _, words in row.values], row.place(self.now))
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
        self.query_one(OptionList).highlighted = self.at

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(event.option_index)
