"""What protects people from a liquid or blend: pictograms in words, gloves, and precautions by topic."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeVar

import msgspec

from kb.desk.materials.reading_words import PICTOGRAMS
from kb.index.queries import entries, entry
from kb.model.condition import labelled, meets
from kb.model.liquid import Family, Liquid
from kb.model.protection import Glove, Precaution, Topic

if TYPE_CHECKING:
    from kb.desk.studio import Studio

T = TypeVar("T", Glove, Precaution)
CHART = (
    "Check the maker's chart for the very glove and liquid: gloves of one polymer differ widely, and for a "
    "blend the part that breaks through soonest counts."
)
ACUTE, SKIN_EYE = ("H302", "H312", "H332"), ("H315", "H319")


def pictograms(codes: Sequence[str], signs: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Names of the pictograms, each once, for statement codes and the sign that each carries.

    Skull, corrosion and health hazard make the exclamation mark fall away for what they cover (Article 26
    of Regulation (EC) No 1272/2008, from memory).
    """
    pairs = [(code[:4], sign) for code, sign in signs if sign]
    found = {sign for _, sign in pairs}
    covered: set[str] = set()
    if "GHS06" in found:
        covered.update(ACUTE)
    if "GHS05" in found:
        covered.update(SKIN_EYE)
    if any(code.startswith("H334") for code in codes):
        covered.update((*SKIN_EYE, "H317"))
    kept = {sign for code, sign in pairs if sign != "GHS07" or code not in covered}
    return tuple(f"{PICTOGRAMS.get(sign, 'sign')} ({sign})" for sign in sorted(kept))


def glove_lines(studio: Studio, liquids: Sequence[Liquid]) -> tuple[str, ...]:
    """Polymers named for every part, those named for some, those to avoid; never minutes."""
    gloves = _all(studio, "glove", Glove)
    families = {liquid.family for liquid in liquids}
    if not liquids:
        return ()
    good = [one for one in gloves if families <= set(one.serves)]
    bad = [one for one in gloves if families & set(one.fails)]
    said = []
    if good:
        said.append("Named for it: " + "; ".join(_glove(one) for one in good) + ".")
    else:
        whole = "all of it" if len(liquids) > 1 else "it"
        said.append(f"No polymer is named here for {whole}; ask the glove maker.")
    if bad:
        said.append("Avoid: " + ", ".join(one.name for one in bad) + ".")
    silent = [liquid.name for liquid in liquids if not any(liquid.family in one.serves for one in gloves)]
    if silent:
        said.append(f"No class list here speaks of {', '.join(silent)}.")
    return (*said, CHART)


def _glove(one: Glove) -> str:
    return f"{one.name} ({one.note.rstrip('.')})" if one.note else one.name


def precaution_lines(studio: Studio, liquids: Sequence[Liquid], topic: Topic) -> tuple[str, ...]:
    """The lines of one topic that any part calls for, each once, general ones last."""
    called = {rule.id for liquid in liquids for rule in _rules(studio, liquid) if rule.topic == topic}
    return tuple(rule.text for rule in _all(studio, "precaution", Precaution) if rule.id in called)


def _rules(studio: Studio, liquid: Liquid) -> tuple[Precaution, ...]:
    """The precautions that a liquid calls for; kept, since lists of liquids ask again and again."""

    def find() -> tuple[Precaution, ...]:
        family, statements = _family(studio, liquid.family), labelled(liquid)
        rules = _all(studio, "precaution", Precaution)
        return tuple(rule for rule in rules if meets(rule.when, liquid, family, statements))

    return studio.compiled.kept(f"precautions {liquid.id}", None, find)


def protection_sources(studio: Studio, liquids: Sequence[Liquid]) -> tuple[str, ...]:
    """Ids of the sources behind gloves and precautions for these liquids."""
    found: dict[str, None] = {}
    families = {liquid.family for liquid in liquids}
    for glove in _all(studio, "glove", Glove):
        if families & {*glove.serves, *glove.fails}:
            found.update(dict.fromkeys(glove.sources))
    for liquid in liquids:
        for rule in _rules(studio, liquid):
            found.update(dict.fromkeys(rule.sources))
    return tuple(found)


def _family(studio: Studio, family_id: str) -> Family | None:
    def read() -> Family | None:
        row = entry(studio.index.conn, "family", family_id)
        return msgspec.json.decode(row.body, type=Family) if row else None

    return studio.compiled.kept(f"family {family_id}", None, read)


def _all(studio: Studio, word: str, kind: type[T]) -> list[T]:
    """Every entry of a kind, general ones last."""

    def read() -> list[T]:
        found = [msgspec.json.decode(row.body, type=kind) for row in entries(studio.index.conn, word)]
        return sorted(found, key=lambda one: (_general(one), one.id))

    return studio.compiled.kept(f"all {word}", None, read)


def _general(one: Glove | Precaution) -> bool:
    return isinstance(one, Precaution) and not any(
        getattr(one.when, name) for name in one.when.__struct_fields__
    )
