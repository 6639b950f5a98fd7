"""The plan of one sheet: what was tested, washing, tissue, drying, housing; what is missing is named."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import msgspec
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Input, Static

from kb.desk.errors import DeskError
from kb.desk.sheet.facts import SheetFacts, sheet_facts
from kb.desk.studio import Studio
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.bench import in_words
from kb.tui.day import day_of, today
from kb.tui.form import write_down
from kb.tui.screens.water.bath_form import InReach, in_reach
from kb.tui.text import line
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.page import OPENS, Page, PageScreen

SHEET = (
    Act("form", "slash", "Figures", "To the lines for what is known of the sheet", shown="/"),
    Act("wash", "w", "Wash", "Readings of its baths, and when to stop"),
    Act("write_down('mend')", "m", "Mend", "Write down a mend of this sheet"),
    Act("write_down('toning')", "t", "Tone", "Write down a toning test for this sheet"),
    Act("write_down('housing')", "h", "House", "Write down how this sheet was framed or put away"),
    Act("press", "d", "Dry", "Dry and press: the steps, with timers for the blotters"),
    Act("export", "e", "Text", "Write this page as a text file"),
    Act("other", "o", "Other", "The plan of another sheet"),
    Act("back", "escape", "Back", "From the lines to the page; from the page back"),
)
LETTERS = {"form", "wash", "write_down", "press", "export", "other"}
DONE = ("reading", "mend", "toning", "pressing", "housing")
MOST_DONE = 40
NOTHING_DONE = (
    "No reading, mend, toning test, pressing or housing is written down. W, M, T, D and H lead to each."
)
GRAIN = (
    One("-", "", "not known: the larger gap is taken", "-"),
    One("w", "width", "the grain runs along the width", "W width"),
    One("h", "height", "the grain runs along the height", "H height"),
)
TEAR = (
    # In the choice too: its words have no room at 80 columns, and the plan rests on it.
    One("-", "", "not known: a plain one is taken", "- plain?"),
    One("p", "plain", "from one edge", "P plain"),
    One("s", "scarfed", "in layers", "S scarf"),
    One("t", "through", "edge to edge", "T through"),
    One("i", "inside", "reaches no edge", "I inside"),
    One("l", "loss", "a piece is lost", "L loss"),
    One("f", "lifting", "a layer lifts off", "F lifts"),
)
PAIRS = (
    (("size", "Size", "such as 420 x 594 mm"), ("grammage", "Grammage", "such as 100 g/m2")),
    (("thickness", "Thickness", "such as 0.15 mm"), ("humidity", "Humidity", "such as 40-60 %")),
    (("mass", "Dry mass", "if weighed, such as 25 g"), ("tear_length", "Tear length", "such as 120 mm")),
)
LABELS = {name: label for pair in PAIRS for name, label, _ in pair} | {"grain": "Grain", "tear": "Tear"}


class Planned(NamedTuple):
    """What there is to show, the same as a text, and its answer in a line."""

    sections: list[tuple[str, list[str]]]
    text: str
    said: str = ""


class SheetScreen(PageScreen[None]):
    """Figures above, the page below. What is typed goes into the sheet's record as one leaves the line."""

    SAID = "#sheet-said"
    TITLE_WORDS = "Plan of a sheet"
    HELP = (
        "Everything about one sheet on one page: what was done, what is missing and what it is wanted for, "
        "tests so far, batches that touched it, washing, readings, tissue, drying, the gap in its frame. A "
        "part that lacks a figure says so and is not guessed. M, T and H write down what you did; D leads "
        "through drying and pressing with timers.\n\n"
        "What you type above goes into the record of this sheet when you leave the line; a tear goes into "
        "its condition. Media and paper are those of the question (F2) if it names it, else its own.\n\n"
        f"{keys_in_words(SHEET)}\n{OPENS}"
    )
    BINDINGS = bindings(SHEET)
    CSS = """
    SheetScreen #sheet-form { height: auto; background: $surface; }
    SheetScreen #sheet-said { height: auto; max-height: 3; padding: 0 1; color: $primary; text-style: bold; }
    SheetScreen #sheet-said.-stop { color: $error; }
    SheetScreen Page { height: 1fr; border-top: solid $secondary; }
    """

    def __init__(self, sheet: str) -> None:
        super().__init__()
        self.sheet = sheet
        self.facts: SheetFacts | None = None
        """None until they are read."""
        self.planned: Planned | None = None
        self._new: dict[str, str] = {}
        """Lines typed and not on disk, by name."""
        self._wrong = ""
        """Which of them cannot be kept, and why."""
        self._leaving = False

    def body(self) -> ComposeResult:
        yield Static(line(f"Plan of {self.sheet}"), classes="heading", markup=False)
        with Vertical(id="sheet-form"):
            for pair in PAIRS:
                with Horizontal(classes="pair"):
                    for name, label, hint in pair:
                        yield Field(name, label, "", hint)
            yield ChoiceRow("grain", "Grain", GRAIN, "")
            yield ChoiceRow("tear", "Tear", TEAR, "")
        yield Static("", id="sheet-said", markup=False)
        yield Page()

    def on_mount(self) -> None:
        """One reads first; the lines are filled with what was noted before."""
        # At once: M right behind P was else a letter of the size.
        self.set_focus(self.page)
        self.ask(partial(sheet_facts, sheet=self.sheet), self._fill, group="facts")

    def _fill(self, facts: SheetFacts, but: Widget | None = None) -> None:
        again, self.facts = self.facts is not None, msgspec.structs.replace(facts, **self._new)
        # Every line was empty: what stands in one by now was typed while the record was read.
        lines: dict[str, FormInput | ChoiceRow] = {field.name or "": field for field in self.query(FormInput)}
        lines |= {row.id or "": row for row in self.query(ChoiceRow)}
        with self.prevent(Input.Changed):
            for name, field in lines.items():
                if field.value and not again:
                    self._changed(name, field.value.strip())
                elif field is not but:
                    field.value = getattr(self.facts, name)
                    field.refresh()
        self.look()

    def on_screen_resume(self) -> None:
        """Tests and readings may have been stored meanwhile, and a mend that settles the open tear."""
        if self.facts is not None:
            self.ask(partial(sheet_facts, sheet=self.sheet), self._fill, group="facts")
        else:
            self.look()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Plan anew; a figure is kept when one leaves its line, for it is a record and no note."""
        self._changed(event.input.name or "", event.value.strip())

    def on_choice_row_changed(self, event: ChoiceRow.Changed) -> None:
        self._changed(event.row.id or "", event.row.value)
        self.keep()

    def on_descendant_blur(self) -> None:
        """A line is left: what was typed is kept."""
        self.keep()

    def keep(self) -> None:
        """What was typed goes into the records; what cannot be stays unkept and is named."""
        if self.facts is not None and self._new:
            typed = dict(self._new)
            verb = partial(_keep, sheet=self.sheet, typed=typed)
            self.ask(verb, partial(self._kept, typed), group="keep", failed=self._refused)

    def _kept(self, typed: dict[str, str], kept: tuple[SheetFacts, dict[str, str]]) -> None:
        """The lines bear what was taken, with its unit: 52 x 41 that was meant in cm stood there as typed."""
        facts, wrong = kept
        self._new = {name: to for name, to in self._new.items() if name in wrong or to != typed.get(name)}
        self._fill(facts, but=self.focused)
        self._refused(" ".join(wrong.values()))

    def _changed(self, name: str, value: str) -> None:
        if self.facts is not None and getattr(self.facts, name) != value:
            self.facts = msgspec.structs.replace(self.facts, **{name: value})
            self._new[name] = value
            self.look()

    def look(self) -> None:
        """Plan in a thread; figures that cannot be are named."""
        if self.facts is None:
            return
        near = in_reach(self.bench)
        verb = partial(fetch, sheet=self.sheet, facts=self.facts, near=near)
        self.ask(verb, self._show, group="plan", failed=self.tell)

    def _show(self, planned: Planned) -> None:
        self.planned = planned
        self.tell(f"{self._wrong} {planned.said}".strip())
        self.query_one("#sheet-said").set_class(planned.said.startswith("No bath"), "-stop")
        self.page.show(planned.sections)

    def _refused(self, words: str) -> None:
        self._wrong = words
        leaving, self._leaving = self._leaving, False
        if words:
            self.tell(words)
        if words and leaving:
            answers = (("s", "stay", "Stay on the plan"), ("l", "leave", "Leave without it"))
            self.sure("Leave the plan?", words, answers, self.dismiss)
        elif leaving:
            self.dismiss(None)

    def action_export(self) -> None:
        from kb.desk.sheet.plan import save_text

        if self.planned is not None:
            verb = partial(save_text, sheet=self.sheet, text=self.planned.text)
            said = "The plan was written to"
            self.ask(verb, lambda path: self.note("Written", f"{said}\n{path}"), group="export")

    def action_form(self) -> None:
        self.query(FormInput).first().focus()

    def action_wash(self) -> None:
        from kb.tui.screens.water.wash import WashScreen

        near = in_reach(self.bench)
        here = near if near.sheet == self.sheet else InReach(sheet=self.sheet)
        self.app.push_screen(WashScreen(here))

    def action_write_down(self, kind: str) -> None:
        write_down(self.bench, kind, self.sheet)

    def action_press(self) -> None:
        from kb.tui.screens.sheet.press import PressScreen

        self.app.push_screen(PressScreen(self.sheet))

    async def action_other(self) -> None:
        await self.run_action("app.show_sheet")

    @property
    def nothing_typed(self) -> bool:
        return not self._new

    @property
    def unkept(self) -> str:
        """What would go with this screen: a plan has no draft."""
        named = ", ".join(LABELS[name] for name in self._new)
        return f"Plan of {self.sheet}: {named} as typed is not kept yet." if named else ""

    def action_back(self) -> None:
        if self._leaving:
            return
        if self.focused is self.page and self._new:
            # First on disk, then away: leaving a screen ends what it still asks of the desk.
            self._leaving = True
            self.keep()
        elif self.focused is self.page:
            self.dismiss(None)
        else:
            self.page.focus()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """In a line letters are letters."""
        return isinstance(self.focused, Page) or action not in LETTERS


def _keep(studio: Studio, *, sheet: str, typed: dict[str, str]) -> tuple[SheetFacts, dict[str, str]]:
    """Line by line, so that one that cannot be takes no other with it; gives back why those are not kept."""
    from kb.desk.sheet.sheets import keep_facts

    known, wrong = sheet_facts(studio, sheet), {}
    for name, text in typed.items():
        try:
            keep_facts(studio, sheet, msgspec.structs.replace(known, **{name: text}))
            known = sheet_facts(studio, sheet)
        except DeskError as error:
            line = f"{LABELS[name]}: "
            wrong[name] = f"Not kept, {line}{in_words(error).removeprefix(line)}"
    return known, wrong


def fetch(studio: Studio, *, sheet: str, facts: SheetFacts, near: InReach) -> Planned:
    """The page. Media and paper of a question about this very sheet go before those of its tests."""
    from kb.desk.sheet.plan import as_text, sections, sheet_plan

    studio.refresh()
    wanted = facts
    if near.sheet == sheet:
        wanted = msgspec.structs.replace(
            facts, media=near.media or facts.media, paper=near.paper or facts.paper
        )
    plan = sheet_plan(studio, sheet, wanted)
    parts = sections(studio, plan)
    done = [("Done so far", done_lines(studio, sheet))]
    lacks = len(plan.missing)
    said = f"{plan.wash.headline} {f'Missing for a full plan: {lacks}.' if lacks else 'Nothing is missing.'}"
    # Where nothing was done yet, what is missing and what may be done is wanted in view.
    shown = parts + done if done[0][1] == [NOTHING_DONE] else done + parts
    return Planned(shown, as_text(plan, parts, today().isoformat()), said)


def done_lines(studio: Studio, sheet: str) -> list[str]:
    """Readings, mends, toning tests and housing of a sheet, a line each, newest first; details come later."""
    from kb.desk.records.book_list import list_records

    found = list_records(studio, kinds=DONE, sheet=sheet, limit=MOST_DONE + 1)
    lines = [
        f"- {day_of(one.at)} {one.what}, {one.who}{one.state and f' [{one.state}]'}"
        for one in found[:MOST_DONE]
    ]
    more = ["- and more: F3, then E, lists every record"] if len(found) > MOST_DONE else []
    return [*lines, *more] or [NOTHING_DONE]
