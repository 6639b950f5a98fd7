"""The record of a sheet that is handed over: its content, gathered once for page, paper and program."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from unicodedata import category

from kb.book.kinds.condition import condition_words
from kb.book.kinds.field import texts
from kb.book.kinds.patch import STATE_WORDS, PatchDone, bears_colour, outcome
from kb.book.kinds.sheet import size_words
from kb.book.kinds.spot_test import HARM_KINDS, RELEASE_WORDS, SpotTest, harm_words
from kb.book.kinds.table import KINDS
from kb.desk.errors import DeskError, save_as
from kb.desk.materials.names import Names
from kb.desk.records.book_list import RecordSummary, last_written, list_records, show_record
from kb.desk.records.record import NO_LOOK_AT_INK, TestDetail, TestSummary, list_tests, show_test
from kb.desk.records.work_records import name_of
from kb.desk.sheet.facts import tested, with_unit
from kb.desk.sheet.pictures_paired import pairs, side_by_side
from kb.desk.sheet.tape import strips
from kb.desk.sheet.view import SheetView, face_svg, lifted_area, lifted_cm2, sheet_view, strip_lines
from kb.desk.studio import Studio
from kb.index.rows import BARE_PAPER
from kb.model.question import Plain
from kb.science.numbers import counted

NOT_STATED = "not stated"
NOT_RELEASED = "nothing was released"
BASIS = (
    "Arranged after what the Commentaries to the Guidelines for Practice of the American Institute for "
    "Conservation ask of records (Commentaries 24 to 27: documentation, examination, treatment plan, "
    "treatment; the beginning of each was read, up to their minimum accepted practice, not the whole). "
    "What is asked for and nobody wrote down is listed as not stated."
)
PURPOSE = "record of examination and treatment, for the owner and for the file"
APART = frozenset(("test", "sheet", "condition", "strip", "photograph", "photo-pair"))
"""Kinds that stand in parts of their own."""
TREATMENT = tuple(key for key, kind in KINDS.items() if kind.subject == "sheet" and key not in APART)
"""What else is written of a sheet is what was done to it."""
SAID_OF_TEST = frozenset(("medium", "release", "control", "sheet", "photograph"))
"""Fields of a test that stand elsewhere in its line or in the record."""
LAST_OF_TEST = frozenset(("adhesive", "stage", "carrier", "tape", "carrier present", "paper", "signs"))
MOST_PAIRS = 60
"""Of photographs shown; all are listed."""


class Part(Plain, frozen=True, kw_only=True):
    """One part of the record: labelled facts, then lines. ``missing`` is asked for and not there."""

    title: str
    facts: tuple[tuple[str, str], ...] = ()
    lines: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


class Drawn(Plain, frozen=True, kw_only=True):
    """The patches of one face as a drawing."""

    face: str
    svg: str


class Sealed(Plain, frozen=True, kw_only=True):
    """The last line of one book file when the record was made: how many lines, and its SHA-256."""

    file: str
    lines: int
    sha256: str


class Report(Plain, frozen=True, kw_only=True):
    """The whole record. ``owner`` is the short version in plain words."""

    sheet: str
    studio: str
    made_at: str
    made_by: str
    parts: tuple[Part, ...]
    drawings: tuple[Drawn, ...]
    pairs: tuple[Drawn, ...]
    """Photographs before and after side by side, each with what comparing them said."""
    under_drawings: str = (
        "D lifted, L look at the pair, N now, P in part, S stopped, X left out; no letter: to do. Each face "
        "as one looks at it."
    )
    under_pairs: str = (
        "Before on the left, after on the right. Comparing photographs informs; it never says that something "
        "is safe."
    )
    owner: tuple[str, ...]
    missing: tuple[str, ...]
    basis: str
    book: tuple[Sealed, ...]


def report(studio: Studio, typed: str) -> Report:
    """The record of the sheet that is meant by any part of its name."""
    from kb.book.verify import tips_of

    view = sheet_view(studio, typed)
    made_at = datetime.now().astimezone().isoformat(timespec="minutes")
    parts = tuple(_parts(studio, view, made_at[:10]))
    return Report(
        sheet=view.sheet,
        studio=studio.settings.name,
        made_at=made_at,
        made_by=studio.who,
        parts=parts,
        drawings=tuple(_drawings(view)),
        pairs=tuple(_pairs(studio, view.sheet)),
        owner=tuple(_for_owner(view)),
        missing=tuple(f"{part.title}: {what}" for part in parts for what in part.missing),
        basis=BASIS,
        book=tuple(
            Sealed(file=name, lines=count, sha256=last)
            for name, ((count, last),) in sorted(tips_of(studio.book_dir).items())
        ),
    )


def _parts(studio: Studio, view: SheetView, made_on: str) -> Iterator[Part]:
    sheet, named = view.record, tested(studio, view.sheet)
    yield _facts(
        "Identification",
        {
            "title": view.sheet,
            "number": sheet.number,
            "owner": sheet.owner,
            "maker": sheet.maker,
            "date of the object": sheet.dated,
            "size": size_words(sheet),
            "thickness": with_unit(sheet.thickness_mm, "mm"),
            "grammage": with_unit(sheet.grammage_g_m2, "g/m²"),
            "grain along": sheet.grain,
            "paper": name_of(studio, ("paper",), sheet.paper) or _by_tests(studio, "paper", (named.paper,)),
            "media, front": ", ".join(name_of(studio, ("medium",), one) for one in sheet.media_front)
            or _by_tests(studio, "medium", named.media),
            "media, back": ", ".join(name_of(studio, ("medium",), one) for one in sheet.media_back),
            "marks and labels": sheet.marks,
            "what came with it": sheet.parts_with_it,
            "significance and use": sheet.significance,
        },
        optional=("thickness", "grain along", "media, back", "significance and use"),
    )
    yield _facts(
        "Examination",
        {
            "purpose, circumstances, methods": sheet.examined,
            "earlier treatment and its records": sheet.earlier,
        },
    )
    before = [found for found in view.condition if found.found != "after"]
    yield _facts(
        "Condition before treatment",
        {"tape": sheet.tapes or _taped(studio, view.sheet), "identified as": sheet.identified},
        lines=(*strip_lines(studio, view.sheet), *(condition_words(found) for found in before)),
        wanted=() if before else ("a description of its condition",),
    )
    yield _facts(
        "Proposal and consent",
        {
            "proposal": sheet.proposal,
            "materials to be used": sheet.planned,
            "time estimated": sheet.time_estimate,
            "cost estimated, if agreed upon": sheet.cost_estimate,
            "consent": sheet.consent,
        },
    )
    # One that was withdrawn was written down by mistake, as is left out of the treatment.
    tests = [one for one in list_tests(studio, {"sheet": view.sheet}, limit=0) if one.state != "withdrawn"]
    names = Names(studio)
    shown = [(show_test(studio, one.id), one) for one in reversed(tests)]
    lacks = {
        "dwell": sum(not one.test.rounds for one, _ in shown),
        "place": sum(not _placed(one.test) for one, _ in shown),
    }
    yield Part(
        title="Tests",
        lines=tuple(_test(names, test, listed) for test, listed in shown),
        missing=tuple(f"the {what} of {counted(count, 'test')}" for what, count in lacks.items() if count)
        if tests
        else ("what was tried before treatment, and what it did",),
    )
    done = [
        record
        for record in reversed(list_records(studio, kinds=TREATMENT, sheet=view.sheet, limit=0))
        if record.state != "withdrawn"
    ]
    yield Part(
        title="Treatment in order",
        lines=tuple(f"{written(studio, record)}: {record.what}" for record in done),
        missing=() if done else ("a dated record of what was done, and by whom",),
    )
    materials = tuple(_materials(studio, view))
    yield Part(
        title="Materials and amounts",
        lines=materials,
        missing=() if materials or not done else ("materials that were added or used",),
    )
    if view.tape is not None:
        yield Part(title="Patches", lines=tuple(_patches(view)))
    yield _facts(
        "Course of the treatment",
        {"done otherwise than proposed, and why": sheet.departures, "learnt of the object": sheet.learnt},
    )
    yield _after(view)
    yield _facts("Advice for keeping", {"advice": sheet.advice})
    pictures = tuple(_photographs(studio, view.sheet))
    yield Part(
        title="Photographs",
        lines=tuple(line for _, line in pictures),
        missing=tuple(
            f"a photograph {when} treatment"
            for when in ("before", "during", "after")
            if when not in {taken for taken, _ in pictures}
        ),
    )
    people = Counter(record.who for record in list_records(studio, sheet=view.sheet, limit=0))
    yield _facts(
        "Who and when",
        {"purpose of this record": PURPOSE, "made by": studio.who, "made on": made_on},
        lines=tuple(f"{who}: {counted(count, 'record')}" for who, count in people.items()),
    )


def _taped(studio: Studio, name: str) -> str:
    """What its strips say that they are, where the record of the sheet says nothing."""
    tapes = {row.body.tape: row.body.stage for row in strips(studio, name) if row.body.tape}
    words = (
        ", ".join(
            filter(None, (name_of(studio, ("tape",), tape), name_of(studio, ("stage",), stage).lower()))
        )
        for tape, stage in tapes.items()
    )
    unnamed = "as listed; which tape is not noted" if strips(studio, name) else ""
    return "; ".join(words) or unnamed


def _facts(
    title: str,
    said: dict[str, str],
    *,
    lines: tuple[str, ...] = (),
    optional: tuple[str, ...] = (),
    wanted: tuple[str, ...] = (),
) -> Part:
    return Part(
        title=title,
        facts=tuple((label, text or NOT_STATED) for label, text in said.items()),
        lines=lines,
        missing=(*(label for label, text in said.items() if not text and label not in optional), *wanted),
    )


def written(studio: Studio, record: RecordSummary) -> str:
    """``2026-03-01 10:00, AB``, and who last changed what it says."""
    at, who = last_written(studio, record)
    first = f"{_minute(record.at)}, {record.who}"
    return first if at == record.at else f"{first}; last changed {_minute(at)}, {who}"


def _minute(at: str) -> str:
    return at[:16].replace("T", " ")


def _by_tests(studio: Studio, kind: str, named: Sequence[str]) -> str:
    """What the record of the sheet does not say and its tests do; which face that was they need not know."""
    # A look on bare paper does not say that the sheet bears nothing.
    names = ", ".join(name_of(studio, (kind,), one) for one in named if one not in {"", BARE_PAPER})
    return f"{names} (as the tests on it say)" if names else ""


def _placed(test: SpotTest) -> bool:
    return bool(test.site.words) or None not in (test.site.x_mm, test.site.y_mm)


def _test(names: Names, one: TestDetail, listed: TestSummary) -> str:
    """What was seen, then all that is needed to make the test again; of both also what nobody wrote down."""
    test = one.test
    release = "release not graded" if test.release is None else RELEASE_WORDS[test.release]
    on = names.of("medium", test.medium) if test.medium else "the paper"
    control = " (control)" if test.control else ""
    graded = [f"{kind} {harm_words(kind)[test.harm[kind]]}" for kind in HARM_KINDS if kind in test.harm]
    seen = [release, *graded]
    if listed.harm is None:
        # What bare paper cannot show may be graded all the same: that is no look at it.
        seen.append("harm not looked at")
    elif one.not_looked:
        seen.append(f"not looked at: {', '.join(one.not_looked)}")
    if listed.passes_ink_by:
        seen.append(NO_LOOK_AT_INK)
    told = {
        label: f"{label}: {words.rstrip('.')}"
        for label, words in texts(test, lambda kinds, words: names.of(kinds[0], words))
        if label not in SAID_OF_TEST
    }
    lacks = [] if _placed(test) else ["place not noted"]
    lacks += [] if test.rounds else ["dwell not noted"]
    # The way of work first: on what it was made says more of the sheet than of the test.
    how = [words for label, words in told.items() if label not in LAST_OF_TEST]
    how += [*lacks, *(words for label, words in told.items() if label in LAST_OF_TEST)]
    what = f"{names.parts(test.parts)} on {on}: {'; '.join(seen)}"
    return f"{one.at[:10]}, {one.who}{control}: {what}. How: {'; '.join(how)}. Record {one.id}"


def _materials(studio: Studio, view: SheetView) -> Iterator[str]:
    from kb.desk.making.batches import touched

    used: dict[str, tuple[int, float]] = {}
    for patch in _done(view):
        if patch.liquid and patch.progress != "skipped":
            count, volume = used.get(patch.liquid, (0, 0.0))
            used[patch.liquid] = count + 1, volume + (patch.volume_ml or 0.0)
    for liquid, (count, volume) in used.items():
        amount = f", {volume:.3g} ml written down" if volume else ", amount not stated"
        yield f"{liquid}: on {counted(count, 'patch', 'patches')}{amount}"
    for batch in touched(studio, view.sheet):
        bad = f" - must not be used: {batch.bad}" if batch.bad else ""
        yield f"batch {batch.short}, {batch.name}{bad}"


def _done(view: SheetView) -> list[PatchDone]:
    return [patch.done for patch in view.tape.patches if patch.done is not None] if view.tape else []


def _patches(view: SheetView) -> Iterator[str]:
    tape = view.tape
    if tape is None:
        return
    yield f"Lifted: {tape.done} of {counted(len(tape.patches), 'patch', 'patches')}, {lifted_area(tape)}."
    for patch in _done(view):
        found = "; ".join(outcome(patch)) or "nothing more is written down"
        with_what = f" with {patch.liquid}" if patch.liquid and patch.progress != "skipped" else ""
        yield f"{patch.patch} ({patch.face}) {STATE_WORDS[patch.progress]}{with_what}: {found}"


def _after(view: SheetView) -> Part:
    sheet = view.record
    later = [found for found in view.condition if found.found != "before"]
    open_still = [found for found in view.condition if not found.treated]
    lines = [
        *(f"found {found.found} treatment: {condition_words(found)}" for found in later),
        *(f"settled: {condition_words(found)}" for found in view.condition if found.treated),
        *(f"still open: {condition_words(found)}" for found in open_still),
        *(
            f"patch {patch.patch} was left: "
            f"{patch.why or (NOT_RELEASED if patch.release == 0 else NOT_STATED)}"
            for patch in _done(view)
            if patch.progress in {"skipped", "stopped"}
        ),
    ]
    return _facts(
        "Condition after treatment, and what was left",
        {"condition after": sheet.after, "left as it is, and why": sheet.left},
        lines=tuple(lines),
    )


def _photographs(studio: Studio, name: str) -> Iterator[tuple[str, str]]:
    """When each was taken, and a line that names it with its hash."""
    for summary in reversed(list_records(studio, sheet=name, limit=0)):
        for label, text in show_record(studio, summary.id).fields:
            if label == "photograph" and summary.kind != "photo-pair":
                when = next((when for when in ("before", "during", "after") if f"({when})" in text), "")
                # Where it lay on this machine is nothing to hand over.
                yield when, f"{summary.at[:10]}, {summary.what}: {text.rpartition('/')[2]}"
    for pair in pairs(studio, name):
        # The first line is the verdict, which the pair says; only the reasons of 'cannot tell' add to it.
        said = pair.said.split("\n")[0 if pair.verdict == "cannot-tell" else 1 :][:1]
        yield "", ": ".join([f"{pair.at[:10]}, {pair.words}", *said])


def _pairs(studio: Studio, name: str) -> Iterator[Drawn]:
    for pair in pairs(studio, name)[-MOST_PAIRS:]:
        if svg := side_by_side(pair):
            yield Drawn(face=pair.words, svg=svg)


def _drawings(view: SheetView) -> Iterator[Drawn]:
    width, height = view.record.width_mm, view.record.height_mm
    if view.tape is not None and width and height:
        for face in ("front", "back"):
            patches = [patch for patch in view.tape.patches if patch.face == face]
            yield Drawn(face=face, svg=face_svg(patches, width, height, face))


def _for_owner(view: SheetView) -> Iterator[str]:
    """A page in plain words."""
    sheet = view.record
    yield f"This is a short account of the treatment of {view.sheet}."
    if sheet.proposal:
        yield f"What was agreed: {sheet.proposal}"
    damages = ", ".join(dict.fromkeys(found.damage for found in view.condition))
    if damages:
        yield f"What was wrong: {damages}."
    lifted = [patch for patch in _done(view) if patch.progress in {"done", "partly"}]
    if lifted:
        turns = ", on front and back in turn" if len({patch.face for patch in lifted}) > 1 else ""
        area = f", {lifted_cm2(view.tape)[0]:.0f} cm² in all" if view.tape else ""
        yield f"Old tape was lifted in {counted(len(lifted), 'small step')}{turns}{area}."
    if coloured := sum(map(bears_colour, lifted)):
        decided = "was decided" if coloured == 1 else "was decided each time"
        yield f"In {counted(coloured, 'place')} colour came off; how to go on {decided}."
    treated = [found for found in view.condition if found.treated]
    if treated:
        rest = "; ".join(f"{one.damage}: {one.treated}" for one in treated)
        yield f"What was done about the rest: {rest}."
    # A patch that nobody came to is left as much as one that was left on purpose.
    left = len(view.tape.patches) - len(lifted) if view.tape else 0
    if left or sheet.left:
        some = f"tape in {counted(left, 'place')}. " if left else ""
        yield f"What was left: {some}{sheet.left}".strip()
    yield f"How to keep it: {sheet.advice or 'no advice was written down; ask the conservator.'}"


# -- out -----------------------------------------------------------------------------------------------------


def html(made: Report, *, short: bool = False) -> str:
    """The record as one HTML page; prints on A4 and Letter."""
    return page(Path(__file__).with_name("report.html.j2"), report=made, short=short)


def page(template: Path, **given: Any) -> str:
    """A template as one page that needs nothing else; what is given stands there as text, never as markup."""
    from jinja2 import Environment, StrictUndefined

    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return made.from_string(template.read_text(encoding="utf-8")).render(**given)


def text(made: Report, *, short: bool = False) -> str:
    """The record for the paper file, in lines of at most 72 characters."""
    from textwrap import fill

    lines = [fill(made.sheet, 72, subsequent_indent="    "), "=" * min(72, len(made.sheet)), ""]
    if short:
        lines += [line for said in made.owner for line in (fill(said, 72), "")]
    for part in () if short else made.parts:
        lines += [part.title, "-" * len(part.title)]
        lines += [fill(f"{label}: {said}", 72, subsequent_indent="    ") for label, said in part.facts]
        lines += [fill(line, 72, initial_indent="- ", subsequent_indent="  ") for line in part.lines]
        shown = {label for label, _ in part.facts}
        lines += [
            fill(f"NOT STATED: {what}", 72, subsequent_indent="    ")
            for what in part.missing
            if what not in shown
        ]
        lines += [""]
    if not short:
        lines += [fill(made.basis, 72), ""]
    lines += [" ".join(f"{made.studio}; made {made.made_at} by {made.made_by}".split())]
    lines += [
        f"Book {seal.file}, {counted(seal.lines, 'line')}; SHA-256 of the last:\n{seal.sha256}"
        for seal in made.book
    ]
    return "\n".join(lines) + "\n"


def save_pdf(made: Report, path: Path, *, short: bool = False) -> str:
    """Write the record as PDF/A-2b. Raises DeskError if it cannot, or if the extra for it is not there."""
    return write_pdf(Path(__file__).with_name("report.typ"), {"report": made, "short": short}, path)


def write_pdf(template: Path, given: dict[str, Any], path: Path) -> str:
    """Set a template as PDF/A-2b; it reads ``given`` as JSON. What is shown otherwise than it stands there.

    Raises DeskError if it cannot be.
    """
    import msgspec

    try:
        import typst
    except ImportError:
        raise DeskError(
            "A PDF needs one more library; install it with: pip install 'benchleaf[report]'"
        ) from None
    # What is no letter of any script has no sign in any font.
    typed = msgspec.json.encode(given).decode()
    shown = "".join("?" if category(one) in {"Cn", "Co"} else one for one in typed)
    try:
        made = typst.compile(template.read_bytes(), sys_inputs={"given": shown}, pdf_standards="a-2b")
    except typst.TypstError as error:
        lacking = re.search(r'the text `"(.+?)"` could not be displayed', str(error))
        if lacking is None:
            raise
        # For archives a PDF must show every sign; a page of HTML leaves that to whoever reads it.
        raise DeskError(
            f"No font on this computer has the sign {lacking[1]}, and a PDF/A must show it; install one that "
            "has, or write HTML."
        ) from error
    save_as(path, made)
    return "" if shown == typed else 'A sign that is no letter of any script stands in the PDF as "?".'
