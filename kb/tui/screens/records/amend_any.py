"""The fields of a record that is no spot test, for correction: what they say now, and how each is typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kb.book.kinds.field import Field as Declared
from kb.book.kinds.field import leaves
from kb.book.kinds.parts import Photo
from kb.book.kinds.table import KEPT
from kb.tui.screens.records.amend_fields import Field
from kb.tui.screens.records.any_record import Texts, changed_texts, differing, texts

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordDetail
    from kb.desk.studio import Studio


def fields(detail: RecordDetail) -> list[Field]:
    """Everything that can be corrected, in the order of the record.

    Photographs are not corrected one by one: the record is withdrawn and written down again.
    """
    from kb.desk.errors import DeskError

    if detail.kind not in KEPT:
        raise DeskError(f"A record of the kind {detail.kind} cannot be amended by this version.")
    now = texts(detail.fields)
    declared = leaves(KEPT[detail.kind].type)
    return [_field(detail.kind, field, now) for field in declared if field.item is not Photo]


def _field(kind: str, field: Declared, now: Texts) -> Field:
    name = ".".join(field.path)

    def read(studio: Studio, typed: str) -> dict[str, Any]:
        from kb.desk.records.book_list import changes_from_words

        return changes_from_words(studio, kind, [f"{name}={typed.strip()}"])

    return Field(field.label, now.get(field.label, ""), _how(field), read)


def _how(field: Declared) -> str:
    """How it is written, and that nothing written takes it out."""
    if field.choices:
        said = ", ".join(field.choices)
    elif field.says.reads == "day":
        said = "A date: 2024-05-31"
    elif field.says.reads == "moment":
        said = "A date: 2024-05-31 or 2024-05-31T14:30"
    elif field.says.hint:
        said = field.says.hint[:1].upper() + field.says.hint[1:]
    else:
        said = "A figure" if field.is_figure else "Any words"
    return f"{said}; nothing {'takes it out' if field.empty_allowed else 'empties it'}"


def reading_of(studio: Studio, kind: str, now: Texts, changes: dict[str, Any]) -> str:
    """What a change alters: ``length (mm): 45 -> 54``; empty if nothing."""
    found = differing(now, changed_texts(studio, kind, changes))
    return "; ".join(f"{label}: {old} -> {new}" for label, old, new in found)
