"""Air: what a person would breathe while a liquid is used, worked out anew at every key.

The form about the air of a room as it is typed, and what the desk makes of it. No widgets.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.widgets import Input, Static

from kb.desk.amounts import celsius
from kb.desk.errors import DeskError
from kb.model.question import USUAL_FRESH_AIR, USUAL_SHIFT
from kb.tui.actions import AIR, bindings, keys_in_words
from kb.tui.screens.records.draft import typed_parts
from kb.tui.text import plain
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field
from kb.tui.widgets.frame import Said
from kb.tui.widgets.page import OPENS, Page, PageScreen

if TYPE_CHECKING:
    from kb.desk.air.answer import Air
    from kb.desk.studio import Studio
    from kb.tui.screens.records.draft import Chosen

T = TypeVar("T")
USUAL_WARMTH = "20 °C"
BY_AREA = ("dish", "bath")


LINES = (
    ("amount", "Amount", "of one, e.g. 0.2 ml, g"),
    ("per_hour", "Per hour", "e.g. 10; left empty: once"),
    ("area", "Area", "cm2 of it, e.g. 100"),
    ("space", "Space", "l of it, e.g. 2"),
    ("room", "Room", "m3, e.g. 60"),
    ("air_changes", "Fresh air", f"left empty: {USUAL_FRESH_AIR}"),
    ("mixing", "Mixing K", "left empty: 1 to 3"),
    ("near", "Near field", "left empty: 0.8 m"),
    ("hours", "Hours", f"left empty: {USUAL_SHIFT}"),
    ("temp", "Warmth", "left empty: 20 °C"),
)
"""Field, label, and what to type or what holds while nothing is.

Each but the amount, a volume or a mass, begins with the unit of a number typed without one.

"left empty" is what is reckoned with then.
"""
NEEDED = {"liquid": "the liquid or blend", "amount": "the amount used each time", "room": "the room"}


@dataclass
class AirForm:
    """Texts as typed. ``taken`` is what another screen handed over; it holds while its name stands there."""

    liquid: str = ""
    how: str = "swab"
    amount: str = ""
    per_hour: str = ""
    area: str = ""
    space: str = ""
    room: str = ""
    air_changes: str = ""
    mixing: str = ""
    near: str = ""
    hours: str = ""
    temp: str = ""
    taken: Chosen | None = None

    def put(self, name: str, text: str) -> bool:
        """Write a line. True if it changed."""
        if name not in {one.name for one in fields(self)} or getattr(self, name) == text:
            return False
        setattr(self, name, text)
        return True

    def take(self, chosen: Chosen) -> None:
        """A liquid or blend from another screen."""
        self.liquid, self.taken = chosen.name, chosen

    @property
    def untouched(self) -> bool:
        """Whether the liquid is not typed by hand, so that another one may take its place."""
        return not self.liquid.strip() or (self.taken is not None and self.liquid == self.taken.name)

    def asks(self, name: str) -> bool:
        """Whether the way of working has that line: what has an area is not counted by the hour."""
        ways = {"area": self.how in BY_AREA, "space": self.how == "dome", "per_hour": self.how not in BY_AREA}
        return ways.get(name, True)

    @property
    def usual_words(self) -> str:
        """What decides and nobody typed: who lets it stand has to know it."""
        fresh = "" if self.air_changes.strip() else f"{USUAL_FRESH_AIR} of fresh air"
        found = [one for one in (fresh, "" if self.hours.strip() else USUAL_SHIFT) if one]
        return f"Reckoned with {' and '.join(found)}: type your own." if found else ""

    def missing(self) -> list[str]:
        """What has to be typed before anything can be worked out, in words."""
        found = [words for name, words in NEEDED.items() if not getattr(self, name).strip()]
        if self.how in BY_AREA and not self.area.strip():
            found.append(f"the area of the {self.how}, by which it gives off vapour")
        if self.how == "dome" and not self.space.strip():
            found.append("the space of the dome, in which vapour gathers")
        return found


_IN_ONE_LINE = re.compile(
    r"(?P<amount>\d+(?:[.,]\d+)?\s*(?:ml|ul|µl|cl|l|mg|g))\s+(?:of\s+)?(?P<liquid>\D.*?)"
    r"(?:,?\s+in\s+(?:a\s+)?(?:room\s+of\s+)?(?P<room>\d+(?:[.,]\d+)?\s*(?:m3|m³|ft3))(?:\s+room)?)?"
    r"(?:,?\s+for\s+(?P<hours>\d+(?:[.,]\d+)?\s*(?:h|min)))?\s*",
    re.IGNORECASE,
)
_FIGURE_FIRST = re.compile(r"\d+(?:[.,]\d+)?(?:\s+[^,:+/;]*)?")


def taken_apart(text: str) -> dict[str, str]:
    """What a whole line says, by field: ``10 ml acetone in 20 m3``; empty if it is no such line."""
    found = _IN_ONE_LINE.fullmatch(text.strip())
    return {name: value for name, value in found.groupdict().items() if value} if found else {}


def _parts(studio: Studio, form: AirForm) -> dict[str, float]:
    if form.taken is not None and form.liquid == form.taken.name:
        return dict(form.taken.parts)
    # As a share of a blend of one the figure would be dropped without a word.
    if _FIGURE_FIRST.fullmatch(form.liquid.strip()):
        says = "type the name alone, or all in one line as in: 10 ml acetone in 20 m3 for 2 h"
        raise DeskError(f'Liquid: "{form.liquid.strip()}" begins with a figure; {says}.')
    return typed_parts(studio, form.liquid)


def wrong_so_far(studio: Studio, form: AirForm, *, named: bool) -> str:
    """What is wrong with the lines that are typed, while others are empty; empty if nothing is.

    ``named``: whether the name of the liquid is typed to its end.
    """
    from kb.desk.air import air as desk
    from kb.desk.air import inputs
    from kb.desk.materials.physical import of_parts

    said: list[str] = []

    def check(where: str, make: Callable[[], object]) -> None:
        try:
            make()
        except DeskError as error:
            said.append(f"{where}{error}")

    parts: dict[str, float] = {}
    if form.liquid.strip():
        try:
            parts = _parts(studio, form)
        except DeskError as error:
            said += [str(error)] if named else []
    if parts:
        check("", lambda: desk.refuse_unknown(studio, of_parts(studio, parts)))
    if form.amount.strip():
        check("Amount: ", lambda: inputs.amount_ml(studio, parts or {"water": 1.0}, form.amount))
    return " ".join(said)


def work_out(studio: Studio, form: AirForm) -> Air:
    """The answer of the desk. For a thread. Raises DeskError in words that name the line to mend."""
    from kb.desk.air import air as desk
    from kb.desk.air import inputs

    parts = _parts(studio, form)
    use = _at("Amount and use", lambda: inputs.use_of(studio, parts, **_use(form)))
    room = _at(
        "Room",
        lambda: inputs.room_of(
            room=form.room,
            air_changes=form.air_changes.strip() or USUAL_FRESH_AIR,
            mixing=form.mixing.strip(),
            near=form.near.strip(),
        ),
    )
    hours = _at("Hours", lambda: inputs.hours_of(form.hours.strip() or USUAL_SHIFT))
    temp_c = _at("Warmth", lambda: celsius(form.temp or USUAL_WARMTH))
    return desk.air(studio, parts, use, room, hours, temp_c)


def _use(form: AirForm) -> dict[str, str]:
    """Only what the way of working asks for: a line left over from another way does not count."""
    return {
        "amount": form.amount,
        "how": form.how,
        **{
            name: getattr(form, name).strip() if form.asks(name) else ""
            for name in ("per_hour", "area", "space")
        },
    }


def _at(where: str, make: Callable[[], T]) -> T:
    """The same, with the part of the form named in what goes wrong."""
    try:
        return make()
    except DeskError as error:
        raise DeskError(f"{where}: {error}") from error


WAYS = (
    One("s", "swab", "swabs or spots, each dry at once", "S swab"),
    One("d", "dish", "an open dish or wet area", "D dish"),
    One("b", "bath", "an open bath", "B bath"),
    One("o", "dome", "a closed dome, opened at the end", "O dome"),
)
WAITING = "Still to type: {}."
EXPLAINS = (
    "The amount needs its unit: ml, l, ul or g. Elsewhere a number alone is in the unit that the empty line "
    "shows; others may be typed: ft3, F, min. Where figures differ, type a range such as 0.5 to 2 /h; the "
    "answer is then a range too."
)


class AirScreen(PageScreen[None]):
    """The form above or at the left, what follows from it below or at the right."""

    TITLE_WORDS = "Air"
    HELP = (
        "What a person would breathe while a liquid or blend is used in a room. The liquid is that of the "
        "row in the question until you type another; blends are typed as acetone 50, n-heptane 50.\n\n"
        f"{EXPLAINS}\n\n"
        "Amount is that of one swab, dish or dome; Per hour is how often. Mixing K is 1 for air that mixes "
        "perfectly, more where corners lag. Near field is how far the face is from the work.\n\n"
        "The index is the sum of each vapour's share of its limit: 1 is the limit. Figures run from the "
        "well-mixed room to the air near the work. A limit that nobody read in its list is called "
        "unverified, and nothing is called low while one is. No limit known here never means zero.\n\n"
        f"{keys_in_words(AIR)}\n{OPENS}"
    )
    BINDINGS = bindings(AIR)
    CSS = """
    AirScreen #air-body { height: 1fr; layout: vertical; }
    AirScreen.-wide #air-body { layout: horizontal; }
    AirScreen #air-form { height: auto; width: 100%; background: $surface; }
    AirScreen.-wide #air-form { width: 46; height: 100%; }
    AirScreen #air-lines { layout: grid; grid-size: 2; grid-columns: 1fr 1fr; grid-rows: 1; height: auto; }
    AirScreen.-wide #air-lines { grid-size: 1; grid-columns: 1fr; }
    AirScreen #air-answer { height: 1fr; width: 100%; }
    AirScreen.-wide #air-answer { width: 1fr; height: 100%; border-left: solid $secondary; }
    AirScreen #air-said { height: auto; min-height: 1; max-height: 8; text-wrap: wrap; }
    AirScreen #air-results { height: 1fr; }
    AirScreen #air-said.-stop { color: $error; }
    AirScreen #air-said.-mind { color: $warning; }
    AirScreen #air-results:focus { background: $surface; }
    AirScreen #air-defer { height: auto; max-height: 3; padding: 0 1; text-style: italic; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.form = AirForm()
        self.answer: Air | None = None

    def body(self) -> ComposeResult:
        with Container(id="air-body"):
            with Vertical(id="air-form"):
                yield Field("liquid", "Liquid", self.form.liquid, "e.g. acetone, or acetone 50, ethanol 50")
                yield ChoiceRow("how", "Used as", WAYS, self.form.how)
                with Container(id="air-lines"):
                    for name, label, hint in LINES:
                        yield Field(name, label, getattr(self.form, name), hint)
            with Vertical(id="air-answer"):
                yield Said("", id="air-said", classes="heading", markup=False)
                yield Page(id="air-results")
        yield Static("", id="air-defer", markup=False)

    def on_mount(self) -> None:
        """The words that defer to others stand there before any figure does."""
        from kb.desk.air.air import DEFER

        self.query_one("#air-defer", Static).update(plain(DEFER))
        self.set_focus(self.query_one("#field-liquid", Input))
        self._fit_lines()

    def _fit_lines(self) -> None:
        """Only the lines of this way of working: who types on by Enter would else fill those of another."""
        for field in self.query("#air-lines > Field").results(Field):
            field.display = self.form.asks(field.parts[0])

    def on_screen_resume(self) -> None:
        """The row of the question may be another one by now."""
        if self.form.untouched:
            self.action_take_row(quiet=True)
        if not isinstance(self.focused, (Input, ChoiceRow)):
            # Who comes back types on; on the figures what is typed would go nowhere.
            self.query_one("#field-liquid", Input).focus()
        self.reckon()

    # -- the form --------------------------------------------------------------------------------

    def action_take_row(self, *, quiet: bool = False) -> None:
        """The liquid or blend that one stands on in the question, or in the list of blends."""
        chosen = self._row()
        if chosen is None:
            if not quiet:
                self.bench.say("There is no row in the question yet; F2 asks.", warn=True)
            return
        line = self.query_one("#field-liquid", Input)
        if not quiet and line.value == chosen.name:
            self.bench.say(
                f"{chosen.name} is the row of the question already; F2 and the arrows choose another."
            )
        self.form.take(chosen)
        line.value = chosen.name
        line.action_select_all()
        self.reckon()

    @on(events.DescendantFocus)
    def _all_marked(self, event: events.DescendantFocus) -> None:
        """Typing takes the place of a liquid that nobody typed, and adds to one that somebody did."""
        if event.widget.id == "field-liquid" and isinstance(event.widget, Input) and self.form.untouched:
            event.widget.action_select_all()

    @on(events.DescendantBlur)
    def _line_left(self, event: events.DescendantBlur) -> None:
        """A whole line in that of the liquid goes where it belongs, but not over what is typed there."""
        if event.widget.id != "field-liquid" or self.form.untouched:
            return
        for name, text in taken_apart(self.form.liquid).items():
            if name == "liquid" or not getattr(self.form, name).strip():
                self.query_one(f"#field-{name}", Input).value = text
        self.reckon()

    def on_key(self, event: events.Key) -> None:
        """A letter on the figures is none of their keys: it was meant for a line."""
        if isinstance(self.focused, (Input, ChoiceRow)) or not (event.character or "").isalpha():
            return
        line = self.query_one("#field-liquid", Input)
        line.focus()
        event.stop()
        self.call_later(line.post_message, events.Key(event.key, event.character))

    def _row(self) -> Chosen | None:
        for screen in reversed(self.bench.screens_at("home")):
            chosen: Chosen | None = getattr(screen, "chosen", None)
            if chosen is not None:
                return chosen
        return None

    @on(Input.Changed)
    def _line_changed(self, event: Input.Changed) -> None:
        event.stop()
        if self.form.put(event.input.name or "", event.value):
            self.reckon()

    @on(ChoiceRow.Changed)
    def _way_changed(self, event: ChoiceRow.Changed) -> None:
        event.stop()
        if self.form.put("how", event.row.value):
            self._fit_lines()
            self.reckon()

    def action_page(self, pages: int) -> None:
        pane = self.page
        pane.scroll_relative(y=pages * max(1, pane.size.height - 1), animate=False)

    def action_figures(self) -> None:
        """Open all figures, or fold them; they stand below the curve, so the page goes there."""
        self.page.action_fold(0)
        self.call_after_refresh(self.page.to_parts)

    def action_leave(self) -> None:
        self.bench.action_go("home")

    # -- the answer ------------------------------------------------------------------------------

    def reckon(self) -> None:
        missing = self.form.missing()
        if missing:
            waiting = f"{WAITING.format('; '.join(missing))}{self._taken_words()}"
            self._nothing(waiting)
            named = getattr(self.focused, "id", "") != "field-liquid"

            def told(wrong: str) -> None:
                if wrong:
                    self._nothing(f"{wrong} {waiting}")

            self.ask(partial(wrong_so_far, form=replace(self.form), named=named), told, group="air")
            return
        self.ask(partial(work_out, form=replace(self.form)), self._show, group="air", failed=self._nothing)

    def _taken_words(self) -> str:
        """Where a liquid comes from that nobody typed."""
        held = self.form.taken is not None and self.form.untouched and self.form.liquid
        return (
            f" {self.form.liquid} is that of your question (F2); another may be typed over it."
            if held
            else ""
        )

    def _nothing(self, why: str) -> None:
        """No figures are shown that do not belong to what is typed."""
        self.answer = None
        self._say(why)
        self.page.say(EXPLAINS)

    def _show(self, answer: Air) -> None:
        self.answer = answer
        self._draw()

    def _draw(self) -> None:
        if self.answer is not None:
            from kb.tui.screens.air import words as air_words

            width = max(30, self.page.size.width - 3)
            usual = self.form.usual_words
            self._say(f"{air_words.verdict(self.answer, usual)}{self._taken_words()}")
            self.page.show(air_words.results(self.answer), first=air_words.seen_first(self.answer, width))
            tier = air_words.tier(self.answer)
            self.query_one("#air-said").set_class(tier == "over", "-stop")
            self.query_one("#air-said").set_class(tier == "above action level", "-mind")

    def _say(self, words: str) -> None:
        said = self.query_one("#air-said", Static)
        said.remove_class("-stop", "-mind")
        said.update(plain(words))

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self._draw)
