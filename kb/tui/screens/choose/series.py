"""The series of spots: what each outcome would mean, the card in a file, and the card typed in afterwards."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.text import line, plain
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import PlainInput

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.question import Answer, Question

KEYS = "Tab moves; Ctrl+S stores; Ctrl+W writes the card; Esc leaves."
EMPTY = "Nothing is filled in yet. Beside a liquid, for instance: 30s, release 2, bleed 0, tideline 1"


class SeriesScreen(AtDesk, ModalScreen["tuple[str, str] | None"]):
    """One line for each spot; what is left empty was not made. Gives back the sheet, and what was stored."""

    TITLE_WORDS = "Series"
    HELP = (
        "Spots planned before the sheet is touched, each for the case that those before it failed without "
        "harm. Ctrl+W writes the card as a page to print and to fill in by hand at the bench.\n\n"
        "Afterwards type each spot beside its liquid as it stands on the card: dwells (30s, 1 min), the "
        "grade of release (release 2) and of each harm that was looked at (bleed 0, tideline 1; all 0 if "
        "every kind was looked at and none seen). 'look' makes it a look on bare paper. 'at lower left' at "
        "the end is the place. A kind of harm that is not named counts as not looked at. Ctrl+S stores all "
        "lines at once, and none if one cannot be read.\n\n"
        f"{KEYS}"
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store", priority=True),
        Binding("ctrl+w", "write_card", "Card", priority=True),
        Binding("escape", "leave", "Back"),
    ]
    CSS = """
    SeriesScreen #steps { height: auto; max-height: 80%; }
    SeriesScreen Input { height: 1; border: none; background: $panel; margin: 0 0 0 3; }
    """

    def __init__(self, answer: Answer) -> None:
        super().__init__()
        self.answer = answer
        self.steps = answer.series
        self._storing = False
        self._kept: tuple[str, str] | None = None
        """What was stored before the disk refused the rest."""

    def compose(self) -> ComposeResult:
        """The plan, a line to type in under each spot, and the sheet."""
        from kb.desk.choose.words import before_spot, outcomes, series_in_short

        with Sheet("Series of spots", KEYS, id="series"):
            yield Static(line(series_in_short(self.answer)), markup=False)
            yield PlainInput(
                self.answer.question.sheet, placeholder="the sheet, if it has a name", id="sheet"
            )
            with VerticalScroll(id="steps"):
                for place, step in enumerate(self.steps):
                    said = " ".join((before_spot(place + 1, step), *outcomes(step)))
                    yield Static(plain(said), markup=False)
                    yield PlainInput(
                        "", placeholder="30s, release 2, bleed 0, tideline 1", id=f"spot-{place}"
                    )
            yield Static("", id="series-said", markup=False)

    def on_mount(self) -> None:
        """One starts with the first spot."""
        self.query_one("#spot-0", Input).focus()

    def action_store(self) -> None:
        if self._storing:
            return
        typed = {place: self.query_one(f"#spot-{place}", Input).value for place in range(len(self.steps))}
        filled = {place: text for place, text in typed.items() if text.strip()}
        if not filled:
            self._say(EMPTY)
            return
        self._storing = True
        sheet = self.query_one("#sheet", Input).value
        with_sheet_known(self, sheet, partial(self._store, filled), self._not_stored)

    def _store(self, filled: dict[int, str], sheet: str, new: bool) -> None:
        import msgspec

        asked = msgspec.structs.replace(self.answer.question, sheet=sheet)
        parts = {place: self._parts(place) for place in filled}
        verb = partial(_store, asked=asked, new=new, filled=filled, parts=parts)
        self.ask(verb, partial(self._stored, sheet), group="store", failed=self._not_stored)

    def _stored(self, sheet: str, told: tuple[str, list[int], str]) -> None:
        said, stored, refused = told
        before = f"{self._kept[1]} " if self._kept else ""
        self._kept = (sheet, f"{before}{said}")
        if not refused:
            self.dismiss(self._kept)
            return
        # What is in the book must not be stored again by the next try.
        for place in stored:
            self.query_one(f"#spot-{place}", Input).value = ""
        self._not_stored(f"{refused} {said}")

    def _not_stored(self, words: str) -> None:
        self._storing = False
        self._say(f"Not stored: {words}")

    def _parts(self, place: int) -> dict[str, float]:
        """What is put on in a step: the series leads with the leaders of lines."""
        liquid = self.steps[place].liquid
        lead = next(one.lead for one in self.answer.groups if one.liquid == liquid)
        return {liquid: 1.0} if lead is None else dict(lead.parts)

    def action_write_card(self) -> None:
        """The card in a file beside the studio's other exports."""
        from kb.desk.choose.card import card
        from kb.tui.exports import plain_stem, write_new

        try:
            sheet = self.answer.question.sheet or "sheet"
            path = write_new(
                self.bench.studio, plain_stem("series-", sheet, "card"), ".txt", card(self.answer)
            )
        except OSError as error:
            self._say(f"The card was not written: {error.strerror}.")
        else:
            self._say(f"The card is written: {path}")

    def _say(self, text: str) -> None:
        self.query_one("#series-said", Static).update(plain(text))

    def action_leave(self) -> None:
        if not self._storing:
            self.dismiss(self._kept)


def _store(
    studio: Studio, *, asked: Question, new: bool, filled: dict[int, str], parts: dict[int, dict[str, float]]
) -> tuple[str, list[int], str]:
    """Read every line, then store them. For a thread.

    What was understood of those that are stored, their places, and why the rest is not, if the disk refused.
    """
    from kb.desk.choose.may_be import from_sheet
    from kb.desk.errors import DeskError
    from kb.desk.materials.resolve import liquids
    from kb.desk.records.record import add_test
    from kb.desk.records.typed import graded, spot
    from kb.desk.sheet.names import found_sheet

    asked = from_sheet(studio, asked)
    tests = {place: spot(asked, parts[place], text, f"Spot {place + 1}") for place, text in filled.items()}
    if new:
        found_sheet(studio, asked.sheet)
    said: list[str] = []
    for place, test in tests.items():
        try:
            add_test(studio, test)
        except DeskError as error:
            if not said:
                raise
            return " ".join(said), list(tests)[: len(said)], f"spot {place + 1} and what follows. {error}"
        said.append(f"Stored and on disk: {liquids(studio, test.parts)}; {'; '.join(graded(test))}.")
    return " ".join(said), list(tests), ""
