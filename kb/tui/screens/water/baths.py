"""Baths: an alkaline bath reckoned from equilibrium while one types; from here to washing.

A bath in words. No widgets, no I/O.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Input, Static

from kb.desk.canvas import AXIS, Axis, Course, curve
from kb.desk.signs import Signs
from kb.desk.water.bath_view import BathAnswer, Precipitate, ReserveView
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.drawing import drawn, labelled
from kb.tui.screens.water.bath_form import (
    FIRST,
    LABELS,
    BathForm,
    InReach,
    amounts_of,
    in_reach,
    reckon,
    with_record,
)
from kb.tui.text import line, tidy
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.page import OPENS, WIDEST, Page, PageScreen, Section

AIR_WORDS = {"open": "after standing open, as it ends", "closed": "as it is made and used"}
LEAST_WEIGHED_G = 0.05
"""Less than this is a few steps of a balance that shows 0.01 g; this project's own."""
MOST_DIPS = 20
"""More dips than this are told as out of reach."""


LABEL = 10
ROWS = 6
HIGH, LOW = "high", "low"
COLOURS = {HIGH: "$primary 60%", LOW: "$primary", AXIS: "$secondary"}


def seen_first(one: BathAnswer, width: int, signs: Signs) -> list[Content]:
    """What one reads at arm's length, the way that can be done first, and how the pH goes."""
    weigh = " or ".join(f"{part.amount.words} {part.name}" for part in one.weigh)
    lines: list[Content] = []
    if one.stock and all((part.amount.value or 0.0) < LEAST_WEIGHED_G for part in one.weigh):
        lines += labelled("Measure", signs.short(one.stock.words), LABEL, width, "bold")
        weigh = f"or {weigh}, which is little for a balance"
    elif one.stock:
        weigh += f", or measure {one.stock.words}"
    moving = one.drift
    later = f"{_ph(moving.fresh_ph.value, 1)} fresh, {_ph(moving.end_ph.value, 1)} in the end, in the open"
    lines += [
        *labelled("Weigh", signs.short(weigh), LABEL, width, "bold"),
        *labelled("pH", later, LABEL, width, "bold"),
    ]
    hours = [moment.hours for moment in moving.moments]
    ends = [
        (LOW, [(0.0, moving.fresh_ph.value), *((one.hours, one.ph.low) for one in moving.moments)]),
        (HIGH, [(0.0, moving.fresh_ph.value), *((one.hours, one.ph.high) for one in moving.moments)]),
    ]
    courses = [Course(layer, [(x, y) for x, y in points if y is not None]) for layer, points in ends]
    values = [y for course in courses for _, y in course.points]
    if not values or not hours:
        return [*lines, Content("")]
    # A pH that does not move is drawn as a level line and not blown up.
    low = min(values)
    high = max(*values, low + 1.0)
    canvas = curve(
        courses,
        Axis(0.0, max(hours), "0", f"{max(hours):g} h"),
        Axis(low, high, f"{low:.1f}", f"pH {high:.1f}"),
        min(width, 72),
        ROWS,
    )
    key = Content.assemble(("In the open air", "bold"), "   the pH lies between the two lines")
    return [*lines, key, drawn(canvas.runs(), COLOURS), Content("")]


def sections(one: BathAnswer) -> list[Section]:
    """Headings and their lines, what is needed first."""
    return [
        (f"{one.name}, {one.volume.words} at {one.temperature.words}, {AIR_WORDS[one.air]}", list(one.how)),
        ("Mind", [f"! {text}" for text in one.warnings]),
        ("pH and what is in it", list(_inside(one))),
        ("Drift in the air", list(_drift(one))),
        ("Reserve and acid", list(_reserve(one))),
        ("Cautions", [*_cautions(one)]),
        ("How it was reckoned", [one.model, one.disclaimer]),
    ]


def _cautions(one: BathAnswer) -> Iterator[str]:
    for rule in one.cautions[: one.cautions_here]:
        yield f"{rule.severity.upper()}: {rule.text} {rule.instead}".rstrip()
    yield from one.unnamed


def _inside(one: BathAnswer) -> Iterator[str]:
    yield f"pH {_ph(one.ph.value)}; with a tenth more or less reagent {one.ph_if_a_tenth_off.words}"
    if one.ph_under_gas:
        yield f"While full of gas: {one.ph_under_gas.words}"
    yield "Dissolved: " + ", ".join(f"{part.name} {part.amount.words}" for part in one.species)
    yield f"Drops: {_dropped(one.precipitates)}"
    if one.beyond_model:
        yield "The bath is stronger than the model holds for: take the figures as a guide."


def _drift(one: BathAnswer) -> Iterator[str]:
    moving = one.drift
    yield f"Fresh pH {_ph(moving.fresh_ph.value)}; depth in the tray {moving.depth.words}"
    for moment in moving.moments:
        yield f"  after {moment.hours:g} h  {moment.ph.words}"
    dropped = _dropped(moving.drops_at_end)
    yield f"In the end pH {_ph(moving.end_ph.value)}; dropped by then: {dropped}. {moving.note}"


def _reserve(one: BathAnswer) -> Iterator[str]:
    yield f"A litre takes up {one.capacity.neutralising.words} of acid"
    yield _of_dip("One dip", one.reserve)
    if one.air == "open":
        yield _of_dip("One dip while fresh", one.reserve_fresh)
    if one.reserve.told_in_practice:
        yield f"Told of in practice: {one.reserve.told_in_practice.words}"
    if one.sheet is None:
        yield "The mass of the sheet is not given: how many baths it needs is left out."
        return
    little = "" if one.sheet.enough_water else f" TOO LITTLE WATER: at least {one.sheet.least_water.words}."
    yield (
        f"This sheet: acid {one.sheet.acid.words}, offered {one.sheet.offered.words}, needs "
        f"{one.sheet.baths_for_acid.words}.{little}"
    )


def _of_dip(what: str, reserve: ReserveView) -> str:
    dips = reserve.dips_for_floor
    reach = dips.words if dips and (dips.low or 0.0) <= MOST_DIPS else "this bath will not reach it"
    met = {"yes": "reached", "in part": "reached in part", "no": "NOT REACHED"}[reserve.meets_floor]
    return (
        f"{what} leaves {reserve.mol_kg.words}, that is {reserve.percent_caco3.words}. Least of permanent "
        f"paper, {reserve.floor.words}: {met}; to reach it: {reach}"
    )


def _dropped(solids: Sequence[Precipitate]) -> str:
    return ", ".join(f"{one.name} {one.in_bath.words}" for one in solids) or "nothing"


def _ph(value: float | None, digits: int = 2) -> str:
    return "not known" if value is None else f"{value:.{digits}f}"


BATHS = (
    Act("to_answer", "escape", "Answer", "From the form to the answer, where the letters are keys"),
    Act("form", "slash", "Form", "Back to the form", shown="/"),
    Act("wash", "w", "Wash", "Which washing is possible for the sheet; readings; when to stop"),
    Act("clear", "c", "Clear", "Empty the form, and plan for no medium and paper"),
)
LETTERS = {"form", "wash", "clear"}
REAGENTS = (
    One("1", "calcium-hydroxide", "", "1 Ca(OH)2"),
    One("2", "calcium-bicarbonate", "", "2 Ca(HCO3)2"),
    One("3", "magnesium-bicarbonate", "", "3 Mg(HCO3)2"),
    One("4", "calcium-carbonate", "", "4 CaCO3"),
    One("5", "magnesium-hydroxide", "", "5 Mg(OH)2"),
    One("6", "magnesium-carbonate", "", "6 MgCO3"),
)
AIR = (
    One("c", "closed", "used as it is made", "C now"),
    One("o", "open", "after standing in the air", "O later"),
)
OF_SHEET = ("sheet_mass", "acid")
OTHERS = "Mass and acid were those of {}: they are taken away, type those of this sheet."


class BathsScreen(PageScreen[None]):
    """Form above, answer below."""

    TITLE_WORDS = "Baths"
    HELP = (
        "An alkaline bath, reckoned from equilibrium while you type: how much reagent for a pH at a "
        "temperature, what is dissolved, what drops, how it drifts in the air, what it leaves in the sheet. "
        "Give a pH to reach, or a strength (0.01 mol/l, 0.5 g/l), and not both.\n\n"
        "Open to the air: the figures are those where the bath ends; the drift says how it gets there. "
        "Closed: those of the fresh bath under a lid. What cannot be had is refused in words, with the "
        "nearest pH that can.\n\n"
        "Mass and acid of the dry sheet may stay empty; then what depends on them is left out. Medium and "
        "paper are, for the cautions, those of the question (F2) with the record of its sheet, or of the "
        "sheet opened by F10: whichever you touched last. The line says which; C takes it away.\n\n"
        f"{keys_in_words(BATHS)}\n{OPENS}"
    )
    BINDINGS = bindings(BATHS)
    CSS = """
    BathsScreen #bath-form { height: auto; background: $surface; }
    BathsScreen #bath-near { padding: 0 1; }
    BathsScreen Page { height: 1fr; border-top: solid $secondary; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.form = BathForm()
        self.near = InReach()
        self._weighed = ""
        """The sheet whose mass and acid stand there."""

    def body(self) -> ComposeResult:
        form = self.form
        with Vertical(id="bath-form"):
            yield ChoiceRow("reagent", "Reagent", REAGENTS, form.reagent)
            with Horizontal(classes="pair"):
                yield Field("volume", LABELS["volume"], form.volume, "such as 5 L")
                yield Field("target_ph", LABELS["target_ph"], form.target_ph, "such as 8.5")
            with Horizontal(classes="pair"):
                yield Field("temperature", LABELS["temperature"], form.temperature, "such as 18 C")
                yield Field("strength", LABELS["strength"], form.strength, "such as 0.01 mol/l")
            yield ChoiceRow("air", "Air", AIR, form.air)
            with Horizontal(classes="pair"):
                yield Field("sheet_mass", LABELS["sheet_mass"], form.sheet_mass, "such as 25 g")
                yield Field("acid", LABELS["acid"], form.acid, "in mmol/kg, if known")
            with Horizontal(classes="pair"):
                yield Field("depth", LABELS["depth"], form.depth, "in the tray, such as 30 mm")
            yield Static("", id="bath-near", classes="quiet", markup=False)
        yield Page()

    def on_mount(self) -> None:
        self.page.say(FIRST)
        self.set_focus(self.query_one("#field-volume", FormInput))

    def on_screen_resume(self) -> None:
        """The question may have changed, and so may the record of its sheet."""
        self._near_known(in_reach(self.bench))
        self.ask(partial(with_record, near=self.near), self._near_known, group="near")

    def _near_known(self, near: InReach) -> None:
        self.near = near
        if near.sheet and self._weighed and near.sheet != self._weighed:
            self.bench.say(OTHERS.format(self._weighed), warn=True)
            self._weighed = ""
            for name in OF_SHEET:
                self.query_one(f"#field-{name}", FormInput).value = ""
        words = near.words or (
            "nothing, so nothing is warned of; F2 asks, F10 opens a sheet"
            if self.bench.in_hand == "nothing"
            else f"of sheet {near.sheet}: no medium and paper in its record"
            if near.sheet
            else "no medium and paper in the question (F2)"
        )
        barred = f"{near.barred} Esc, then W says why. " if near.barred else ""
        said = Content.assemble((tidy(barred, multiline=False), "bold $error"), line(f"For: {words}"))
        self.query_one("#bath-near", Static).update(said)
        self.reckon()

    # -- the form ---------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        name, value = event.input.name or "", event.value
        if name and getattr(self.form, name) != value:
            setattr(self.form, name, value)
            if name in OF_SHEET:
                # Under a question without a sheet they stay those of the sheet before.
                both = self.form.sheet_mass + self.form.acid
                self._weighed = (self.near.sheet or self._weighed) if both else ""
            self.reckon()

    def on_choice_row_changed(self, event: ChoiceRow.Changed) -> None:
        setattr(self.form, event.row.id or "", event.row.value)
        self.reckon()

    def action_clear(self) -> None:
        for field in self.query(FormInput):
            field.value = getattr(BathForm(), field.name or "")
        self.bench.in_hand = "nothing"
        # What the record of the sheet says may still be on its way.
        self.ask(lambda _: InReach(), self._near_known, group="near")

    # -- the answer -------------------------------------------------------------------------------

    def reckon(self) -> None:
        if not self.form.begun:
            said = "\n".join((FIRST, *amounts_of(self.form).faults))
            # What is still being reckoned is no longer wanted.
            self.ask(lambda _: None, lambda _: self.page.say(said), group="bath")
            return
        verb = partial(reckon, form=replace(self.form), near=self.near)
        self.ask(verb, self._show, group="bath", failed=self._refused)

    def _show(self, answer: BathAnswer) -> None:
        width = min(WIDEST, max(30, self.page.size.width - 4))
        signs = Signs()
        first = seen_first(answer, width, signs)
        self.page.show(sections(answer), top=True, first=first, signs=signs)

    def _refused(self, words: str) -> None:
        self.page.show([("No such bath", words.splitlines())], top=True)

    # -- getting about ----------------------------------------------------------------------------

    def action_to_answer(self) -> None:
        self.page.focus()

    def action_form(self) -> None:
        self.query_one("#field-volume", FormInput).focus()

    def action_wash(self) -> None:
        from kb.tui.screens.water.wash import WashScreen

        # Whoever planned an alkaline bath washes in it.
        self.app.push_screen(WashScreen(self.near, alkaline=self.form.begun))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """In the form letters are letters, on the answer they are keys."""
        on_answer = isinstance(self.focused, Page)
        if action == "to_answer":
            return not on_answer
        return on_answer or action not in LETTERS
