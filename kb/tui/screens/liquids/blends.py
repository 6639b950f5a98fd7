"""Blends for the question: what is held and allowed, mixed to reach the tape and spare the rest."""

from __future__ import annotations

from functools import partial
from textwrap import wrap
from typing import TYPE_CHECKING

from textual import getters, on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.content import Content
from textual.widgets import Static

from kb.science.numbers import counted
from kb.tui.actions import BLENDS, bindings, keys_in_words
from kb.tui.drawing import head_of
from kb.tui.screens.choose.asked import Asked, short
from kb.tui.screens.liquids import blend_words as words
from kb.tui.screens.records.draft import Chosen
from kb.tui.text import line, plain, tidy
from kb.tui.widgets.frame import Said
from kb.tui.widgets.page import OPENS, Page, PageScreen
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.liquids.blends import Alone, BlendFound, Blends
    from kb.desk.studio import Studio

LOOKING = "Trying every blend of what is held and allowed ..."


class BlendsScreen(PageScreen[Chosen]):
    """A list of blends and what there is to know of the one under the cursor. T hands it to the spot test."""

    SAID = "#blend-said"
    TITLE_WORDS = "Blends"
    HELP = (
        "Blends of two or three liquids that the studio holds and allows, for the tape and the media of the "
        "question. Hansen spheres foresee which reach the adhesive and spare what lies within reach.\n\n"
        "Liquids that do without mixing stand first.\n"
        "Reaches  how deep inside the adhesive's sphere: a full bar is its middle, none its edge\n"
        "Spares   how far outside the nearest medium or carrier, in RED beyond its edge: more is better\n"
        "Hazard   to the worker, this project's own scale: none to full\n\n"
        "The pane says what stays last as it dries, what a blend gains over a pure liquid, and the amounts "
        "for 20 ml; further down, what all that rests on. "
        "Nothing listed is a treatment: it is a proposal for a test.\n\n"
        f"{keys_in_words(BLENDS)}\n{OPENS}; Tab goes to the pane\nEnter    The same as R"
    )
    BINDINGS = bindings(BLENDS)
    CSS = """
    BlendsScreen #blend-body { height: 1fr; layout: vertical; }
    BlendsScreen.-wide #blend-body { layout: horizontal; }
    BlendsScreen #blend-said { height: auto; max-height: 6; text-wrap: wrap; }
    BlendsScreen #blend-left { height: 1fr; min-height: 6; padding: 0 0 0 1; }
    BlendsScreen.-wide #blend-left { width: 1fr; height: 100%; }
    BlendsScreen #blend-list { height: 1fr; }
    BlendsScreen #blend-gist { height: 9; border-top: solid $primary; padding: 0 1; }
    BlendsScreen #blend-gist { border-title-color: $primary; }
    BlendsScreen.-high #blend-gist { height: 16; }
    BlendsScreen.-wide #blend-gist { height: 100%; width: 38%; border-left: solid $primary; }
    BlendsScreen #blend-defer { height: auto; max-height: 3; padding: 0 1; text-style: italic; }
    """

    rows = getters.query_one(Table)

    def __init__(self, asked: Asked, row: Chosen | None = None) -> None:
        super().__init__()
        self.asked = asked
        self.row = row
        """What stood under the cursor in the ranking; a pure liquid there can be replaced."""
        self.carrier_too = False
        self.instead = False
        self.found: Blends | None = None
        self._called = ""
        """The name of the row, where the edge of the pane has no room for it."""

    def body(self) -> ComposeResult:
        yield Said(line(LOOKING), id="blend-said", classes="heading", markup=False)
        with Container(id="blend-body"):
            with Vertical(id="blend-left"):
                yield Table(words.COLUMNS, id="blend-list")
            yield Page(id="blend-gist")
        yield Static("", id="blend-defer", markup=False)

    @property
    def _room(self) -> int:
        return max(24, self.page.size.width - 3)

    @property
    def _whole(self) -> list[Content]:
        """The name of the blend, where the edge of the pane cuts it."""
        return [Content.styled(piece, "bold") for piece in wrap(tidy(self._called), self._room)]

    @property
    def here(self) -> BlendFound | None:
        found, key = self.found.blends if self.found else (), self.rows.key_here
        return next((one for one in found if str(one.rank) == key), None)

    @property
    def plain_here(self) -> Alone | None:
        """The liquid under the cursor that does without mixing."""
        found, key = self.found.alone if self.found else (), self.rows.key_here
        return next((one for one in found if one.liquid == key), None)

    @property
    def chosen(self) -> Chosen | None:
        """The same as other screens take it."""
        if alone := self.plain_here:
            return Chosen(alone.name, {alone.liquid: 1.0})
        return Chosen(self.here.name, words.shares(self.here)) if self.here else None

    def on_mount(self) -> None:
        from kb.desk.materials.safety import DEFER

        self.query_one("#blend-defer", Static).update(plain(DEFER))
        self.rows.focus()
        # The bars are drawn in the colours of a theme.
        self.app.theme_changed_signal.subscribe(self, lambda _: self._draw())
        self.look()

    def look(self) -> None:
        asked, carrier_too = self.asked, self.carrier_too
        instead = self.pure if self.instead else None

        def verb(studio: Studio) -> Blends:
            studio.refresh()
            return words.look(studio, asked.question(studio), carrier_too, instead)

        self.ask(verb, self._show, group="blends", failed=self._failed)

    @property
    def pure(self) -> str | None:
        """Id of the pure liquid one came from; None if it was a blend or nothing."""
        return next(iter(self.row.parts)) if self.row is not None and len(self.row.parts) == 1 else None

    def action_carrier(self) -> None:
        self.carrier_too = not self.carrier_too
        self.look()

    def action_instead(self) -> None:
        self.instead = not self.instead
        self.look()

    def _failed(self, why: str) -> None:
        self.found = None
        self._draw()
        self.tell(f"{why}{self._how()}")

    def _how(self) -> str:
        """What was asked beyond the question, in words."""
        said = " The carrier is to go too (C)." if self.carrier_too else ""
        if self.instead and self.row is not None:
            said += f" Instead of {self.row.name} (I)."
        return said

    def _show(self, found: Blends) -> None:
        self.found = found
        self._draw()
        tape = short(self.asked.shown("tape"))
        said = f"{counted(len(found.blends), 'blend')} for {tape}, best first."
        if found.blends and all(one.alone_does for one in found.blends):
            said += " In each, one part alone does as well: try that first."
        elif found.alone:
            said = f"A plain liquid does as well: look there first. {said}"
        said = said if found.blends else f"No blend for {tape}. {' '.join(found.notes)}"
        self.tell(f"{said}{self._how()}")
        self.refresh_bindings()

    def _draw(self) -> None:
        self.rows.show(words.rows(self.found, self.app.get_css_variables()) if self.found else ())
        self._other_row()

    @on(Table.RowHighlighted)
    def _other_row(self) -> None:
        pane, here, alone, found = self.page, self.here, self.plain_here, self.found
        self._called = head_of(pane, here.name if here else alone.name if alone else "", "Blend")
        if here is not None and found is not None:
            pane.show(
                words.gist(here, found), top=True, first=[*self._whole, *words.no_gain(here, self._room)]
            )
            verb = partial(words.whole, blend=here, question=found.question)
            self.ask(verb, self._dries, group="drying", failed=lambda _: None)
        else:
            pane.say(words.alone_gist(alone) if alone else "")
        self.refresh_bindings()

    def _dries(self, all_of: words.Whole) -> None:
        """What stays last, as bars; what is gained; what to measure out."""
        if self.here is not None and self.found is not None:
            first = [*self._whole, *words.first_lines(all_of, self._room)]
            self.page.show(words.gist(self.here, self.found), top=True, first=first)

    # -- what can be done with a row -------------------------------------------------------------

    @on(Table.RowSelected)
    def action_whole(self) -> None:
        if self.here is not None and self.found is not None:
            verb = partial(words.whole, blend=self.here, question=self.found.question)
            self.ask(
                verb, lambda whole: self.note(f"Blend: {whole.blend.name}", words.full(whole)), group="whole"
            )
        elif (alone := self.plain_here) is not None:
            then = partial(self.note, alone.name)
            self.ask(partial(words.safety_of, liquid=alone.liquid), then, group="whole")

    def action_left_out(self) -> None:
        if self.found is not None:
            self.note("Left out, and what does alone", words.left_out(self.found))

    def action_test(self) -> None:
        if self.chosen is not None:
            self.dismiss(self.chosen)

    def action_map(self) -> None:
        from kb.tui.screens.liquids.solubility_map import MapScreen

        self.app.push_screen(MapScreen(self.asked, self.chosen))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action in {"whole", "test"}:
            return self.chosen is not None
        if action == "instead":
            return self.pure is not None
        return action != "left_out" or self.found is not None
