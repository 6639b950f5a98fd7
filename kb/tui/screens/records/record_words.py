"""Records of the bench book in words: for a row of the list, for reading, and for what was changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import msgspec

from kb.book.kinds.field import leaves, texts
from kb.book.kinds.kind import plain_of
from kb.book.kinds.parts import Site, may_be_words
from kb.book.kinds.spot_test import HARM_KINDS, RELEASE_WORDS, SpotTest, harm_words
from kb.book.kinds.table import KEPT, KINDS
from kb.desk.materials.names import Names
from kb.tui.day import day_of, local

if TYPE_CHECKING:
    from kb.desk.making.batches import Use
    from kb.desk.records.book_list import RecordDetail, RecordSummary
    from kb.desk.records.record import Step, TestDetail, TestSummary
    from kb.desk.studio import Studio

T = TypeVar("T")
Facts = dict[str, str]
"""What a record says, by label, in the order in which it is read."""
Line = tuple[str, str]
Section = tuple[str, tuple[Line, ...]]
"""A heading and the lines under it, each a label and words."""
HARM_NAMES = {
    "bleed": "bleeding",
    "offset": "offset to blotter",
    "tideline": "tideline",
    "gloss": "gloss",
    "surface": "paper surface",
    "colour": "colour",
}
NOTHING = "nothing"
NOT_LOOKED, NOT_NOTED, NOT_GRADED = "not looked at", "not noted", "not graded"
RELEASE_CELL = ("0 none", "1 softens", "2 in part", "3 lightly", "4 clean")
HARM_CELL = ("0 none", "1 trace", "2 slight", "3 clear", "4 loss")
STATES = {
    "": "stands as written",
    "amended": "amended: added to or corrected after it was written, see the history",
    "withdrawn": "withdrawn: taken out of all counts, kept to be read",
}
MAY_BE = ("may be", "signs")
SECTIONS = (
    ("What was seen", ("release", *HARM_NAMES.values())),
    ("What was done", ("liquid", "batch", "method", "control", "tested at")),
    ("Where", ("sheet", "place", "face", "from left edge", "from top edge")),
    (
        "Tape and sheet",
        ("tape", "adhesive", "stage", "carrier", "carrier on the spot", *MAY_BE, "medium", "paper"),
    ),
)
"""Headings of the reading. What the kind declares beside them was done; what is left comes last."""


class Row(NamedTuple):
    """One row of the list, of a test or (``kind``, ``what``) of any record.

    ``said`` is the whole row in one sentence, for where columns are cut.
    """

    id: str
    date: str
    sheet: str
    state: str
    said: str
    tape: str = ""
    stage: str = ""
    medium: str = ""
    liquid: str = ""
    release: str = ""
    harm: str = ""
    kind: str = ""
    what: str = ""


def row_words(names: Names, one: TestSummary) -> Row:
    """A test of the list in words."""
    tape = names.of("tape", one.tape) if one.tape else names.of("adhesive", one.adhesive)
    stage, medium = names.of("stage", one.stage), names.of("medium", one.medium)
    liquid, method = names.blend(one.liquid), names.of("method", one.method)
    release = "control" if one.control else _grade(RELEASE_CELL, one.release, NOT_GRADED)
    said = "; ".join(
        (
            f"{one.sheet or 'sheet not noted'}: {liquid}, {method}",
            f"{tape or 'tape not noted'}, {stage or 'stage not noted'}",
            f"{medium or 'medium not noted'}",
            *filter(None, (one.also,)),
            f"by {one.who}",
        )
    )
    from kb.desk.records.record import PAPER_ONLY

    # "0 none" would be read of the ink, at which nobody looked.
    cell = f"{one.harm} {PAPER_ONLY}" if one.passes_ink_by else ""
    harm = cell or _grade(HARM_CELL, one.harm, "not looked")
    seen = (tape, stage, medium, liquid, release, harm)
    return Row(one.id, day_of(one.at), one.sheet, one.state, said, *seen)


def any_row_words(one: RecordSummary) -> Row:
    """A record of the list in words. What its kind says already is not said twice."""
    kind = kind_shown(one.kind)
    head, colon, rest = one.what.partition(": ")
    what = rest if colon and head.casefold() == kind.casefold() else one.what
    on = f"{one.sheet}: " if one.sheet else ""
    said = f"{kind}, {on}{what}; by {one.who}"
    return Row(one.id, day_of(one.at), one.sheet, one.state, said, kind=kind, what=what)


def facts(names: Names, test: SpotTest) -> Facts:
    """Everything a record says, and by name what it does not say."""
    found: Facts = {"sheet": test.sheet or NOT_NOTED, **_site(test.site)}
    for kind in ("tape", "adhesive", "stage", "carrier"):
        found[kind] = names.of(kind, getattr(test, kind)) or NOT_NOTED
    found["carrier on the spot"] = _yes_no(test.carrier_present)
    if not test.adhesive:
        # Without it a test on a tape that was not known seems to know nothing, and it counts all the same.
        found["may be"] = "; ".join(words for _, words in may_be_words(_named(names, test.may_be)))
        found["signs"] = ", ".join(test.signs)
    for kind in ("medium", "paper"):
        found[kind] = names.of(kind, getattr(test, kind)) or NOT_NOTED
    found["liquid"] = names.parts(test.parts)
    found["method"] = names.of("method", test.method)
    found["control"] = "yes, a control without adhesive" if test.control else ""
    found["release"] = _grade(RELEASE_WORDS, test.release, NOT_GRADED)
    for kind in HARM_KINDS:
        found[HARM_NAMES[kind]] = _grade(harm_words(kind), test.harm.get(kind), NOT_LOOKED)
    for number, made in enumerate(test.rounds, 1):
        found[f"round {number}"] = str(made)
    for number, photo in enumerate(test.photos, 1):
        found[f"photograph {number}"] = f"{photo.path} ({photo.when}); SHA-256 {photo.sha256[:12]}..."
    found["batch"], found["tested at"] = test.batch, test.tested_at
    said = dict(texts(test, lambda kinds, words: names.of(kinds[0], words)))
    found |= {field.label: said.get(field.label, "") for field, *_ in plain_of(KINDS["test"]).values()}
    return {label: words for label, words in found.items() if words}


def _site(site: Site) -> Facts:
    return {
        "place": site.words or NOT_NOTED,
        "face": site.face,
        "from left edge": "" if site.x_mm is None else f"{site.x_mm:g} mm",
        "from top edge": "" if site.y_mm is None else f"{site.y_mm:g} mm",
    }


def _yes_no(value: bool | None) -> str:
    return NOT_NOTED if value is None else "yes" if value else "no, residue only"


def _named(names: Names, chances: dict[str, float]) -> dict[str, float]:
    """What the tape may be, under the names of adhesive, stage and carrier in place of their ids."""
    kinds = ("adhesive", "stage", "carrier")
    return {
        "/".join(names.of(kind, one) for kind, one in zip(kinds, key.split("/"), strict=True)): chance
        for key, chance in chances.items()
    }


def _grade(words: tuple[str, ...], grade: int | None, none: str) -> str:
    return none if grade is None else words[grade] if 0 <= grade < len(words) else str(grade)


def moment_words(at: str) -> str:
    """``2026-11-25T14:05:00.000Z`` -> ``25 Nov 2026 14:05``, here; anything else stays as it is."""
    from kb.desk.records.record import now_words

    moment = local(at)
    return now_words(moment) if moment else at


class Described(NamedTuple):
    """A record ready to be shown: its facts by heading, and its history as label and words."""

    id: str
    state: str
    withdrawn: bool
    called: str
    """A few words by which a person knows the test."""
    sections: tuple[Section, ...]
    kind: str = "test"

    @property
    def in_short(self) -> str:
        """What it is about, the grade, and what became of it."""
        return self._joined(self.called, self._said("release"), self.state.upper())

    @property
    def by_whom(self) -> str:
        """When, by whom, and its id."""
        return self._joined(self._said("written"), self.id)

    @property
    def told_apart(self) -> str:
        """The same, and what tells it from another that is called so: when and by whom, grade, id."""
        return self._joined(self.called, self._said("written"), self._said("release"), self.id)

    def _said(self, label: str) -> str:
        return dict(line for _, lines in self.sections for line in lines).get(label, "")

    def _joined(self, *parts: str) -> str:
        return "; ".join(filter(None, parts))


def with_history(
    detail: TestDetail | RecordDetail, called: str, sections: Iterable[Section], done: Iterable[Line]
) -> Described:
    """A record by its sections, and below them what it is as a record and what was ``done`` to it."""
    kind = getattr(detail, "kind", "test")
    head = (
        ("record", detail.id),
        *([("kind", kind_shown(kind))] if kind != "test" else []),
        ("state", STATES.get(detail.state, detail.state)),
        ("written", f"{moment_words(detail.at)}, by {detail.who}, bench {detail.bench}"),
    )
    found: list[Section] = [*sections, ("Record", head), ("History", tuple(done))]
    shown = tuple((heading, lines) for heading, lines in found if lines)
    return Described(detail.id, detail.state, detail.state == "withdrawn", called, shown, kind)


def _test_described(studio: Studio, test_id: str) -> Described:
    """One test in words, with its history."""
    from kb.desk.records.record import show_test

    names, detail = Names(studio), show_test(studio, test_id)
    found = facts(names, detail.test)
    sections: list[Section] = []
    declared = [group[0].label for key, group in plain_of(KINDS["test"]).items() if key != "remarks"]
    for heading, labels in SECTIONS:
        more = declared if heading == "What was done" else []
        here = [label for label in (*labels, *more) if label in found]
        sections.append((heading, tuple((label, found.pop(label)) for label in here)))
    sections.append(("Rounds, photographs, remarks", tuple(found.items())))

    def amended(before: SpotTest, step: Step) -> tuple[SpotTest, list[str]]:
        after = _after(before, step)
        return after, changes(names, before, after)

    done = history(detail.history, detail.first, amended)
    return with_history(detail, test_called(names, detail.test), sections, done)


def history(
    steps: Sequence[Step], now: T, amended: Callable[[T, Step], tuple[T, Iterable[str]]]
) -> Iterator[Line]:
    """Who did what, when and why; ``amended`` tells what an amendment makes of it, and each changed field."""
    by_id = {step.id: step for step in steps}
    for step in steps:
        if not step.of:
            yield "written", f"{moment_words(step.at)}, {step.who}"
            continue
        yield step_words(step, by_id)
        if step.kind == "amend":
            after, told = amended(now, step)
            yield from (("", words) for words in told)
            # What was taken back is told, but the next correction does not start from it.
            now = after if step.in_force else now


def step_words(step: Step, steps: Mapping[str, Step]) -> tuple[str, str]:
    """A change: what it did, and who, when and why; ``steps`` are all of the record, by id."""
    by = f"{moment_words(step.at)}, {step.who}"
    lost = "" if step.in_force else f" - this no longer counts. {step.note}".rstrip()
    about = _about(steps.get(step.of))
    return ("withdrawn" if step.kind == "withdraw" else "amended"), f"{by}{about}. Why: {step.why}{lost}"


def _about(step: Step | None) -> str:
    """What a change is about, where that is another change and not the record itself."""
    if step is None or not step.of:
        return ""
    return f", of the {'amendment' if step.kind == 'amend' else 'withdrawal'} of {moment_words(step.at)}"


def changes(names: Names, before: SpotTest, after: SpotTest) -> list[str]:
    """Every fact that differs, as it was and as it is now."""
    old, new = facts(names, before), facts(names, after)
    return differing(old, {label: new.get(label, "") for label in (*old, *new)})


def differing(now: Mapping[str, str], after: Mapping[str, str]) -> list[str]:
    """What a change alters: ``length (mm): 45 -> 54``."""
    altered = ((label, now.get(label, ""), new) for label, new in after.items())
    return [f"{label}: {old or NOTHING} -> {new or NOTHING}" for label, old, new in altered if old != new]


def kind_shown(kind: str) -> str:
    """What a reader calls a kind of record; one that this version does not know by its own name."""
    return KINDS[kind].title if kind in KINDS else kind


def with_changes(test: SpotTest, changed: Mapping[str, Any]) -> SpotTest:
    """The test with some fields replaced. Raises msgspec.ValidationError if they do not fit."""
    return msgspec.convert({**msgspec.to_builtins(test), **changed}, type(test))


def _after(before: SpotTest, step: Step) -> SpotTest:
    """The test after an amendment; one that cannot be read changes nothing, as in the book itself."""
    try:
        return with_changes(before, step.changed)
    except msgspec.ValidationError:
        return before


def described(studio: Studio, record_id: str) -> Described:
    """One record of any kind in words, with its history. Raises DeskError."""
    from kb.desk.records.book_list import show_record

    detail = show_record(studio, record_id)
    if detail.kind == "test":
        return _test_described(studio, detail.id)
    found: list[Section] = [
        ("What it says", tuple(by_label(detail.fields).items())),
        ("Where it went", tuple(_went(studio, detail))),
    ]

    def amended(now: Facts, step: Step) -> tuple[Facts, list[str]]:
        after = changed_texts(studio, detail.kind, step.changed)
        return {**now, **after}, differing(now, after)

    done = history(detail.history, by_label(detail.first_fields), amended)
    return with_history(detail, record_called(detail), found, done)


def where_used(use: Use) -> str:
    """A record that names a batch, by sheet, day and person: nobody knows it by its id."""
    return ", ".join((*([f"on {use.sheet}"] if use.sheet else []), day_of(use.at), use.who))


def record_called(detail: RecordDetail) -> str:
    """A few words by which a person knows the record."""
    kind = kind_shown(detail.kind)
    if detail.sheet:
        return f"{kind} on {detail.sheet}"
    first = next((text for _, text in detail.fields), "")
    return f"{kind}: {first}" if first else kind


def test_called(names: Names, test: SpotTest) -> str:
    """The same for a test."""
    return f"{names.parts(test.parts)} on {test.sheet or 'a sheet not named'}"


def by_label(fields: Iterable[tuple[str, str]]) -> Facts:
    """Fields by label; what has one label several times stands in one text."""
    found: Facts = {}
    for label, words in fields:
        found[label] = f"{found[label]}; {words}" if label in found else words
    return found


def _went(studio: Studio, detail: RecordDetail) -> Iterator[tuple[str, str]]:
    """Of a batch: what it was made into and every record and sheet that names it."""
    if detail.kind != "batch":
        return
    from kb.desk.making.batches import trace

    found = trace(studio, detail.id)
    for into in found.made_into:
        yield "into batch", f"{into.short} {into.name}"
    yield from ((kind_shown(use.kind).lower(), where_used(use)) for use in found.uses)
    yield "sheets", ", ".join(found.sheets) or "no record names this batch with a sheet yet"


def changed_texts(studio: Studio, kind: str, changed: Mapping[str, Any]) -> Facts:
    """The fields that a change sets, by label as they are read; empty where one is emptied.

    A key such as ``site.words`` is one part of a field. What cannot be read is left out, as in the book.
    """
    from kb.desk.records.work_records import Teller

    if kind not in KEPT:
        return {}
    known = KEPT[kind]
    body: dict[str, Any] = {}
    labels: list[str] = []
    for name, value in changed.items():
        outer, dot, inner = name.partition(".")
        plain = msgspec.to_builtins(value)
        if dot:
            body.setdefault(outer, {})[inner] = plain
        else:
            body[outer] = plain
        labels += [
            leaf.label
            for leaf in leaves(known.type)
            if leaf.path[: name.count(".") + 1] == tuple(name.split("."))
        ]
    try:
        made = msgspec.convert({**known.least, **body}, known.type)
    except msgspec.ValidationError:
        return {}
    found = by_label(Teller(studio).fields(known, made))
    return {label: found.get(label, "") for label in labels}
