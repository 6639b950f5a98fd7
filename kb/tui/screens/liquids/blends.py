"""Blends for the question: what is held and allowed, mixed to reach the tape and spare the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from itertools import pairwise
from textwrap import wrap
from typing import TYPE_CHECKING, NamedTuple

from rich.text import Text
from textual import getters, on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.content import Content
from textual.widgets import Static

from kb.desk.canvas import REST, SOLID, gauge
from kb.desk.errors import DeskError
from kb.science.numbers import counted
from kb.tui.actions import BLENDS, bindings, keys_in_words
from kb.tui.drawing import head_of, labelled
from kb.tui.screens.choose.asked import Asked, short
from kb.tui.screens.records.draft import Chosen
from kb.tui.text import cut, line, parts_cut, plain, tidy
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.frame import Said
from kb.tui.widgets.page import OPENS, Page, PageScreen
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.liquids.blends import Alone, BlendFound, Blends
    from kb.desk.liquids.drying import Drying
    from kb.desk.materials.safety import SafetyNote
    from kb.desk.studio import Studio
    from kb.model.question import Question

LIMIT = 5
BAR = 6
"""Cells of the bar beside a figure."""
FOR_ML = 20
"""The amount for which the parts are measured out."""
ALONE = 3
"""Liquids that do without mixing, at most so many of them, stand over the blends."""
PARTS = "█▓▒░"
"""A sign for each part in the bars of drying, which no colour is needed to tell apart."""
NO_TAPE = (
    "Blends are found for an adhesive. Name the tape or adhesive in the question first: Esc goes back to it, "
    "/ to its blanks."
)
SIGNS_ONLY = (
    "The tape is known by its signs only, and blends are found for one adhesive. Choose one in the first "
    "blank of the question (Esc, then /)."
)
TOLD_AT = (0.0, 50.0, 80.0, 95.0)


class Whole(NamedTuple):
    """One blend with its drying and its safety note; ``trouble`` says why there is no drying path."""

    blend: BlendFound
    drying: Drying | None
    trouble: str
    safety: SafetyNote


def look(
    studio: Studio, question: Question, carrier_too: bool = False, instead_of: str | None = None
) -> Blends:
    """Find blends for a question. For a thread. Raises DeskError in words for a person at the screen."""
    from kb.desk.liquids.blends import find_blends

    if not question.adhesive:
        raise DeskError(SIGNS_ONLY if question.may_be else NO_TAPE)
    return find_blends(studio, question, LIMIT, carrier_too, instead_of=instead_of)


def whole(studio: Studio, blend: BlendFound, question: Question) -> Whole:
    """Drying, against what the question has within reach, and safety of one blend. For a thread."""
    from kb.desk.liquids.drying import drying_path
    from kb.desk.liquids.spheres import adhesive_spheres, spheres_in_reach
    from kb.desk.materials.safety import safety_note

    parts = shares(blend)
    note = safety_note(studio, parts)
    try:
        into = adhesive_spheres(studio, question.adhesive)
        out_of, _ = spheres_in_reach(studio, question, with_carrier=True)
        return Whole(blend, drying_path(studio, parts, into=into, out_of=out_of), "", note)
    except DeskError as error:
        return Whole(blend, None, str(error), note)


def shares(blend: BlendFound) -> dict[str, float]:
    """Parts as shares of one."""
    return {part: percent / 100.0 for part, percent in blend.parts_pct.items()}


def rows(found: Blends, colours: Mapping[str, str]) -> list[TableRow]:
    """Liquids that do alone, then the blends in their order; bars in the colours of the screen."""

    def bar(share: float, colour: str) -> Text:
        style = {SOLID: colours.get(colour, ""), REST: colours.get("secondary", "")}
        runs = gauge(share, share, BAR, limit=None)
        return Text.assemble(*((text, style.get(layer, "")) for text, layer in runs))

    def line_of(
        rank: str, name: str, red: float | None, margin: float | None, hazard: float, key: str
    ) -> TableRow:
        spares = bar(min(1.0, max(0.0, margin or 0.0)), "success").append(f" {_clear(margin):>5}")
        return TableRow(
            key,
            (
                rank,
                name,
                "-" if red is None else bar(min(1.0, max(0.0, 1.0 - red)), "primary"),
                spares,
                bar(hazard, "accent"),
            ),
            (
                float(rank) if rank != "-" else 0.0,
                name,
                2.0 if red is None else red,
                -(margin or 0.0),
                hazard,
            ),
        )

    return [
        *(line_of("-", one.name, None, one.margin, one.hazard, one.liquid) for one in found.alone[:ALONE]),
        *(
            line_of(
                str(one.rank),
                one.name,
                max(one.red_into.values()) if one.red_into else None,
                one.margin,
                one.hazard,
                str(one.rank),
            )
            for one in found.blends
        ),
    ]


def _clear(margin: float | None) -> str:
    return "-" if margin is None else f"{margin:+.2f}"


COLUMNS = (
    Column("rank", "", figure=True),
    Column("name", "Try instead", shorten=parts_cut),
    Column("reaches", "Reaches", figure=True),
    Column("spares", "Spares", figure=True),
    Column("hazard", "Hazard", figure=True),
)


def first_lines(all_of: Whole, room: int) -> list[Content]:
    """As it dries, what is gained and lost, and what to measure out."""
    blend, drying = all_of.blend, all_of.drying
    names = drying.names if drying else {}
    lines = no_gain(blend, room)
    if drying is not None:
        lines.append(Content.styled("As it dries", "bold"))
        told = {round(step.lost_pct): step for step in drying.steps}
        for lost, words in ((0, "at first"), (50, "half gone"), (95, "nearly dry")):
            if lost in told:
                lines.append(_stacked(words, told[lost].shares_pct, list(blend.parts_pct), room))
        key = (
            f"{PARTS[place % len(PARTS)]} {names.get(one, one)}" for place, one in enumerate(blend.parts_pct)
        )
        lines += [Content.styled(cut("   ".join(key), room), "$secondary"), Content("")]
    gained, lost_words = _gained(blend)
    for label, said in (("Gained", gained), ("Lost", lost_words)):
        if said:
            lines += labelled(label, "; ".join(said), 7, room)
    amounts = ", ".join(
        f"{FOR_ML * percent / 100:.3g} ml {names.get(part, part)}"
        for part, percent in blend.parts_pct.items()
    )
    lines += labelled(f"{FOR_ML} ml", amounts, 7, room)
    return [*lines, Content("")]


def no_gain(blend: BlendFound, room: int) -> list[Content]:
    """That a part alone does as well, where one does."""
    if not blend.alone_does:
        return []
    said = f"{blend.alone_does} alone clears as well and is no worse: mixing gains nothing."
    return [*labelled("", said, 0, room, "bold"), Content("")]


def _stacked(label: str, shares: Mapping[str, float], order: Sequence[str], room: int) -> Content:
    """One bar of all parts, each with its own sign."""
    wide = max(10, room - 12)
    ends, total = [0], 0.0
    for part in order:
        total += shares.get(part, 0.0)
        ends.append(round(wide * total / 100.0))
    bar = "".join(
        PARTS[place % len(PARTS)] * (high - low) for place, (low, high) in enumerate(pairwise(ends))
    )
    return Content.assemble((f"{label:<11} ", "$secondary"), (bar, "$primary"))


def _gained(blend: BlendFound) -> tuple[list[str], list[str]]:
    """What is better and what is worse than the pure liquid that it could stand in for."""
    gained: list[str] = []
    lost: list[str] = []
    if (gain := blend.gain) is None:
        return gained, lost
    if abs(gain.hazard) >= 0.005:
        (gained if gain.hazard < 0 else lost).append(
            f"{'less' if gain.hazard < 0 else 'more'} hazard than {gain.name}"
        )
    if gain.margin is not None and abs(gain.margin) >= 0.05:
        (gained if gain.margin > 0 else lost).append(
            f"{'farther from' if gain.margin > 0 else 'nearer to'} what is to be spared"
        )
    if gain.flash_c is not None and abs(gain.flash_c) >= 0.5:
        (gained if gain.flash_c > 0 else lost).append(f"flash point {gain.flash_c:+.0f} °C")
    if gain.vapour_ratio is not None and abs(gain.vapour_ratio - 1) >= 0.05:
        (gained if gain.vapour_ratio < 1 else lost).append(
            f"{gain.vapour_ratio:.2g} times the vapour against its limits"
        )
    return gained, lost


def alone_gist(one: Alone) -> str:
    """What there is to say of a liquid that does without mixing."""
    clear = "" if one.margin is None else f" It clears what is to be spared by {one.margin:+.2f} RED."
    return f"{one.name} does without mixing.{clear} R reads its safety note, T starts a spot test with it."


def safety_of(studio: Studio, liquid: str) -> str:
    """The safety note of a plain liquid. For a thread."""
    from kb.desk.materials.safety import safety_note
    from kb.tui.screens.choose.ranking import full_safety

    return full_safety(safety_note(studio, {liquid: 1.0}))


def gist(one: BlendFound, found: Blends) -> list[tuple[str, list[str]]]:
    """What there is to know of the row one stands on, by heading; what can hurt comes first."""
    gain = one.gain.text[:1].upper() + one.gain.text[1:] + "." if one.gain else "No pure liquid is near it."
    return [
        ("To mind", [f"Fire: {one.flash}.", f"Vapour: {one.exposure}.", f"Mixing: {one.mixing}."]),
        ("Instead of", [gain]),
        ("Clearance", _reach(one)),
        ("Drying", [f"- {text}" for text in one.drying]),
        ("On what it rests", [*found.notes, found.objective, f"{found.model}. {found.source}."]),
    ]


def _reach(one: BlendFound) -> list[str]:
    lines = [
        f"Into {name}: RED {red:.2f}{'' if red <= 1 else ', outside'}" for name, red in one.red_into.items()
    ]
    for name, red in sorted(one.red_out_of.items(), key=lambda pair: pair[1]):
        kept = "clear" if red > 1 else "INSIDE"
        lines.append(f"Out of {name}: RED {red:.2f}, {kept}{' (nearest)' if name == one.nearest else ''}")
    return lines or ["Nothing within reach has a sphere known here."]


def full(all_of: Whole) -> str:
    """Parts, drying and safety of one blend, to read."""
    from kb.tui.screens.choose.ranking import full_safety

    blend, drying = all_of.blend, all_of.drying
    lines = [all_of.safety.defer, "", "Parts, % by volume"]
    names = drying.names if drying else {}
    lines += [f"- {percent:>3} %  {names.get(part, part)}" for part, percent in blend.parts_pct.items()]
    lines += ["", "Clearance", *_reach(blend)]
    lines += ["", "What is left on the sheet as it dries, % by volume of the rest"]
    lines += drying_lines(drying) if drying else [f"- {all_of.trouble}"]
    lines += ["", f"Fire: {blend.flash}.", f"Vapour: {blend.exposure}.", f"Mixing: {blend.mixing}."]
    # The note defers first as well; once, at the top, is read.
    note = full_safety(all_of.safety).removeprefix(all_of.safety.defer).strip()
    return "\n".join([*lines, "", "Safety, all parts together", note])


def drying_lines(drying: Drying) -> list[str]:
    """A line for each loss, then warnings and notes, and how it was reckoned."""
    lines = []
    for step in drying.steps:
        if any(abs(step.lost_pct - told) < 1e-6 for told in TOLD_AT):
            rest = ", ".join(
                f"{drying.names.get(part, part)} {share:.0f} %" for part, share in step.shares_pct.items()
            )
            when = "fresh" if step.lost_pct == 0 else f"{step.lost_pct:.0f} % gone"
            lines.append(f"- {when:<9} {rest}")
    lines.append(f"- gone in this order: {', '.join(drying.names.get(one, one) for one in drying.order)}")
    lines += [f"- WARNING: {text}" for text in drying.warnings]
    lines += [f"- {text}" for text in drying.notes]
    return [*lines, f"- At {drying.temp_c:g} °C. {drying.model}. {drying.source}."]


def left_out(found: Blends) -> str:
    """Liquids and pairs that were not combined, and liquids that do without mixing."""
    lines = ["Liquids that do by themselves"]
    for one in found.alone:
        clear = "" if one.margin is None else f", clearance {one.margin:+.2f} RED"
        lines.append(f"- {one.name}{clear}, hazard {one.hazard:.2f}")
    lines += ["- none"] if not found.alone else []
    lines += ["", "Pairs that are never combined"]
    lines += [f"- {pair.names[0]} and {pair.names[1]}: {pair.why}" for pair in found.parted] or ["- none"]
    lines += ["", "Left out"]
    lines += [f"- {one.name}: {one.why}" for one in found.left_out] or ["- none"]
    return "\n".join(lines)


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
                yield Table(COLUMNS, id="blend-list")
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
        return Chosen(self.here.name, shares(self.here)) if self.here else None

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
            return look(studio, asked.question(studio), carrier_too, instead)

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
        self.rows.show(rows(self.found, self.app.get_css_variables()) if self.found else ())
        self._other_row()

    @on(Table.RowHighlighted)
    def _other_row(self) -> None:
        pane, here, alone, found = self.page, self.here, self.plain_here, self.found
        self._called = head_of(pane, here.name if here else alone.name if alone else "", "Blend")
        if here is not None and found is not None:
            pane.show(gist(here, found), top=True, first=[*self._whole, *no_gain(here, self._room)])
            verb = partial(whole, blend=here, question=found.question)
            self.ask(verb, self._dries, group="drying", failed=lambda _: None)
        else:
            pane.say(alone_gist(alone) if alone else "")
        self.refresh_bindings()

    def _dries(self, all_of: Whole) -> None:
        """What stays last, as bars; what is gained; what to measure out."""
        if self.here is not None and self.found is not None:
            first = [*self._whole, *first_lines(all_of, self._room)]
            self.page.show(gist(self.here, self.found), top=True, first=first)

    # -- what can be done with a row -------------------------------------------------------------

    @on(Table.RowSelected)
    def action_whole(self) -> None:
        if self.here is not None and self.found is not None:
            verb = partial(whole, blend=self.here, question=self.found.question)
            self.ask(verb, lambda whole: self.note(f"Blend: {whole.blend.name}", full(whole)), group="whole")
        elif (alone := self.plain_here) is not None:
            then = partial(self.note, alone.name)
            self.ask(partial(safety_of, liquid=alone.liquid), then, group="whole")

    def action_left_out(self) -> None:
        if self.found is not None:
            self.note("Left out, and what does alone", left_out(self.found))

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
