"""Records of every kind in words: mends, toning tests, housing, readings, batches, bottles - and tests."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

import msgspec

from kb.book.kinds.field import leaves
from kb.book.kinds.table import KEPT
from kb.tui.day import day_of
from kb.tui.screens.records.record_words import (
    Described,
    Section,
    differing,
    history,
    kind_shown,
    with_history,
)
from kb.tui.screens.records.record_words import described as test_described

if TYPE_CHECKING:
    from kb.desk.making.batches import Use
    from kb.desk.records.book_list import RecordDetail
    from kb.desk.records.record import Step
    from kb.desk.studio import Studio

Texts = dict[str, str]
"""Text by label."""


def described(studio: Studio, record_id: str) -> Described:
    """One record of any kind in words, with its history. Raises DeskError."""
    from kb.desk.records.book_list import show_record

    detail = show_record(studio, record_id)
    if detail.kind == "test":
        return test_described(studio, detail.id)
    found: list[Section] = [
        ("What it says", tuple(texts(detail.fields).items())),
        ("Where it went", tuple(_went(studio, detail))),
    ]

    def amended(now: Texts, step: Step) -> tuple[Texts, list[str]]:
        after = changed_texts(studio, detail.kind, step.changed)
        return {**now, **after}, differing(now, after)

    done = history(detail.history, texts(detail.first_fields), amended)
    return with_history(detail, called(detail), found, done)


def where_used(use: Use) -> str:
    """A record that names a batch, by sheet, day and person: nobody knows it by its id."""
    return ", ".join((*([f"on {use.sheet}"] if use.sheet else []), day_of(use.at), use.who))


def called(detail: RecordDetail) -> str:
    """A few words by which a person knows the record."""
    kind = kind_shown(detail.kind)
    if detail.sheet:
        return f"{kind} on {detail.sheet}"
    first = next((text for _, text in detail.fields), "")
    return f"{kind}: {first}" if first else kind


def texts(fields: Iterable[tuple[str, str]]) -> Texts:
    """Fields by label; what has one label several times stands in one text."""
    found: Texts = {}
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


def changed_texts(studio: Studio, kind: str, changed: Mapping[str, Any]) -> Texts:
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
    found = texts(Teller(studio).fields(known, made))
    return {label: found.get(label, "") for label in labels}
