"""Ask the desk for a ranking and lay it out in words and signs. No widgets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from kb.tui.text import cut, fit

if TYPE_CHECKING:
    from kb.desk.materials.safety import SafetyNote
    from kb.desk.studio import Studio
    from kb.model.question import Answer, Chance, Dials, Question, Suggestion

LIMIT = 12
SHORT_WORDS = {"very unlikely": "v.unlikely", "very likely": "v.likely", "about even": "even odds"}
"""For the narrow column only; the reasons have the full words."""
BAR = 6
NOT_KNOWN = "not known"


class Ranked(NamedTuple):
    """An answer with what its rows need besides. ``rows`` are the refused ones if all were refused."""

    answer: Answer
    rows: tuple[Suggestion, ...]
    safety: Mapping[str, SafetyNote]

    def place_of(self, liquid: str) -> str:
        """Where a liquid stands, in words."""
        for one in self.answer.suggestions:
            if one.liquid == liquid:
                return ordinal(one.rank)
        for one in self.answer.refused:
            if one.liquid == liquid:
                return f"not proposed ({one.refused})"
        if any(one.liquid == liquid for one in self.answer.vetoed):
            return "vetoed"
        return "not among the first"


def rank(studio: Studio, question: Question, dials: Dials | None) -> Ranked:
    """Choose, and fetch the safety notes of the rows. For a thread."""
    from kb.desk.choose.choose import choose
    from kb.desk.materials.safety import safety_note

    answer = choose(studio, question, dials, LIMIT)
    rows = answer.suggestions or answer.refused
    notes = {row.liquid: safety_note(studio, row.parts) for row in rows}
    return Ranked(answer, rows, notes)


def ordinal(number: int) -> str:
    """1 -> 1st, 2 -> 2nd, 11 -> 11th."""
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def bar(chance: Chance, cells: int = BAR) -> str:
    """The interval on a line from 0 to 1: ``·──●─·``. Shape alone tells it, without colour."""

    def cell(p: float) -> int:
        return min(cells - 1, max(0, int(p * cells)))

    low, at, high = cell(chance.low), cell(chance.p), cell(chance.high)
    return "".join("●" if i == at else "─" if low <= i <= high else "·" for i in range(cells))


def chance_cells(chance: Chance) -> str:
    """Figure, bar and word in a fixed width."""
    from kb.science.choose.evidence import in_words

    word = in_words(chance.p)
    return f"{figure(chance.p)} {bar(chance)} {SHORT_WORDS.get(word, word):<10}"


def figure(p: float) -> str:
    """A chance in two digits; never rounded to certainty."""
    if p > 0.995:
        return "~1 "
    if p < 0.005:
        return "~0 "
    return f"{p:.2f}"[1:]


def chance_words(chance: Chance) -> str:
    """A chance in full, for reading."""
    from kb.science.choose.evidence import in_words

    return f"{chance.p:.2f} ({chance.low:.2f} to {chance.high:.2f}) {bar(chance, 20)} {in_words(chance.p)}"


WORDS_FROM = 74
"""Width from which a row has room for the words of a chance; below it they are in the reasons only."""
WORD = 11
FIXED = 2 + 1 + 1 + 10 + 1 + 10 + 1 + 4 + 1 + 8
"""Width of everything in a row but the name and the words."""


def _widths(width: int) -> tuple[int, int]:
    """Cells for the name, and for each chance."""
    words = WORD if width >= WORDS_FROM else 0
    return max(6, width - FIXED - 2 * words), 10 + words


def header(width: int) -> str:
    """The line over the rows."""
    name, chance = _widths(width)
    text = f"{'':>2} {'liquid':<{name}} {'release':<{chance}} {'harm':<{chance}} {'care':<4} {'tests':<8}"
    return text[:width]


def row(one: Suggestion, width: int) -> str:
    """A suggestion on one line of ``width`` cells."""
    name, chance = _widths(width)
    place = str(one.rank) if one.rank else "-"
    release, harm = chance_cells(one.release)[:chance], chance_cells(one.harm)[:chance]
    return cut(f"{place:>2} {fit(one.name, name)} {release} {harm} {mark(one):<4} {counts(one)}", width)


def counts(one: Suggestion) -> str:
    """Own tests, similar ones and those in print, short: ``2+14+<1``, ``3+2k+1``."""
    figures = (one.evidence.own, one.evidence.similar, one.evidence.print)
    return "+".join("<1" if 0 < n < 1 else f"{n:.0f}" if n < 1000 else f"{n / 1000:.0f}k" for n in figures)


def mark(one: Suggestion) -> str:
    """The gravest caution as a word."""
    words = {caution.split(":", 1)[0] for caution in one.cautions}
    return next((word for word in ("stop", "warn", "note") if word in words), "")


def reasons(ranked: Ranked, one: Suggestion) -> str:
    """All that is known about one row, the gist first."""
    answer, pooled = ranked.answer, one.evidence.pooled
    others = f", other studios {pooled.own + pooled.similar}" if pooled else ""
    lines = [
        f"Release {chance_words(one.release)}",
        f"Harm    {chance_words(one.harm)}",
        f"Tests: own {one.evidence.own}, similar {one.evidence.similar}{others}, "
        f"in print {one.evidence.print:.3g}",
    ]
    if one.refused:
        lines.append(f"Not proposed: {one.refused}.")
    lines += ["", f"Why: {one.reason}.", *(f"- {detail}" for detail in one.details)]
    if one.cautions:
        lines += ["", "Cautions", *(f"- {_loud(caution)}" for caution in one.cautions)]
    note = ranked.safety.get(one.liquid)
    if note is not None:
        lines += ["", short_safety(note)]
    lines += ["", f"Next: {answer.next_step}"]
    if answer.mock_up:
        lines.append(answer.mock_up)
    return "\n".join([*lines, answer.rests_on, "", answer.disclaimer])


def _loud(caution: str) -> str:
    severity, _, text = caution.partition(":")
    return f"{severity.upper()}:{text}" if text else caution


def short_safety(note: SafetyNote) -> str:
    """Two lines of a safety note; the rest is one key away."""
    said = "; ".join(note.statements[:3]) or "no hazard statement known here"
    more = f" (+{len(note.statements) - 3} more)" if len(note.statements) > 3 else ""
    limit = note.limits[0] if note.limits else "no exposure limit known here"
    return f"Safety: signal word {note.signal_word}. {said}{more}. {limit}. S shows the whole note."


def full_safety(note: SafetyNote) -> str:
    """A safety note to read."""
    from kb.desk.materials.safety import sections

    lines = [note.defer, "", f"Signal word: {note.signal_word}"]
    for heading, said in sections(note):
        lines += ["", heading, *(f"- {text}" for text in said)]
    return "\n".join(lines)


def left_out(answer: Answer) -> str:
    """What was vetoed and refused, each with its reason."""
    lines = ["Vetoed by a caution"]
    lines += [f"- {one.name}: {one.text}" for one in answer.vetoed] or ["- none"]
    lines += ["", "Refused: shown, but not proposed"]
    lines += [f"- {one.name}: {one.refused}" for one in answer.refused] or ["- none"]
    return "\n".join(lines)
