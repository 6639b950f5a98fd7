"""Forms for what was done to a sheet - mends, toning tests, housing: their lines, and what fills them.

No widgets. What uses the desk is called in a thread, under its lock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from kb.tui.day import today
from kb.tui.widgets.choice_row import One

if TYPE_CHECKING:
    from kb.desk.making.batches import BatchView
    from kb.desk.sheet.plan import SheetFacts, SheetPlan
    from kb.desk.studio import Studio

Kind = Literal["mend", "toning", "housing"]
ADHESIVES = ("starch paste", "cellulose ether", "protein", "mixture")
"""Categories of recipes that mends and hinges are stuck with."""
BATCH_HINT = "the beginning of its id"
NO_GAP = "Type the gap that was left: it is held against the one that the sheet needs."
AT = "today, if left empty"


class Item(NamedTuple):
    """One line of a form: the desk's key, its label, a hint; with ``choices`` a row of them."""

    name: str
    label: str
    hint: str = ""
    choices: tuple[One, ...] = ()


class Form(NamedTuple):
    """A form. A row holds one item or two side by side."""

    kind: Kind
    called: str
    title: str
    rows: tuple[tuple[Item, ...], ...]


class Choice(NamedTuple):
    """What a line may be filled with: as it is typed, and in words."""

    value: str
    words: str


class Begun(NamedTuple):
    """A form as it opens. ``proposed`` are names of lines that nobody typed and that are no facts."""

    form: Form
    values: dict[str, str]
    hints: dict[str, str]
    choices: dict[str, tuple[Choice, ...]]
    proposed: tuple[str, ...]


TEARS = (
    One("-", "", "", "-"),
    One("p", "plain", "", "P plain"),
    One("s", "scarfed", "", "S scarfed"),
    One("t", "through", "", "T through"),
    One("i", "inside", "", "I inside"),
    One("l", "loss", "", "L loss"),
    One("f", "lifting", "", "F lifting"),
)
FACES = (
    One("-", "", "", "- not said"),
    One("f", "front", "", "F front"),
    One("b", "back", "", "B back"),
)
BLEEDS = (
    One("-", "", "on a damp swab, when dry", "- not looked at"),
    One("n", "no", "", "N no"),
    One("s", "slightly", "", "S slightly"),
    One("y", "yes", "", "Y yes"),
)
PLACES = ("frame", "window mat", "folder", "box", "drawer")
SHEET = Item("sheet", "Sheet", "which object")
PHOTO = Item("photo", "Photos", "paths, ; between")
REMARKS = Item("remarks", "Remarks")
MEND = Form(
    "mend",
    "mend",
    "A mend",
    (
        (SHEET,),
        (Item("tear", "Tear", choices=TEARS),),
        (Item("site", "Site", "where, in words"),),
        (Item("face", "Face", choices=FACES),),
        (Item("length", "Length", "such as 45 mm"), Item("width", "Width", "of strip or piece")),
        (Item("tissue", "Tissue", "a name, or any words"),),
        (Item("strips", "Strips", "how many"), Item("pressed", "Pressed", "such as 30 min")),
        (Item("adhesive", "Adhesive", "that of the batch, if left empty"),),
        (Item("batch", "Batch", BATCH_HINT),),
        (Item("toning", "Toned by", "id of a toning test"), Item("at", "Made on", AT)),
        (PHOTO,),
        (REMARKS,),
    ),
)
TONING = Form(
    "toning",
    "toning test",
    "A toning test",
    (
        (SHEET,),
        (Item("tissue", "Tissue", "or paper: a name, or any words"),),
        (Item("colourant", "Put on", "such as raw umber 0.4 g; water 20 ml"),),
        (Item("batch", "Batch", BATCH_HINT), Item("coats", "Coats", "how many")),
        (Item("aim", "Sheet L a b", "such as 88 1.2 12"), Item("dry", "Dry L a b", "the toned one")),
        (Item("read_with", "Read with", "instrument, light, observer, backing"),),
        (Item("judged", "By eye", "such as a shade too dark"),),
        (Item("bleeds", "Bleeds", choices=BLEEDS),),
        (Item("at", "Made on", AT),),
        (REMARKS,),
    ),
)
HOUSING = Form(
    "housing",
    "housing",
    "A housing",
    (
        (SHEET, Item("size", "Size", "such as 420 x 594 mm")),
        (Item("into", "Put into", "frame, folder, box"), Item("place", "Place", "room, cabinet, shelf")),
        (Item("gap", "Gap left", "such as 5 x 6 mm"), Item("humidity", "Humidity", "such as 45-55 %")),
        (Item("hinges", "Hinges", "how many"), Item("hinge_tissue", "of tissue", "a name")),
        (Item("batch", "Batch", BATCH_HINT),),
        (Item("glazing", "Glazing"), Item("board", "Board")),
        (Item("spacer", "Spacer", "such as 4 mm"), Item("depth", "Depth", "of the rebate")),
        (Item("light", "Light", "such as 50 lux"), Item("at", "Done on", AT)),
        (PHOTO,),
        (REMARKS,),
    ),
)
FORMS: dict[Kind, Form] = {"mend": MEND, "toning": TONING, "housing": HOUSING}


# -- what fills a form at first --------------------------------------------------------------------


def begin(studio: Studio, *, kind: Kind, sheet: str) -> Begun:
    """A form with what is known of the sheet. Proposals come from the plan and from batches in use."""
    from kb.desk.errors import DeskError
    from kb.desk.sheet.plan import sheet_facts, sheet_plan

    studio.refresh()
    facts, plan = sheet_facts(studio, sheet), None
    if sheet.strip():
        try:
            plan = sheet_plan(studio, sheet, facts)
        except DeskError:
            # Notes that cannot be reckoned with fill nothing in; the plan itself says what is wrong.
            facts = type(facts)()
    batches = tuple(_batches(studio))
    begun = Begun(FORMS[kind], {"sheet": sheet}, {}, {"batch": batches}, ())
    return {"mend": _mend, "toning": _toning, "housing": _housing}[kind](studio, begun, facts, plan)


def _mend(studio: Studio, begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> Begun:
    tissues, strips = _tissues(plan), plan.tissue.strips if plan and plan.tissue else None
    begun.values.update(tear=facts.tear, length=facts.tear_length)
    if strips:
        begun.hints.update(strips=f"planned: {strips.pieces}", width=f"planned: {strips.width.words}")
    begun.choices.update(tissue=tissues, toning=tuple(_toned(plan)))
    return _proposed(begun, tissue=tissues, batch=begun.choices["batch"])


def _toning(studio: Studio, begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> Begun:
    tissues = _tissues(plan)
    begun.choices.update(tissue=tissues)
    last = plan.tonings[-1].toning if plan and plan.tonings else None
    if last and last.aim:
        # The sheet was read once; the next trial is held against the same reading.
        begun.values.update(aim=f"{last.aim.lightness:g} {last.aim.a:g} {last.aim.b:g}")
        begun.values.update(read_with=last.read_with)
    return _proposed(begun, tissue=tissues)


def _housing(studio: Studio, begun: Begun, facts: SheetFacts, plan: SheetPlan | None) -> Begun:
    begun.values.update(into=PLACES[0], size=facts.size, humidity=facts.humidity)
    begun.choices.update(into=tuple(Choice(one, one) for one in PLACES), hinge_tissue=_tissues(plan))
    found = plan.housing if plan else None
    if found:
        sides = [f"{gap.advised.value:.3g}" for gap in found.gaps if gap.advised.value is not None]
        begun.hints.update(gap=f"at least {' x '.join(sides)} mm")
        begun.hints.update(hinges=f"planned: {found.hinges.count.words}")
    return _proposed(begun, batch=begun.choices["batch"])


def _proposed(begun: Begun, **first: tuple[Choice, ...]) -> Begun:
    """Fill in the first choice of some lines, and say which they are."""
    filled = {name: choices[0].value for name, choices in first.items() if choices}
    begun.values.update(filled)
    for name, choices in begun.choices.items():
        if choices and name not in begun.values:
            begun.hints[name] = f"Ctrl+N: {choices[0].words}"
    return begun._replace(proposed=tuple(filled))


def _tissues(plan: SheetPlan | None) -> tuple[Choice, ...]:
    found = plan.tissue.tissues if plan and plan.tissue else ()
    return tuple(Choice(one.name, f"{one.name}, {one.grammage.words}") for one in found)


def _toned(plan: SheetPlan | None) -> Iterator[Choice]:
    for one in reversed(plan.tonings if plan else ()):
        yield Choice(one.id[:10], one.words)


def _batches(studio: Studio) -> Iterator[Choice]:
    """Pastes in use, within their day, the newest first."""
    from kb.desk.making.batches import all_batches, expiring
    from kb.desk.making.recipe import recipes

    pastes = {one.id for one in recipes(studio) if one.category in ADHESIVES}
    against = {one.batch for one in expiring(studio, today()) if one.what in {"bad", "expired"}}
    for one in sorted(all_batches(studio), key=lambda batch: batch.id, reverse=True):
        paste = one.recipe in pastes or (not one.recipe and "paste" in one.name.casefold())
        if paste and one.state != "withdrawn" and one.id not in against:
            yield Choice(one.short, batch_words(one))


def batch_words(one: BatchView) -> str:
    """``wheat starch paste, made 2026-01-05, use by 2026-01-12``."""
    return f"{one.name}, made {one.made_at}, use by {one.expires or 'not known'}"


# -- what is typed ---------------------------------------------------------------------------------


class Said(NamedTuple):
    """How a form is understood while one types, and what speaks against it."""

    words: tuple[str, ...]
    warnings: tuple[str, ...]


class Stored(NamedTuple):
    """A record on disk: its id, and what speaks against it."""

    id: str
    warnings: tuple[str, ...]


def as_typed(values: Mapping[str, str]) -> dict[str, Any]:
    """The form's lines as the desk reads them: several photographs stand between semicolons."""
    found: dict[str, Any] = {name: value.strip() for name, value in values.items()}
    if "photo" in found:
        paths = [one.strip() for one in found["photo"].split(";")]
        found["photo"] = [str(Path(one).expanduser()) for one in paths if one]
    return found


def understood(studio: Studio, *, kind: Kind, values: Mapping[str, str]) -> Said:
    """What would be stored, in words. Raises DeskError for what cannot be."""
    return {"mend": _said_mend, "toning": _said_toning, "housing": _said_housing}[kind](
        studio, as_typed(values)
    )


def _said_mend(studio: Studio, typed: dict[str, Any]) -> Said:
    from kb.desk.records.work_records import ADHESIVE, TISSUE, name_of
    from kb.desk.sheet import mends
    from kb.model.record import Mend

    mend = mends.mend_from_words(studio, typed)
    tissue, adhesive = name_of(studio, TISSUE, mend.tissue), name_of(studio, ADHESIVE, mend.adhesive)
    told = f"It will say: {mends.mend_words(mend, tissue, adhesive)}"
    if mend == Mend(sheet=mend.sheet):
        told = "Nothing is said of the mend yet."
    words = (told, *_batch_said(studio, mend.batch))
    return Said(words, mends.warnings(studio, mend))


def _said_toning(studio: Studio, typed: dict[str, Any]) -> Said:
    from kb.desk.sheet import toning
    from kb.desk.sheet.infill import ADVICE, fit_of
    from kb.science.sheet.colour import difference_in_words

    made = toning.toning_from_words(studio, typed)
    found = toning.difference(made)
    if found is None:
        words = "The difference shows here as soon as both readings are typed: L a b of the sheet and dry."
    else:
        words = f"Difference (CIEDE2000) {found:.1f}: {difference_in_words(found)}. {ADVICE[fit_of(found)]}"
    return Said((words, *_batch_said(studio, made.batch)), toning.warnings(studio, made))


def _said_housing(studio: Studio, typed: dict[str, Any]) -> Said:
    from kb.desk.sheet import housed

    made = housed.housing_from_words(studio, typed)
    gaps = housed.gap_check(studio, made)
    small = tuple(one for one in gaps if "TOO SMALL" in one)
    fine = tuple(one for one in gaps if one not in small) or (() if gaps else (NO_GAP,))
    return Said((*fine, *_batch_said(studio, made.batch)), (*small, *housed.warnings(studio, made)))


def _batch_said(studio: Studio, batch: str) -> Iterator[str]:
    from kb.desk.making.batches import show

    if batch:
        one = show(studio, batch)
        yield f"Batch {one.short}: {batch_words(one)}"


def store(studio: Studio, *, kind: Kind, values: Mapping[str, str]) -> Stored:
    """Write the record; on disk when it returns. What comes after the write cannot undo it."""
    from kb.desk.sheet.housed import add_housing, housing_from_words
    from kb.desk.sheet.mends import add_mend, mend_from_words
    from kb.desk.sheet.toning import add_toning, toning_from_words

    ways: dict[Kind, tuple[Callable[..., Any], Callable[..., Any]]] = {
        "mend": (mend_from_words, add_mend),
        "toning": (toning_from_words, add_toning),
        "housing": (housing_from_words, add_housing),
    }
    read, add = ways[kind]
    written = add(studio, read(studio, as_typed(values)))
    try:
        warnings = understood(studio, kind=kind, values=values).warnings
    except Exception:
        warnings = ()
    return Stored(written.id, warnings)
