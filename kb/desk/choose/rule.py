"""Which cautions apply to a liquid in a question."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.desk.choose.may_be import SURE
from kb.desk.choose.words import either, within
from kb.desk.studio import Studio
from kb.index.compiled import MIN_SHARE, Compiled
from kb.model.guidance import ABOUT_LIQUID, Caution, When
from kb.model.question import Question
from kb.science.numbers import percent

if TYPE_CHECKING:
    from kb.science.sheet.polygons import Box

ORDER = {"stop": 0, "warn": 1, "note": 2}
KEYS = {
    "tapes": "tape",
    "adhesives": "adhesive",
    "carriers": "carrier",
    "stages": "stage",
    "papers": "paper",
    "methods": "method",
    "media": "reach",
}
"""Keys of a condition that ask for one field of the question, or for any medium within reach."""
OF_TAPE = frozenset(("tapes", "adhesives", "carriers", "stages"))
NAMED = 2
"""Names of what a tape may be that stand before a rule for it."""
CAUTION_FROM = 0.1
"""A caution about what the tape may be is raised from this chance on: one about what it hardly is would bar
liquids for nothing. This project's own."""


def bearing(compiled: Compiled, may_be: Sequence[tuple[float, Question]]) -> dict[str, Caution]:
    """Cautions by id whose condition about the sheet and the way of work is met, the most severe first.

    Where the tape is not known they are held against all that it may be, together: ten tapes of one adhesive
    that are each unlikely make that adhesive likely, and what is within reach is met whatever the tape is.
    ``may_be`` holds the chance of each and the question as if the tape were that.
    """
    return _met(compiled.kept("rules", None, lambda: _rules(compiled.cautions)), may_be)


def of_sheet(compiled: Compiled, may_be: Sequence[tuple[float, Question]]) -> list[Caution]:
    """Those of :func:`bearing` that hold whatever the liquid: a photograph, loose powder, hard rubber."""
    rules = compiled.kept(
        "rules of sheet",
        None,
        lambda: _rules(
            one for one in compiled.cautions if about_this_sheet(one.when) and not about_liquid(one.when)
        ),
    )
    return list(_met(rules, may_be).values())


class _Rules(NamedTuple):
    """Cautions, the most severe first, and which of them a question meets. A rule's number is that of a bit.

    All are held against a question at once: most ask for the liquid alone, and each answer asks twice.
    """

    cautions: tuple[tuple[int, Caution], ...]
    """Each with its bit."""
    always: int
    """Those that ask for the liquid alone."""
    keys: tuple[tuple[str, int, dict[str, int]], ...]
    """Of each field of the question: the rules that do not ask for it, and by its value those that do."""

    def of(self, question: Question) -> int:
        """The rules whose every condition about the sheet and the way of work is met."""
        met = -1
        for key, unasked, by_value in self.keys:
            bits, asked = unasked, getattr(question, key)
            # One medium within reach is enough: liquid runs to all of them.
            for value in asked if isinstance(asked, tuple) else (asked,):
                bits |= by_value.get(value, 0)
            met &= bits
        return met


def perhaps(
    names: Mapping[tuple[str, str], str], may_be: Sequence[tuple[float, Question]], when: When
) -> str:
    """``If it is polyester (23 %): `` before a rule that is met by some alone of what the tape may be; else
    empty."""
    asked = {key: met for many, key in KEYS.items() if many in OF_TAPE and (met := getattr(when, many))}
    found = [
        (weight, one) for weight, one in may_be if all(getattr(one, key) in met for key, met in asked.items())
    ]
    chance = sum(weight for weight, _ in found)
    if not asked or not found or chance >= SURE:
        return ""
    # The likeliest stand first.
    which = [list(dict.fromkeys(getattr(one, key) for _, one in found)) for key in asked]
    called = [
        # Who reads of two alone would take the chance for theirs.
        [within(names.get((key, id), id).partition(" (")[0]) for id in ids[:NAMED]]
        + ["another"] * (len(ids) > NAMED)
        for key, ids in zip(asked, which, strict=True)
    ]
    return f"If it is {', '.join(either(one) for one in called)} ({percent(chance)}): "


def _met(rules: _Rules, may_be: Sequence[tuple[float, Question]]) -> dict[str, Caution]:
    asked = [(weight, rules.of(question)) for weight, question in may_be]
    met = rules.always
    for bits in {bits for _, bits in asked}:
        met |= bits
    return {
        caution.id: caution
        for bit, caution in rules.cautions
        if bit & met
        and (bit & rules.always or sum([weight for weight, bits in asked if bit & bits]) >= CAUTION_FROM)
    }


def _rules(cautions: Iterable[Caution]) -> _Rules:
    ordered = [
        (1 << number, one)
        for number, one in enumerate(sorted(cautions, key=lambda one: (ORDER[one.severity], one.id)))
    ]
    always, keys = -1, []
    for many, key in KEYS.items():
        unasked, by_value = 0, dict[str, int]()
        for bit, one in ordered:
            wanted = getattr(one.when, many)
            unasked |= 0 if wanted else bit
            for value in wanted:
                by_value[value] = by_value.get(value, 0) | bit
        keys.append((key, unasked, by_value))
        always &= unasked
    return _Rules(tuple(ordered), always, tuple(keys))


def meets(compiled: Compiled, parts: Mapping[str, float]) -> frozenset[str]:
    """Ids of the cautions whose condition about the liquid this liquid or blend meets.

    Parts below 5 % by volume are passed over, as the condition's own definition says.
    """
    return compiled.cautions_met(tuple([part for part, share in parts.items() if share >= MIN_SHARE]))


def applying(cautions: Mapping[str, Caution], met: frozenset[str]) -> tuple[Caution, ...]:
    """Those of :func:`bearing` that a liquid which meets these has to mind."""
    return tuple([caution for name, caution in cautions.items() if name in met])


def about_this_sheet(when: When) -> bool:
    """Whether a condition is about the sheet or the way of work too, and not about the liquid alone."""
    return any(getattr(when, key) for key in When.__struct_fields__ if key not in ABOUT_LIQUID)


def about_liquid(when: When) -> bool:
    """Whether a condition says anything about the liquid."""
    return any(getattr(when, key) for key in ABOUT_LIQUID)


def with_advice(caution: Caution) -> str:
    """What a rule says, and where it is about this sheet what to do instead."""
    return f"{caution.text} {caution.instead}".strip() if about_this_sheet(caution.when) else caution.text


def taped_on_both(studio: Studio, question: Question, state: Hashable) -> bool:
    """Whether tape may lie on both faces at one place: as was said, naming the same media on both, or by the
    strips of the sheet as they are in that ``state`` of the index."""
    front = {question.medium, *question.also_media} - {""}
    # Ink on both faces under a glue that is no tape's is no tape on both; what is not named is tape.
    unnamed = question.signs or not (question.adhesive or question.may_be)
    taped = bool(front and (question.tape or question.carrier or unnamed))
    said = taped and front <= set(question.back_media)
    if said or not question.sheet:
        return said
    return studio.compiled.kept("facing", (state, question.sheet), lambda: _facing(studio, question.sheet), 8)


def _facing(studio: Studio, sheet: str) -> bool:
    """Whether a strip of tape lies behind another on the sheet, and both are still on it."""
    # What a question without a sheet need not load.
    from kb.book.kinds.parts import corners
    from kb.index.kept_rows import kept
    from kb.science.sheet.polygons import OVERHANG_MM, Box, box, pieces, shape

    conn = studio.index.conn
    found = [row.body for row in kept(conn, "strip", sheet) if not row.body.weak]
    strips = [(strip.face, corners(strip.outline)) for strip in found]
    sheets = kept(conn, "sheet", sheet) if strips else []
    width = next((row.body.width_mm for row in reversed(sheets)), None)
    if not _behind([(face, box(outline)) for face, outline in strips], width):
        return False
    done = [row.body for row in kept(conn, "patch", sheet) if row.body.progress == "done"]
    try:
        # Its corners are rounded: no seam between two is tape that was left.
        lifted = [(patch.face, shape(corners(patch.outline)).buffer(OVERHANG_MM)) for patch in done]
        left = []
        for face, outline in strips if lifted else ():
            area: Any = shape(outline)
            for gone in (patch for side, patch in lifted if side == face):
                area = area.difference(gone)
            left += [(face, Box(*one.bounds)) for one in pieces(area)]
    except ValueError:
        # An outline that was corrected by hand may cross itself: all of the tape counts as there.
        return True
    return not lifted or _behind(left, width)


def _behind(tape: Sequence[tuple[str, "Box"]], width: float | None) -> bool:
    front, back = ([around for side, around in tape if side == face] for face in ("front", "back"))
    # Each face is measured from its own left edge; without a width nobody knows where that is on the other.
    return any(
        top < low and up < bottom and (not width or (left < width - west and width - east < right))
        for (left, top, right, bottom), (west, up, east, low) in product(front, back)
    )
