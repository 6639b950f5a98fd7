"""A recipe in lines for the screen. No widgets, no I/O."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from kb.desk.making.recipe import Made, Part, life_words, span, words
from kb.desk.making.steps import StepsState, timer_key
from kb.model.recipe import Read, Recipe, RecipeStep
from kb.tui.clock import Timers
from kb.tui.day import minute_of

LABEL = 11
_GRAMS = re.compile(r"[\d.,]+\s*k?g")
HOUR_MIN, DAY_MIN = 60.0, 1440.0
TIMES = (("weeks", 7 * DAY_MIN, 2), ("days", DAY_MIN, 3), ("h", HOUR_MIN, 3))
"""A unit one says, its length in minutes, and from how many on it is said."""
NO_TIME = "This step has no time in the recipe; the timer counts up."


AMOUNTS: Mapping[Read, str] = {
    "read": "read in a source",
    "partly read": "read in a source only in part",
    "from memory": "from memory",
    "common practice": "common practice, no source",
}


class Line(NamedTuple):
    """One line. ``step`` is the step that it shows, counted from 1; 0 where it shows none."""

    text: str
    step: int = 0
    head: bool = False
    recipe: str = ""
    """Id of the recipe that the line leads to."""
    more: str = ""
    """What Enter opens to be read."""
    hangs: int = 0
    """Cells before what goes on in a next line, so that it stands under its own words."""


class Opened(NamedTuple):
    """A recipe as it is read: made in an amount, or (``trouble`` says why) only as it is written."""

    recipe: Recipe
    made: Made | None
    state: StepsState
    trouble: str = ""


def lines(opened: Opened, timers: Timers) -> list[Line]:
    """Everything of a recipe, what is needed first."""
    steps = step_lines(opened.state, timers)
    return [*_amounts(opened), *_first(opened.recipe), *steps, *_after(opened.recipe), *_sources(opened)]


def aim_s(step: RecipeStep) -> float | None:
    """When the timer rings: after the shortest time that the step names."""
    return 60.0 * step.minutes if step.minutes else None


def _amounts(opened: Opened) -> Iterator[Line]:
    made = opened.made
    if made is None:
        if opened.recipe.basis_note:
            yield Line(opened.recipe.basis_note)
        return
    makes = f", makes {made.makes_words}" if made.makes_words else ""
    yield Line(f"Take{f' for {made.by}' if made.by else ' (as written)'}{makes}", head=True)
    amounts = [f"{_amount(part)}{_weight(made, part)}" for part in made.parts]
    wide = min(26, max((len(one) for one in amounts), default=0))
    shares = [_share(part) for part in made.parts]
    name_wide = min(30, max((len(part.name) for part in made.parts), default=0))
    share_wide = max((len(one) for one in shares), default=0)
    for amount, share, part in zip(amounts, shares, made.parts, strict=True):
        said = f"{part.name:<{name_wide}}  {share:>{share_wide}}{_beside(part)}".rstrip()
        # A remark that goes on under the amounts would be read as one of them.
        yield Line(f"  {amount:>{wide}}  {said}", recipe=part.recipe, hangs=4 + wide)
    total = _total(made)
    if total:
        yield _labelled("together", total)
    if made.strength:
        yield _labelled("strength", made.strength)
    for text in made.notes:
        # Why less comes out than goes in has been said beside the two.
        if text not in total:
            yield _labelled("note", text)
    for text in made.missing:
        yield _labelled("not known", text)


def _minded(recipe: Recipe) -> list[tuple[str, str]]:
    """What to mind of it; the label first."""
    return [("label", ", ".join(recipe.hazards)), *(("mind", one.text) for one in recipe.cautions)]


def _first(recipe: Recipe) -> Iterator[Line]:
    """What can hurt comes before the first step: below the last it was out of sight."""
    if recipe.hazards:
        yield Line("Mind first", head=True)
        yield from (_labelled(word, text) for word, text in _minded(recipe))


def _total(made: Made) -> str:
    """What is put together, unless that is what it makes; and why less comes out, where it does."""
    if made.total is None or made.makes_words == words(made.total, made.total, made.total_unit):
        return ""
    total, stated = words(made.total, made.total, made.total_unit), made.recipe.makes
    if stated is None or made.makes_unit != made.total_unit:
        return f"{total}, before anything evaporates"
    return f"{total} goes in, {made.makes_words} comes out: {stated.note or 'the rest is lost in the making'}"


def _labelled(label: str, text: str, recipe: str = "") -> Line:
    return Line(f"  {label:<{LABEL}}{text}", recipe=recipe, hangs=2 + LABEL)


def _amount(part: Part) -> str:
    return f"{'make up to ' if part.whole else ''}{part.words or 'not said'}"


def _weight(made: Made, part: Part) -> str:
    """`` (80 g)`` behind a volume, where grams were asked for: who asks so works at a balance."""
    if not _GRAMS.fullmatch(made.by) or not part.words.endswith(("ml", " l")):
        return ""
    if part.whole:
        # What is made up to a volume weighs what was asked for, by the density that a note names.
        return f" ({made.by})" if part.words == made.makes_words else ""
    return f" ({part.grams:.3g} g)" if part.grams is not None else ""


def _beside(part: Part) -> str:
    """What stands behind an ingredient: a remark, and the recipe that it is made by."""
    note = f"  ({part.note})" if part.note else ""
    return f"{note}{'  [Enter: its recipe]' if part.recipe else ''}"


def _share(part: Part) -> str:
    return f"{part.share:.3g} % {part.share_basis}" if part.share is not None else ""


def step_lines(state: StepsState, timers: Timers) -> Iterator[Line]:
    """Every step with its tick and its timer."""
    if not state.steps:
        return
    done = len(state.ticked)
    by = f", for {state.by}" if state.by and done else ""
    yield Line(f"Steps: {done} of {len(state.steps)} ticked{by}", head=True)
    if state.changed:
        yield Line("  The steps were changed after the first tick: read every one again.")
    if state.problem:
        yield Line(f"  {state.problem}")
    for number, step in enumerate(state.steps, 1):
        yield Line(step_line(state, number, step, timers), number, hangs=len(f"[ ] {number}. "))


def step_line(state: StepsState, number: int, step: RecipeStep, timers: Timers) -> str:
    """``[x] 2. Cook it (20 to 30 min, 85 °C) [hold] - ticked 2026-11-25 14:02 - timer 03:10 of 20:00``."""
    at = state.ticked.get(number, "")
    mark = "[x]" if at else "[ ]"
    ticked = f" - ticked {minute_of(at)}" if at else ""
    timer = timers.words(timer_key(state.recipe, number))
    return f"{mark} {number}. {step_words(step)}{ticked}{f' - timer {timer}' if timer else ''}"


def step_words(step: RecipeStep) -> str:
    """A step with its time and warmth."""
    spans = (time_words(step.minutes, step.minutes_high), span(step.temp_c, step.temp_high_c, "°C"))
    told = ", ".join(one for one in spans if one)
    hold = " [hold: wait, look, then go on]" if step.hold else ""
    return f"{step.text}{f' ({told})' if told else ''}{hold}{f' ({step.note})' if step.note else ''}"


def time_words(low: float | None, high: float | None) -> str:
    """``20 to 30 min``; hours from three hours on, days from three days on, where both ends are whole.

    Where only the longer end is: ``30 min to 12 h``.
    """
    for unit, length, least in TIMES:
        ends = [end / length for end in (low, high) if end is not None]
        if ends and max(ends) >= least and min(ends) >= 1 and all(end == int(end) for end in ends):
            return span(low and low / length, high and high / length, unit)
    if low and high and low < HOUR_MIN and high >= 3 * HOUR_MIN:
        return f"{low:g} min to {time_words(high, None)}"
    return span(low, high, "min")


def _after(recipe: Recipe) -> Iterator[Line]:
    if recipe.consistency:
        yield Line("Thinned for use", head=True)
    for one in recipe.consistency:
        added = span(one.add_low, one.add_high if one.add_high != one.add_low else None, "parts of water")
        yield Line(f"  {one.name}: to one part by weight add {added}; {one.use}", hangs=4)
    told = [
        *(("keeps", life_words(one)) for one in recipe.shelf_life),
        ("store", recipe.storage),
        ("use", "; ".join(recipe.uses)),
        *([] if recipe.hazards else _minded(recipe)),
        *(("or", f"{one.name}: {one.text}") for one in recipe.variants),
        ("amounts", AMOUNTS[recipe.read]),
    ]
    yield Line("Keeping, using" if recipe.hazards else "Keeping, using, minding", head=True)
    if recipe.thinned_by:
        yield _labelled("thinning", "[Enter: how far, and for what]", recipe.thinned_by)
    for word, text in told:
        if text:
            yield _labelled(word, text)


def _sources(opened: Opened) -> Iterator[Line]:
    if opened.made is None:
        return
    told = opened.made.sources
    marks = ", ".join(dict.fromkeys(one.mark for one in told))
    # What was read is no less to be trusted for standing one key deeper; how far to trust it is said here.
    yield Line(
        f"Sources: {len(told)} ({marks}) [Enter lists them]",
        more="\n\n".join(f"{one.id}: {one.cite} ({one.mark})" for one in told),
    )
