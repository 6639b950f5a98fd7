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
SAYS = "They hold until Benchleaf is left; the studio's own are {:g} and {}."
KEYS = "Up, Down move; a letter chooses; Esc takes them"


def turned(dials: Dials, usual: Dials) -> str:
    """What holds for every question and is not the studio's own: told with each answer. Empty if all is."""
    harm = f"a harm costs {dials.harm_aversion:g} spots" if dials.harm_aversion != usual.harm_aversion else ""
    ceiling = f"ceiling {percent(dials.ceiling)}" if dials.ceiling != usual.ceiling else ""
    found = ", ".join(filter(None, (harm, ceiling)))
    without = "" if dials.use_print else "Print left out (P). "
    return f"Risk turned (D): {found}. {without}" if found else without


class DialsScreen(ModalScreen[Dials]):
    """Say how much risk one takes; the ranking follows."""

    TITLE_WORDS = "Risk"
    HELP = (
        "How the ranking weighs a chance of harm against a chance of release.\n\n"
        "One harm     How many harmless spots weigh as much as one harm.\n"
        "Ceiling      A liquid is held back if its harm could be above this (upper end of the interval).\n"
        f"Reports      Whether reports in print count.\n\n{KEYS}."
    )
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,ctrl+s", "take", "Take")]

    def __init__(self, dials: Dials, usual: Dials) -> None:
        super().__init__()
        self.dials, self.usual = dials, usual
        """Those that hold, and the studio's own."""

    def compose(self) -> ComposeResult:
        with Sheet("How much risk", KEYS):
            harm = _with(AVERSION, self.dials.harm_aversion, self.usual.harm_aversion)
            yield ChoiceRow("aversion", "One harm", *harm, goes_on=False)
            ceiling = _with(CEILING, self.dials.ceiling, self.usual.ceiling)
            yield ChoiceRow("ceiling", "Ceiling", *ceiling, goes_on=False)
            yield ChoiceRow("print", "Reports", PRINT, "yes" if self.dials.use_print else "no", goes_on=False)
            says = SAYS.format(self.usual.harm_aversion, percent(self.usual.ceiling))
            yield Static(line(says), classes="quiet", markup=False)

    def action_take(self) -> None:
        """The choices as they stand; nothing where none was turned."""
        stand = Dials(
            harm_aversion=float(self.query_one("#aversion", ChoiceRow).value),
            ceiling=float(self.query_one("#ceiling", ChoiceRow).value),
            worth=self.dials.worth,
            use_print=self.query_one("#print", ChoiceRow).value == "yes",
        )
        self.dismiss(stand if stand != self.dials else None)


def _with(found: tuple[One, ...], holds: float, own: float) -> tuple[tuple[One, ...], str]:
    """The choices and the one that holds; the studio's own is there whatever holds, as the way back."""
    for value in (own, holds):
        if all(float(one.value) != value for one in found):
            found = (*found, One("o", f"{value!r}", "the studio's own setting", f"O {value:g}"))
    return found, next(one.value for one in found if float(one.value) == holds)
