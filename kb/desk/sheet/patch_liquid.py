"""What may be put on a patch: the liquid that is meant, and what speaks against it on this sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from kb.desk.choose.rule import applying, bearing, meets
from kb.desk.errors import DeskError, Unclear
from kb.desk.materials.resolve import parts
from kb.desk.sheet.facts import sheet_facts
from kb.desk.shelf.shelf import allowed
from kb.model.question import Question
from kb.science.liquids.blends import blend_id

if TYPE_CHECKING:
    from kb.desk.studio import Studio

ALL_THE_SAME = "Nothing was begun. If it is to be done all the same, say why under Remarks."


def liquid_for(studio: Studio, sheet: str, typed: str, *, method: str = "", why: str = "") -> str:
    """The liquid or blend as a record holds it. A word that names none, or several, is asked back.

    Raises DeskError where the studio forbids it or a caution on this sheet is a stop, unless ``why`` says
    why it is done all the same: whoever lifts a patch no longer looks at the list that left it out.
    """
    meant = _parts(studio, typed)
    against = speaks_against(studio, sheet, meant, method)
    if against and not why.strip():
        raise DeskError(" ".join([*against, ALL_THE_SAME]))
    return blend_id(meant)


def speaks_against(studio: Studio, sheet: str, meant: Mapping[str, float], method: str = "") -> list[str]:
    """Sentences of the studio's own prohibition, and of each stop for the media and paper of the sheet."""
    verdict = allowed(studio, meant)
    facts = sheet_facts(studio, sheet)
    first, *others = facts.all_media or ("",)
    asked = Question(medium=first, also_media=tuple(others), paper=facts.paper, method=method or "swab")
    met = bearing(studio.compiled, [(1.0, asked)])
    stops = [one.text for one in applying(met, meets(studio.compiled, meant)) if one.severity == "stop"]
    own = [] if verdict.allowed else [f"This studio forbids it: {verdict.why}."]
    unknown = [
        f'The catalogue has no medium "{word}": what it stands is not known here; test first.'
        for word in facts.unknown
    ]
    return [*own, *(f"STOP: {text}" for text in stops), *unknown]


def _parts(studio: Studio, typed: str) -> dict[str, float]:
    try:
        return parts(studio, liquid=typed)
    except Unclear as unclear:
        if not any(letter.isdigit() or letter in ",;+" for letter in typed):
            raise
        try:
            return parts(studio, blend=typed)
        except Unclear:
            raise
        except DeskError:
            raise unclear from None
