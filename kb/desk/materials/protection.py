"""What protects people from a liquid or blend: pictograms in words, gloves, and precautions by topic."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeVar

import msgspec

from kb.desk.materials.reading_words import PICTOGRAMS
from kb.index.queries import entries, entry
from kb.model.condition import labelled, meets
from kb.model.liquid import Family, Liquid
from kb.model.protection import Glove, GloveFigure, Precaution, Topic

if TYPE_CHECKING:
    from kb.desk.studio import Studio

T = TypeVar("T", Glove, Precaution)
CHART = (
    "Check the maker's chart for this very glove and liquid; in a blend the part that breaks through "
    "soonest counts."
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
    """Polymers named for every part, those to avoid with minutes where a source prints them.

    A figure for the very liquid goes before the rule for its family: butyl rubber holds a polar liquid
    whose family no class list names, and thin nitrile fails with methanol although it serves alcohols.
    """
    gloves = _all(studio, "glove", Glove)
    if not liquids:
        return ()
    judged = {glove.id: [_holds(glove, liquid) for liquid in liquids] for glove in gloves}
    good = [glove for glove in gloves if all(holds is True for holds, _ in judged[glove.id])]
    bad = [
        (glove, words)
        for glove in gloves
        if (words := [words for holds, words in judged[glove.id] if holds is False])
    ]
    said = []
    if good:
        said.append("Named for it: " + "; ".join(_glove(glove) for glove in good) + ".")
    else:
        whole = "all of it" if len(liquids) > 1 else "it"
        said.append(f"No polymer is named here for {whole}: none known here, ask the glove maker.")
    if bad:
        listed = (f"{glove.name}{''.join(f' ({one})' for one in words if one)}" for glove, words in bad)
        said.append(f"Avoid: {', '.join(listed)}.")
    silent = [
        liquid.name
        for place, liquid in enumerate(liquids)
        if not any(judged[glove.id][place][0] for glove in gloves)
    ]
    if silent:
        said.append(f"No class list here speaks of {', '.join(silent)}.")
    return (*said, CHART)


def _holds(glove: Glove, liquid: Liquid) -> tuple[bool | None, str]:
    """Whether a polymer is named for a liquid (None: not spoken of), and breakthrough in words."""
    figures = [figure for figure in glove.tested if liquid.id in figure.liquids]
    # A warning from any source wins over a recommendation from another.
    for figure in sorted(figures, key=lambda figure: figure.holds):
        return figure.holds, _minutes(liquid, figure)
    if liquid.family in glove.fails:
        return False, ""
    return (True if liquid.family in glove.serves else None), ""


def _minutes(liquid: Liquid, figure: GloveFigure) -> str:
    low, high = figure.minutes_low, figure.minutes_high
    if high is None:
        return f"{liquid.name}: {figure.note.rstrip('.')}" if figure.note else ""
    span = f"{low:g} to {high:g}" if low is not None else f"under {high:g}"
    note = f"; {figure.note.rstrip('.')}" if figure.note else ""
    return f"{liquid.name} breaks through in {span} min{note}"


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
        for figure in glove.tested:
            if not {liquid.id for liquid in liquids}.isdisjoint(figure.liquids):
                found.update(dict.fromkeys(figure.sources))
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
