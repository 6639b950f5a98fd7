"""The series of spots: what each outcome would mean, the card in a file, and the card typed in afterwards."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from kb.desk.errors import DeskError
from kb.desk.materials.resolve import liquids
from kb.tui.screens.ask_why import AS_LEFT, OnTop, draft_named
from kb.tui.screens.records.draft import NO_SHEET, STORES_WITHOUT
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.text import line, plain
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import PlainInput

if TYPE_CHECKING:
    from kb.desk.drafts import Draft
    from kb.desk.studio import Studio
    from kb.model.question import Answer, Question

KEYS = "Tab moves; Ctrl+S stores; Ctrl+W writes card; Esc keeps a draft"
LIKE = "30s, release 2, bleed 0, tideline 1"
EMPTY = f"Nothing is filled in yet. Beside a liquid, for instance: {LIKE}"
GONE = "Written before, of what this series no longer has: {}. F9 throws it away."
SHEET = "sheet"
"""Of what is written the one line that bears no liquid."""


def _asked(answer: Answer) -> str:
    """What a card is of: the question without chances and without its sheet, that a stored test puts in."""
    may_be = sorted({(one.adhesive, one.stage, one.carrier) for one in answer.question.may_be})
    return draft_named(
        "series", repr(msgspec.structs.replace(answer.question, sheet="", may_be=())), f"{may_be}"
    )


def is_of(kept: Draft | None, answer: Answer) -> bool:
    """Whether a card that was left is of this question; what was begun for another sheet is another card."""
    again = kept.again if kept and isinstance(kept.again, dict) else {}
    if kept is None or again.get("series") != _asked(answer):
        return False
    begun, sheet = again[SHEET] or kept.values[SHEET], answer.question.sheet
    return not begun or not sheet or begun.strip().casefold() == sheet.casefold()


def card_of(answer: Answer, drafts: Mapping[str, Draft]) -> str:
    """The draft of its card; where none was left, what it will be called."""
    own = draft_named(_asked(answer), answer.question.sheet)
    left = (name for name, kept in drafts.items() if is_of(kept, answer))
    return own if own in drafts else next(left, own)


class SeriesScreen(OnTop, ModalScreen["tuple[str, str] | None"]):
    """One line for each spot; what is left empty was not made. Gives back the sheet, and what was stored."""

    SAID = "#series-said"
    TITLE_WORDS = "Series"
    HELP = (
        "Spots planned before the sheet is touched, each for the case that those before it failed without "
        "harm. Ctrl+W writes the card as a page to print and to fill in by hand at the bench.\n\n"
        "Afterwards type each spot beside its liquid as it stands on the card: dwells (30s, 1 min), the "
        "grade of release (release 2) and of each harm that was looked at (bleed 0, tideline 1; all 0 if "
        "every kind was looked at and none seen). 'look' makes it a look on bare paper. 'at lower left' at "
        "the end is the place. A kind of harm that is not named counts as not looked at. Ctrl+S stores all "
        "lines at once, and none if one cannot be read. Esc keeps what is written; F9 throws it away.\n\n"
        f"{KEYS}"
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store"),
        Binding("ctrl+w", "write_card", "Card", priority=True),
        Binding("f9", "throw_away", "Throw away"),
        Binding("escape", "leave", "Back"),
    ]
    CSS = """
    SeriesScreen #steps { height: auto; max-height: 58vh; }
    SeriesScreen .spot { height: auto; }
    SeriesScreen .then { padding: 0 0 0 3; color: $secondary; }
    SeriesScreen Input { height: 1; border: none; background: $panel; margin: 0 0 0 3; }
    """

    def __init__(self, answer: Answer, about: str, draft: str) -> None:
        super().__init__()
        self.answer, self.about = answer, about
        self.steps = answer.series
        self.draft_name, self._begun = draft, answer.question.sheet
        self._sheetless = False
        """Whether it was asked for the sheet already."""
        self._gone: dict[str, str] = {}
        """Lines that are kept and have no place: what was stored since then changed the series."""

    def compose(self) -> ComposeResult:
        from kb.desk.choose.words import before_spot, outcomes, series_in_short

        kept = self.bench.drafts.get(self.draft_name)
        # By liquid and never by place: what came of one must not stand beside another.
        now: dict[str, str] = dict(kept.values) if kept else {SHEET: self.answer.question.sheet}
        self._begun = (kept.again[SHEET] if kept else "") or self._begun
        self._gone = {name: now[name] for name in now.keys() - {SHEET, *(step.liquid for step in self.steps)}}
        with Sheet("Series of spots", KEYS, id="series"):
            yield Static(line(series_in_short(self.answer)), markup=False)
            # A card begun before its question had a sheet is stored on the one that the question has now.
            sheet = now.get(SHEET, "").strip() or self._begun
            yield PlainInput(sheet, placeholder="the sheet, if it has a name", id=SHEET)
            told = [outcomes(step) for step in self.steps]
            of_all = [said for said in told[0] if len(told) > 1 and all(said in one for one in told)]
            # Not a stop of Tab: what is typed there would be lost.
            with VerticalScroll(can_focus=False, id="steps"):
                for place, step in enumerate(self.steps):
                    # Its line lies between, under its own name and not under what would come after it.
                    with Vertical(classes="spot"):
                        yield Static(plain(before_spot(place + 1, step)), markup=False)
                        text = now.get(step.liquid, "")
                        yield PlainInput(text, placeholder=f"such as {LIKE}", id=f"spot-{place}")
                    then = " ".join(said for said in told[place] if said not in of_all)
                    yield Static(plain(then), classes="then", markup=False)
                if of_all:
                    yield Static(plain(f"Of each: {' '.join(of_all)}"), markup=False)
            gone = "; ".join(f"{name}: {text}" for name, text in self._gone.items())
            said = GONE.format(gone) if gone else AS_LEFT if kept else ""
            yield Static(plain(said), id="series-said", markup=False)

    def on_mount(self) -> None:
        # Not into the middle, as the library would: its name stands above it.
        self.set_focus(self.query_one("#spot-0", Input), scroll_visible=False)

    @on(events.DescendantFocus)
    def _named(self, event: events.DescendantFocus) -> None:
        """The name of its liquid is in sight with a line: what came of one is not typed beside another."""
        if isinstance(spot := event.widget.parent, Vertical) and spot.has_class("spot"):
            self.call_after_refresh(spot.scroll_visible, animate=False)

    @property
    def filled(self) -> dict[int, str]:
        """What is written, by the place of its spot."""
        typed = {place: self.query_one(f"#spot-{place}", Input).value for place in range(len(self.steps))}
        return {place: text for place, text in typed.items() if text.strip()}

    @on(Input.Changed)
    def typed(self) -> None:
        if self._storing:
            return
        spots = self._gone | {self.steps[place].liquid: text for place, text in self.filled.items()}
        if spots:
            sheet = self.query_one(f"#{SHEET}", Input).value
            # Of one question there may be a card for each sheet: the one that it is found again by.
            on = self._begun or sheet.strip()
            says = f'the card of the series "{self.about}"{on and f" on {on}"}'
            again = {"series": _asked(self.answer), SHEET: self._begun}
            self.bench.keep_draft(self.draft_name, says, {SHEET: sheet, **spots}, again)
        else:
            self.bench.drop_draft(self.draft_name)

    def action_store(self) -> None:
        if self._storing:
            return
        filled = self.filled
        if not filled:
            self.tell(EMPTY)
            return
        sheet = self.query_one(f"#{SHEET}", Input).value
        if not (sheet.strip() or self._sheetless):
            # Asked once, as on the form of one test.
            self._sheetless = True
            self.tell(NO_SHEET + STORES_WITHOUT)
            self.query_one(f"#{SHEET}").focus()
            return
        self._storing = True
        with_sheet_known(self, sheet, partial(self._store, filled), self.refused)

    def _store(self, filled: dict[int, str], sheet: str, new: bool) -> None:
        asked = msgspec.structs.replace(self.answer.question, sheet=sheet)
        parts = {place: self._parts(place) for place in filled}
        verb = partial(_store, asked=asked, new=new, filled=filled, parts=parts)
        self.ask(verb, partial(self._stored, sheet), group="store", failed=self.refused)

    def refused(self, words: str) -> None:
        super().refused(words)
        if found := re.match(r"Spot (\d+):", words):
            self.query_one(f"#spot-{int(found[1]) - 1}").focus()

    def _stored(self, sheet: str, told: tuple[str, list[int], str]) -> None:
        said, stored, refused = told
        before = f"{self.kept[1]} " if self.kept else ""
        self.kept = (sheet, f"{before}{said}")
        # What is in the book must not be stored again by the next try.
        for place in stored:
            self.query_one(f"#spot-{place}", Input).value = ""
        if refused:
            self.refused(f"{refused} {said}")
        else:
            self._storing = False
            self.typed()
            self.dismiss(self.kept)

    def _parts(self, place: int) -> dict[str, float]:
        """What is put on in a step: the series leads with the leaders of lines."""
        liquid = self.steps[place].liquid
        lead = next(one.lead for one in self.answer.groups if one.liquid == liquid)
        return {liquid: 1.0} if lead is None else dict(lead.parts)

    def action_write_card(self) -> None:
        from kb.desk.choose.explain import card
        from kb.tui.exports import plain_stem, write_new

        try:
            sheet = self.answer.question.sheet or "sheet"
            path = write_new(
                self.bench.studio, plain_stem("series-", sheet, "card"), ".txt", card(self.answer)
            )
        except OSError as error:
            self.tell(f"The card was not written: {error.strerror}.")
        else:
            self.tell(f"The card is written: {path}")


def _store(
    studio: Studio, *, asked: Question, new: bool, filled: dict[int, str], parts: dict[int, dict[str, float]]
) -> tuple[str, list[int], str]:
    """Read every line, then store them. For a thread.

    What was understood of those that are stored, their places, and why the rest is not, if the disk refused.
    """
    from kb.desk.choose.may_be import from_sheet
    from kb.desk.records.record import add_test
    from kb.desk.records.typed import graded, spot
    from kb.desk.records.work_records import against_test
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
        told = [f"{liquids(studio, test.parts)}; {'; '.join(graded(test))}.", *against_test(studio, test)]
        said.append(f"Stored and on disk: {' '.join(told)}")
    return " ".join(said), list(tests), ""
