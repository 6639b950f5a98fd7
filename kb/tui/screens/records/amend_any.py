"""The fields of a record that is no spot test, for correction: what they say now, and how each is typed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin, get_type_hints

from kb.tui.screens.records.amend_fields import Field
from kb.tui.screens.records.any_record import PARTS, Texts, changed_texts, differing, texts

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordDetail
    from kb.desk.studio import Studio

NOT_THIS_WAY = {"photos"}
"""Fields that are not corrected one by one: the record is withdrawn and written down again."""
HOW = {
    "sheet": "The name of the sheet",
    "batch": "The beginning of a batch's id; nothing empties it",
    "toning": "The beginning of the id of a toning test; nothing empties it",
    "tissue": "A name or id of the catalogue, or any words; nothing empties it",
    "hinge_tissue": "A name or id of the catalogue, or any words; nothing empties it",
    "adhesive": "A name or id of the catalogue, or any words; nothing empties it",
    "aim": "L a b, such as 88.1 1.2 12.5; nothing takes it out",
    "dry": "L a b, such as 88.1 1.2 12.5; nothing takes it out",
    "colourants": "Such as raw umber 0.4 g; water 20 ml",
    "weights": "Such as wheat starch 16.3 g; water 113 ml",
    "hazards": "Words, a comma between them",
    "liquid": "The id of the liquid",
    "recipe": "The id of the recipe",
}
FIGURE = "A figure; nothing takes it out"
ANY_WORDS = "Any words; nothing empties it"
DAY = "A date: 2024-05-31; nothing empties it"
DAYS = ("_at", "opened", "expires", "finished", "_tested")
"""How names of fields end that hold a day."""


def fields(studio: Studio, detail: RecordDetail) -> list[Field]:
    """Everything that can be corrected, in the order of the record."""
    from kb.book.check import KEPT
    from kb.desk.errors import DeskError

    if detail.kind not in KEPT:
        raise DeskError(f"A record of the kind {detail.kind} cannot be amended by this version.")
    struct = KEPT[detail.kind].type
    return list(_fields(detail.kind, struct, get_type_hints(struct), texts(detail.fields)))


def _fields(kind: str, struct: Any, types: dict[str, Any], now: Texts) -> Iterator[Field]:
    for name in struct.__struct_fields__:
        if name in NOT_THIS_WAY:
            continue
        if name in PARTS:
            inner = get_type_hints(types[name])
            for part in PARTS[name]:
                yield _field(kind, f"{name}.{part}", inner[part], now)
        else:
            yield _field(kind, name, types[name], now)


def _field(kind: str, name: str, wanted: Any, now: Texts) -> Field:
    from kb.desk.records.record_line import label_of

    label = label_of(name.rpartition(".")[2])

    def read(studio: Studio, typed: str) -> dict[str, Any]:
        from kb.desk.records.book_list import changes_from_words

        return changes_from_words(studio, kind, [f"{name}={typed.strip()}"])

    return Field(label, now.get(label, ""), _how(name, wanted), read)


def _how(name: str, wanted: Any) -> str:
    if name in HOW:
        return HOW[name]
    if get_origin(wanted) is Literal:
        return f"{', '.join(one for one in get_args(wanted) if one)}; nothing empties it"
    if float in get_args(wanted) or int in get_args(wanted) or wanted in {int, float}:
        return FIGURE
    return DAY if name.endswith(DAYS) else ANY_WORDS


def reading_of(studio: Studio, kind: str, now: Texts, changes: dict[str, Any]) -> str:
    """What a change alters: ``length (mm): 45 -> 54``; empty if nothing."""
    found = differing(now, changed_texts(studio, kind, changes))
    return "; ".join(f"{label}: {old} -> {new}" for label, old, new in found)
