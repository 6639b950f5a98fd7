"""How much risk one takes: what a harm costs, how much is accepted, and whether print counts."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Static

from kb.model.question import CEILINGS, HARM_AVERSIONS, Dials
from kb.science.numbers import percent
from kb.tui.text import line
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.frame import Sheet

AVERSION = tuple(
    One(name[0], f"{value:g}", f"{name}: a harm costs {value:g} spots", f"{name[0].upper()} {value:g}")
    for name, value in HARM_AVERSIONS.items()
)
CEILING = tuple(
    One(
        name[0],
        f"{value:g}",
        f"{name}: above {percent(value)} held back",
        f"{name[0].upper()} {percent(value)}",
    )
    for name, value in CEILINGS.items()
)
PRINT = (
    One("y", "yes", "reports in print count, by their weight", "Y yes"),
    One("n", "no", "reports in print are left out", "N no"),
)
SAYS = "They hold until Benchleaf is left. The studio's own settings are in studio.yaml."
KEYS = "Up, Down move; a letter chooses; Esc takes them"


def turned(dials: Dials, usual: Dials) -> str:
    """What holds for every question and is not the studio's own: told with each answer. Empty if all is."""
    harm = f"a harm costs {dials.harm_aversion:g} spots" if dials.harm_aversion != usual.harm_aversion else ""
    ceiling = f"ceiling {percent(dials.ceiling)}" if dials.ceiling != usual.ceiling else ""
    found = [one for one in (harm, ceiling) if one]
    return f"Risk turned (D): {', '.join(found)}. " if found else ""


class DialsScreen(ModalScreen[Dials]):
    """Say how much risk one takes; the ranking follows."""

    TITLE_WORDS = "Risk"
    HELP = (
        "How the ranking weighs a chance of harm against a chance of release.\n\n"
        "One harm     How many harmless spots weigh as much as one harm.\n"
        "Ceiling      A liquid is held back if its harm could be above this (upper end of the interval).\n"
        f"Reports      Whether reports in print count.\n\n{KEYS}."
    )
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,ctrl+s", "take", "Take", priority=True)]

    def __init__(self, dials: Dials) -> None:
        super().__init__()
        self.dials = dials

    def compose(self) -> ComposeResult:
        with Sheet("How much risk", KEYS):
            yield ChoiceRow("aversion", "One harm", *_with(AVERSION, self.dials.harm_aversion), goes_on=False)
            yield ChoiceRow("ceiling", "Ceiling", *_with(CEILING, self.dials.ceiling), goes_on=False)
            yield ChoiceRow("print", "Reports", PRINT, "yes" if self.dials.use_print else "no", goes_on=False)
            yield Static(line(SAYS), classes="quiet", markup=False)

    def action_take(self) -> None:
        """The choices as they stand."""
        self.dismiss(
            Dials(
                harm_aversion=float(self.query_one("#aversion", ChoiceRow).value),
                ceiling=float(self.query_one("#ceiling", ChoiceRow).value),
                worth=self.dials.worth,
                use_print=self.query_one("#print", ChoiceRow).value == "yes",
            )
        )


def _with(usual: tuple[One, ...], value: float) -> tuple[tuple[One, ...], str]:
    """The choices and the one that holds; a value of the studio's own is added as a choice."""
    for one in usual:
        if abs(float(one.value) - value) < 1e-9:
            return usual, one.value
    own = f"{value!r}"
    return (*usual, One("o", own, f"the studio's own setting, {value:g}", f"O {value:g}")), own
