"""From what a person types to the id of a catalogue entry."""

from __future__ import annotations

from collections.abc import Sequence

from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.studio import Studio
from kb.index.search import exactly, find
from kb.model.kinds import plain_id
from kb.model.question import Question
from kb.science.liquids.blends import normalise, parse_blend

UNKNOWN = ("", "unknown", "?", "not known")


def resolve(studio: Studio, word: str, text: str) -> str:
    """The id of the ``word`` (adhesive, tape, liquid ...) that ``text`` names.

    Only an exact id, name, other name or CAS number is taken: benzine is one letter from benzene. Raises
    :class:`Unclear` with the entries that bear the name if several do, and with the nearest in spelling if
    none does.
    """
    conn = studio.index.conn
    bearers = exactly(conn, text, word)
    if len(bearers) == 1:
        return bearers[0].id
    found = bearers or find(conn, text, (word,), limit=6)
    raise Unclear(word, text, tuple(Choice(hit.id, hit.name) for hit in found), borne=bool(bearers))


def optional(studio: Studio, word: str, text: str) -> str:
    """As :func:`resolve`; nothing, "unknown" or "?" gives the empty id."""
    return "" if text.strip().lower() in UNKNOWN else resolve(studio, word, text)


def carrier(studio: Studio, text: str) -> str:
    """As :func:`optional` for a carrier; "none" means the adhesive without a carrier."""
    if plain_id(text) in {"none", "residue", "residue-only"}:
        return "none-transfer"
    return optional(studio, "carrier", text)


def question(
    studio: Studio,
    *,
    tape: str = "",
    adhesive: str = "",
    carrier_text: str = "",
    stage: str = "",
    medium: str = "",
    paper: str = "",
    method: str = "",
    sheet: str = "",
    also_media: Sequence[str] = (),
    back_media: Sequence[str] = (),
) -> Question:
    """A question from typed words. A tape fills in its adhesive and carrier."""
    tape_id = optional(studio, "tape", tape)
    _, tape_adhesive, tape_carrier = studio.compiled.tapes.get(tape_id, ("", "", ""))
    return Question(
        tape=tape_id,
        adhesive=optional(studio, "adhesive", adhesive) or tape_adhesive,
        carrier=carrier(studio, carrier_text) or tape_carrier,
        stage=optional(studio, "stage", stage),
        medium=optional(studio, "medium", medium),
        paper=optional(studio, "paper", paper),
        method=optional(studio, "method", method) or "swab",
        sheet=sheet.strip(),
        also_media=tuple(optional(studio, "medium", one) for one in also_media),
        back_media=tuple(optional(studio, "medium", one) for one in back_media),
    )


def parts(studio: Studio, liquid: str = "", blend: str = "") -> dict[str, float]:
    """Volume shares by liquid id, from one liquid's name or from a blend such as "acetone 1, water 3"."""
    if bool(liquid.strip()) == bool(blend.strip()):
        raise DeskError("Name either one liquid or one blend.")
    if liquid.strip():
        return {resolve(studio, "liquid", liquid): 1.0}
    try:
        typed = parse_blend(blend)
    except ValueError as error:
        raise DeskError(f"{error}") from error
    found: dict[str, float] = {}
    for name, share in typed.items():
        known = resolve(studio, "liquid", name)
        found[known] = found.get(known, 0.0) + share
    return normalise(found)
