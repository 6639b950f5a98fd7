"""A form of a record of any kind: what fills it at first, how it is understood, and storing it.

What is said here comes from the declaration of the kind; a kind with more to say has a module in `OWN`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from textwrap import shorten
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.book.kinds.condition import condition_words
from kb.book.kinds.field import asked
from kb.book.kinds.housing import PLACES
from kb.book.kinds.kind import Kind
from kb.book.kinds.mend import Mend
from kb.book.kinds.table import KINDS
from kb.desk.records import work_records as work
from kb.desk.records.record import write
from kb.desk.records.typed_fields import checked_from_words, record_from_words
from kb.desk.sheet.facts import TORN, conditions
from kb.desk.sheet.names import found_sheet
from kb.desk.studio import Studio

if TYPE_CHECKING:
    from kb.desk.making.batches import BatchView
    from kb.desk.sheet.facts import SheetFacts
    from kb.desk.sheet.plan import SheetPlan

ADHESIVES = ("starch paste", "cellulose ether", "protein", "mixture")
"""Categories of recipes that mends and hinges are stuck with."""

LIKE = 8
"""Names that a line is offered for what was typed."""


class Choice(NamedTuple):
    """What a line may be filled with: as it is typed, and in words."""

    value: str
    words: str
    brief: str = ""
    """For the empty line, which is short at 80 columns; else the words."""


class Begun(NamedTuple):
    """A form as it opens: what is known of the sheet, and what each line may be filled with by a key.

    What was done is for a person to say: no tissue, length, batch or place stands there before it is chosen.
    """

    values: dict[str, str]
    hints: dict[str, str]
    choices: dict[str, tuple[Choice, ...]]


class Understood(NamedTuple):
    """How a form is understood while one types, and what speaks against it."""

    words: tuple[str, ...]
    warnings: tuple[str, ...]


class Stored(NamedTuple):
    """A record on disk: its id, and what speaks against it."""

    id: str
    warnings: tuple[str, ...]


def begin(studio: Studio, *, kind: str, sheet: str) -> Begun:
    """What is known of the sheet for a new record. Choices come from the plan and from batches in use."""
    from kb.desk.errors import DeskError
    from kb.desk.sheet.facts import sheet_facts
    from kb.desk.sheet.plan import sheet_plan

    studio.refresh()
    facts, plan = sheet_facts(studio, sheet), None
    if sheet.strip():
        try:
            plan = sheet_plan(studio, sheet, facts)
        except DeskError:
            # Notes that cannot be reckoned with fill nothing in; the plan itself says what is wrong.
            facts = type(facts)()
    begun = Begun({"sheet": sheet}, {}, _choices(studio, KINDS[kind], plan, sheet))
    if fill := _FILLS.get(kind):
        fill(begun, facts, plan)
    for name, choices in begun.choices.items():
        if choices:
            brief = choices[0].brief or shorten(choices[0].words, 56, placeholder=" ...")
            begun.hints[name] = f"Ctrl+E: {brief}"
    return begun


def _open(studio: Studio, sheet: str) -> list[Choice]:
    """Damage that is still open, tears and losses first: the id as it is typed, and what it is."""
    still = [row for row in conditions(studio, sheet) if not row.body.treated]
    still.sort(key=lambda row: row.body.damage not in TORN)
    return [Choice(row.id[: work.SHORT], condition_words(row.body)) for row in still]


def _settles(studio: Studio, mend: Mend) -> tuple[str, str]:
    """Which damage a mend settles, and what speaks against that."""
    found = {row.id: row.body for row in conditions(studio, mend.sheet)}
    if mend.mends:
        one = found.get(mend.mends)
        of_another = "" if one else "That damage is not of this sheet."
        return (f"It settles: {condition_words(one)}" if one else ""), of_another
    torn = "; ".join(condition_words(one) for one in found.values() if one.damage in TORN and not one.treated)
    return "", f"No damage is named, so this stays open: {torn}. Ctrl+E in its line names it." if torn else ""


def _mend(begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> None:
    strips = plan.tissue.strips if plan and plan.tissue else None
    if facts.tear_length:
        begun.choices["length"] = (Choice(facts.tear_length, f"{facts.tear_length}, open tear"),)
    if strips:
        begun.hints.update(strips=f"planned: {strips.pieces}", width=f"planned: {strips.width.value:g} mm~")


def _toning(begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> None:
    last = plan.tonings[-1]["toning"] if plan and plan.tonings else None
    if last and last.aim:
        # The sheet was read once; the next trial is held against the same reading.
        begun.values.update(aim=str(last.aim), read_with=last.read_with)
    begun.choices.pop("batch", None)


def _housing(begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> None:
    begun.values.update(size=facts.size, humidity=facts.humidity)
    begun.choices.update(into=tuple(Choice(place, place) for place in PLACES))
    found = plan.housing if plan else None
    if found:
        sides = [f"{gap.advised.value:.3g}" for gap in found.gaps if gap.advised.value is not None]
        begun.hints.update(gap=f"at least {' x '.join(sides)} mm")
        begun.hints.update(hinges=f"planned: {found.hinges.count.words}")


_FILLS: dict[str, Callable[[Begun, SheetFacts, SheetPlan | None], None]] = {
    "mend": _mend,
    "toning": _toning,
    "housing": _housing,
}
"""What the sheet and its plan tell of a new record.

They stand here and not with their kinds, because the plan lists records of these kinds."""


def _choices(studio: Studio, kind: Kind, plan: SheetPlan | None, sheet: str) -> dict[str, tuple[Choice, ...]]:
    """What each line may be, by what its field holds."""
    found: dict[str, tuple[Choice, ...]] = {}
    for key, group in asked(kind.type).items():
        says = group[0].says
        if says.record == "batch":
            found[key] = tuple(_batches(studio))
        elif says.record == "condition":
            found[key] = tuple(_open(studio, sheet))
        elif says.record == "toning" and plan:
            found[key] = tuple(
                Choice(one["id"][: work.SHORT], one["words"]) for one in reversed(plan.tonings)
            )
        elif says.entries == ("tissue",) and plan:
            found[key] = tuple(Choice(*one) for one in _tissues(studio, kind, plan))
    return found


def _tissues(studio: Studio, kind: Kind, plan: SheetPlan) -> Iterator[tuple[str, str]]:
    """Tissues of the plan: those for mends, or of the weight that hinges need, which carry the sheet."""
    from kb.desk.materials.measured import bounds
    from kb.desk.sheet.tissue import named_of_weight

    if kind.key != "housing":
        views = plan.tissue.tissues if plan.tissue else ()
        yield from ((one.name, f"{one.name}, {one.grammage.words}") for one in views)
    elif plan.housing:
        yield from named_of_weight(studio, *bounds(plan.housing.hinges.tissue))


def _batches(studio: Studio) -> Iterator[Choice]:
    """Pastes in use that nothing speaks against, the newest first; last those whose day is not known."""
    from kb.desk.making.batches import all_batches
    from kb.desk.making.recipe import recipes

    pastes = {one.id for one in recipes(studio) if one.category in ADHESIVES}
    newest = sorted(all_batches(studio), key=lambda batch: batch.made_at, reverse=True)
    for one in sorted(newest, key=lambda batch: not batch.expires):
        paste = one.recipe in pastes or (not one.recipe and "paste" in one.name.casefold())
        # Also what it was made from: a paste from a bad stock is no better than the stock.
        if paste and not any(work.batch_warnings(studio, one.id, "")):
            name = shorten(one.name.partition(",")[0], 38, placeholder=" ...")
            yield Choice(one.short, batch_words(one), f"{name}, made {one.made_at}")


def batch_words(one: BatchView) -> str:
    """``wheat starch paste, made 2026-01-05, use by 2026-01-12``."""
    return f"{one.name}, made {one.made_at}, use by {one.expires or 'not known'}"


def like(studio: Studio, *, kinds: tuple[str, ...], typed: str) -> tuple[Choice, ...]:
    """Entries of these kinds whose names are like the words, the likest first."""
    from kb.desk.materials.lookup import find

    return tuple(Choice(one.name, one.kind) for one in find(studio, typed, kinds, LIKE))


# -- what is typed ---------------------------------------------------------------------------------


def understood(studio: Studio, *, kind: str, values: Mapping[str, str]) -> Understood:
    """What would be stored, in words. Raises DeskError for what cannot be."""
    known = KINDS[kind]
    body = record_from_words(studio, known, values)
    own = work.own(kind, "said")
    words, against = own(studio, body) if own else ((_says(studio, known, body),), ())
    warnings = work.warnings(studio, known, body)
    settles, stays_open = _settles(studio, body) if isinstance(body, Mend) else ("", "")
    words = (*words, *filter(None, (settles,)), *_batch_said(studio, getattr(body, "batch", "")))
    return Understood(words, (*filter(None, (stays_open,)), *against, *warnings))


def _says(studio: Studio, kind: Kind, body: Any) -> str:
    if body == kind.type(**{kind.subject: getattr(body, kind.subject)}):
        return f"Nothing is said of the {kind.noun} yet."
    return f"It will say: {work.words_of(studio, kind, body)}"


def _batch_said(studio: Studio, batch: str) -> Iterator[str]:
    from kb.desk.making.batches import show

    if batch:
        one = show(studio, batch)
        yield f"Batch {one.short}: {batch_words(one)}"


def store(studio: Studio, *, kind: str, values: Mapping[str, str]) -> Stored:
    """Write the record; on disk when it returns. What comes after the write cannot undo it."""
    body = checked_from_words(studio, KINDS[kind], values)
    if values.get("new_sheet"):
        found_sheet(studio, body.sheet)
    written = write(studio, kind, body)
    try:
        warnings = understood(studio, kind=kind, values=values).warnings
    except Exception:
        warnings = ()
    return Stored(written.id, warnings)
