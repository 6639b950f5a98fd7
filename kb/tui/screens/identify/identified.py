"""The answer to "what is this tape?" in words and signs. No widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.science.numbers import chance
from kb.tui.screens.choose.asked import Filled, short
from kb.tui.screens.identify.looking import in_short
from kb.tui.text import fit

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.identification import Identification, NextLook, RankedTape, Reason, StageChance

BAR = 10
WORD = 13
"""Cells of the longest words for a chance, "very unlikely" and "likeliest yet"."""
WITH_WORDS = 74
"""Cells from which the word stands beside the figure."""
SURE = 0.5
"""A tape less likely than this is not put into the question without asking. This project's own."""
STAGE_SHOWN = 0.005
MUCH, SOME = 0.6, 0.25
"""Shares of what the best look tells, from which on another one tells nearly as much, or something. This
project's own."""
FEW_LOOKS = 1
NO_LOOK = "No look left tells anything more."


class Place(NamedTuple):
    """A line of the ranking; ``tape`` is None for the chance that the tape is not listed."""

    tape: RankedTape | None
    p: float
    words: str

    @property
    def name(self) -> str:
        """What stands on the line."""
        return self.tape.name if self.tape else "something that is not listed"


def places(answer: Identification) -> list[Place]:
    """All tapes and the chance of none of them, the likeliest first; that chance is last before any sign."""
    listed = [Place(tape, tape.p, tape.words) for tape in answer.ranked]
    none = Place(None, answer.unknown, answer.unknown_words)
    if not answer.findings:
        return [*listed, none]
    return sorted([*listed, none], key=lambda one: -round(one.p, 12))


def bar(p: float, cells: int = BAR) -> str:
    """A chance as a row of dots: ``●●●●······``. Full and empty dots differ in shape."""
    full = min(cells, max(0, round(p * cells)))
    return "●" * full + "·" * (cells - full)


def row(one: Place, width: int, *, looked: bool = True) -> str:
    """Rank, name, and the chance as figure and dots; as a word too where there is room.

    Before anything was looked at all names are alike: no figure says "very unlikely" of each of them.
    """
    if not looked:
        return f"   {fit(one.name, max(10, width - 3))}"
    rank = str(one.tape.rank) if one.tape else "-"
    word = f" {one.words:<{WORD}}" if width >= WITH_WORDS else ""
    said = f" {chance(one.p):>5} {bar(one.p)}{word}"
    return f"{rank:>2} {fit(one.name, max(10, width - 3 - len(said)))}{said}"


def look_next(answer: Identification) -> str:
    """The look that tells most, on one line."""
    if not answer.next_looks:
        return NO_LOOK
    first = answer.next_looks[0]
    return f"Next (N): {in_short(first)} - {tells(first, answer)}"


def tells(look: NextLook, answer: Identification, *, bits: bool = False) -> str:
    """What a look tells beside the others, and what it takes; ``bits`` says how much in figures too."""
    first = answer.next_looks[0]
    if look.look == first.look:
        word = "tells most"  # of all that take no more: the desk puts ease before bits
    elif look.bits > first.bits:
        word = "tells more but takes more"
    elif look.bits >= MUCH * first.bits:
        word = "tells nearly as much"
    else:
        word = "tells something" if look.bits >= SOME * first.bits else "tells little"
    beside = [f"{look.bits:.2f} bits"] if bits else []
    beside += [] if look.cost == "none" else [look.cost]
    return f"{word} ({'; '.join(beside)})" if beside else word


def reasons(answer: Identification, one: Place | None, more: int = 3, *, whole: bool = False) -> str:
    """Why a tape stands where it stands, what to look at next, and how far all this goes."""
    counted = one is not None and (bool(answer.findings) or whole or one.tape is None)
    lines = [*_about(one), ""] if one is not None and counted else []
    # Where there are reasons to read, one look besides the next is enough; Enter shows all.
    lines += _next(answer, min(more, FEW_LOOKS) if answer.findings and not whole else more, bits=whole)
    if answer.alike:
        lines += ["", "Cannot be told apart", *(f"- {pair.text}" for pair in answer.alike)]
    stages = _stages(answer.stages)
    stands_out = any(one.p >= SURE for one in answer.ranked)
    if stages and (whole or (answer.findings and not stands_out)):
        lines += ["", f"Over all tapes, the stage may be: {stages}."]
    # On what the figures rest stands one key deeper, under Enter.
    return "\n".join([*lines, "", answer.disclaimer, *((answer.prior, answer.scale) if whole else ())])


def _about(one: Place) -> list[str]:
    if one.tape is None:
        said = f"{chance(one.p)}, {one.words}"
        return [f"The chance that it is none of the listed tapes: {said}. No sign speaks of such a tape."]
    stages = one.tape.stages
    lines = [f"{chance(one.p)} {bar(one.p)} {one.words}."]
    # Where nothing seen tells the stages apart, a line of equal bars says nothing.
    if (words := _stages(stages)) and (len(stages) == 1 or len({round(each.p, 2) for each in stages}) > 1):
        lines.append(f"Stage, if it is this: {words}.")
    taken = one.tape.on_documents
    lines.append(f"{taken.text.capitalize()}{f'  ~ {taken.mark}' if taken.mark else ''}.")
    why = [reason_line(reason) for reason in one.tape.reasons]
    return [*lines, "Why", *(why or ["- nothing was looked at yet"])]


def reason_line(reason: Reason) -> str:
    """A reason with its mark: + speaks for it, - against it, = neither; then how far it can be trusted."""
    sign = "+" if reason.factor > 1.25 else "-" if reason.factor < 0.8 else "="
    return f"{sign} {reason.text}{f'  ~ {reason.mark}' if reason.mark else ''}"


def _stages(found: tuple[StageChance, ...]) -> str:
    """Stages with their chances; empty where the adhesive has none."""
    named = [one for one in found if one.name and one.p >= STAGE_SHOWN]
    return "; ".join(f"{short(one.name)} {bar(one.p, 5)} {chance(one.p)}" for one in named)


def _next(answer: Identification, more: int, *, bits: bool) -> list[str]:
    if not answer.next_looks:
        return [NO_LOOK]
    first, *others = answer.next_looks
    lines = [f"Look next: {first.question} - {tells(first, answer, bits=bits)}", f"  {first.how}"]
    return [*lines, *(f"- or: {one.question} - {tells(one, answer, bits=bits)}" for one in others[:more])]


def source_text(studio: Studio, name: str, found: tuple[Reason, ...]) -> str:
    """The reasons with the sources of each, then all those sources once. For a thread."""
    from kb.desk.materials.cited import cited_source
    from kb.desk.materials.lookup import Reading
    from kb.tui.screens.materials.reading_pane import source_words

    if not found:
        return "Nothing was looked at yet, so no source is behind this place."
    ids = dict.fromkeys(source for reason in found for source in reason.sources)
    lines = [
        f"{reason_line(reason)}\n  Sources: {', '.join(reason.sources) or 'none; the base rate stands in'}"
        for reason in found
    ]
    cited = tuple(cited_source(studio, source) for source in ids)
    reading = Reading(
        kind="tape", id="", name=name, also=(), lines=(), sources=cited, file="", line=0, origin=""
    )
    return "\n".join([*lines, "", source_words(reading, None)])


# -- into the question -----------------------------------------------------------------------------


def brings(studio: Studio, tape: RankedTape) -> dict[str, Filled]:
    """What the tape fills besides: its carrier, and its stage where that is likely or more. For a thread."""
    from kb.science.choose.evidence import in_words

    found = {}
    if tape.carrier:
        name = studio.compiled.carrier_names.get(tape.carrier, tape.carrier)
        found["carrier"] = Filled("carrier", tape.carrier, name)
    stage = max(tape.stages, key=lambda one: one.p, default=None)
    if stage is not None and stage.stage and "likely" in in_words(stage.p).split():
        found["stage"] = Filled("stage", stage.stage, stage.name)
    return found
