"""Ask the desk for a ranking and lay it out in words and signs. No widgets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from kb.desk.choose.words import before, looks_at_a_margin, numbers, outcomes, step_of
from kb.science.choose.evidence import in_words
from kb.science.numbers import counted
from kb.tui.text import cut, fit, parts_cut

if TYPE_CHECKING:
    from kb.desk.materials.safety import SafetyNote
    from kb.desk.studio import Studio
    from kb.model.question import Answer, Chance, Dials, Group, Question, Suggestion

EVERYTHING = 10_000
"""The desk says as much of every liquid at nearly the same cost, and a line opens without asking again."""
NOT_PROPOSED = -1
"""Stands for the number of a row that is shown and not proposed: it takes none from those that are."""
UNLINED = 12
"""Rows shown where no line is worth thinking of."""
SHORT_WORDS = {"very unlikely": "v.unlikely", "very likely": "v.likely"}
"""For the narrow column only; the reasons have the full words."""
ALIKE_NAMED = 4
"""Liquids named beside the one that stands for them; the others are a key away."""
BAR = 6


class Ranked(NamedTuple):
    """An answer with what its rows need besides.

    ``rows`` lead the lines, ``lines`` are their groups in the same order (fewer where nothing leads a line:
    then the rows are what was refused), ``alike`` what stands behind each leader.
    """

    answer: Answer
    rows: tuple[Suggestion, ...]
    safety: Mapping[str, SafetyNote]
    alike: Mapping[str, tuple[Suggestion, ...]] = {}
    adhesive: str = ""
    """Name of the adhesive that is asked about, also where a tape brings it."""
    ceiling: float = 1.0
    """Of harm, as it was asked with."""

    def line_of(self, one: Suggestion) -> Group | None:
        """The group that a liquid leads."""
        return next((line for line in self.answer.groups if line.liquid == one.liquid), None)

    @property
    def places(self) -> list[int]:
        """The number of each row; NOT_PROPOSED where there is none to give."""
        if self.answer.groups:
            return [number or NOT_PROPOSED for number in numbers(self.answer)]
        return [NOT_PROPOSED if one.refused else place for place, one in enumerate(self.rows, start=1)]

    def proposed(self, one: Suggestion) -> bool:
        """Whether a spot of it is proposed, now, after looks or in its place in the series."""
        return (
            not one.refused or one.looks > 0 or any(step.liquid == one.liquid for step in self.answer.series)
        )

    def place_of(self, liquid: str) -> str:
        """Where a liquid stands, in words."""
        for place, one in zip(self.places, self.rows, strict=True):
            if one.liquid == liquid and place > 0 and not one.refused.startswith("already"):
                return f"{ordinal(place)}{_waits(one)}"
        for one in self.answer.refused:
            if one.liquid == liquid:
                return f"not proposed ({one.refused})"
        for place, one in zip(self.places, self.rows, strict=True):
            if any(other.liquid == liquid for other in self.alike.get(one.liquid, ())):
                return f"{ordinal(place)}, behind {one.name}" if place > 0 else f"behind {one.name}"
        return "vetoed" if any(one.liquid == liquid for one in self.answer.vetoed) else "not among the first"


def rank(studio: Studio, question: Question, dials: Dials | None) -> Ranked:
    """Choose, and fetch the safety notes of the rows. For a thread."""
    from kb.desk.choose.choose import choose
    from kb.desk.materials.safety import safety_note
    from kb.index.queries import entry

    answer = choose(studio, question, dials, EVERYTHING)
    said = {one.liquid: one for one in (*answer.suggestions, *answer.refused)}
    leads = tuple(line.lead for line in answer.groups if line.lead is not None)
    rows = leads or answer.suggestions[:UNLINED] or answer.refused[:UNLINED]
    alike = {
        line.liquid: tuple(one for liquid, one in said.items() if liquid in members and liquid != line.liquid)
        for line in answer.groups
        for members in (frozenset(line.members),)
    }
    shown = {one.liquid: one for one in (*rows, *(one for found in alike.values() for one in found))}
    notes = {one.liquid: safety_note(studio, one.parts) for one in shown.values()}
    glue = entry(studio.index.conn, "adhesive", answer.question.adhesive)
    ceiling = (dials or studio.settings.dials).ceiling
    return Ranked(answer, rows, notes, alike, glue.name if glue else "", ceiling)


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
    word = in_words(chance.p)
    return f"{figure(chance.p)} {bar(chance)} {SHORT_WORDS.get(word, word):<10}"


def figure(p: float) -> str:
    """A chance of a hundred in three cells; never rounded to certainty."""
    if p > 0.995:
        return ">99"
    return "<1 " if p < 0.005 else f"{min(99.0, 100 * p):<3.0f}"


def chance_words(chance: Chance) -> str:
    """A chance in full, for reading."""
    span = f"{100 * chance.low:.0f} to {100 * chance.high:.0f}"
    return f"{figure(chance.p).strip()} % ({span}) {bar(chance, 20)} {in_words(chance.p)}"


WORDS_FROM = 96
"""Width from which a row has room for the words of a chance beside a whole name; else only the reasons do."""
WORD = 11
FIXED = 2 + 1 + 1 + 10 + 1 + 10 + 1 + 5 + 1 + 8
"""Width of everything in a row but the name and the words."""
LEAST_NAME = 6


def _widths(width: int) -> tuple[int, int]:
    """Cells for the name, and for each chance."""
    words = WORD if width >= WORDS_FROM else 0
    return max(LEAST_NAME, width - FIXED - 2 * words), 10 + words


def header(width: int) -> str:
    name, chance = _widths(width)
    chances = f"{'release %':<{chance}} {'harm %':<{chance}}"
    return f"{'#':<2} {'liquid':<{name}} {chances} {'spot':<5} {'evidence':<8}"[:width]


def row(one: Suggestion, width: int, place: int = 0, more: str = "") -> str:
    """A liquid on one line of ``width`` cells. ``place`` 0: it stands behind the leader above it.

    ``more`` says what stands behind a leader and keeps its cells whatever the name takes.
    """
    name, chance = _widths(width)
    number = {0: "·", NOT_PROPOSED: "-"}.get(place, str(place))
    room = max(1, name - len(more) - 1) if more else name
    said = f"{fit(parts_cut(one.name, room), room)} {more}".rstrip()
    release, harm = chance_cells(one.release)[:chance], chance_cells(one.harm)[:chance]
    return cut(f"{number:<2} {fit(said, name)} {release} {harm} {spot(one):<5} {evidence(one)}", width)


def evidence(one: Suggestion) -> str:
    """The strongest there is, and how many tests it is worth: ``own 2``, ``like 14``, ``print <1``.

    ``own? 2``: own tests on tapes not known for sure, in proportion to what each may be.
    """
    ranks = (
        ("own", one.evidence.own),
        ("own?", one.evidence.in_part),
        ("like", one.evidence.similar),
        ("print", one.evidence.print),
    )
    word, n = next(((word, n) for word, n in ranks if n), ("none", 0.0))
    return f"{word} {'<1' if n < 1 else f'{n:.0f}' if n < 1000 else f'{n / 1000:.0f}k'}" if n else word


def spot(one: Suggestion) -> str:
    """Whether a spot may be made: free, after looks at a margin, held back; ``!`` where a warning applies."""
    word = ("look" if one.looks else "held") if one.refused else "free"
    return word + "!" * any(not caution.startswith("note") for caution in one.cautions)


def spot_words(one: Suggestion) -> str:
    """What the column of spots says of it, in full."""
    word = spot(one)
    said = {"free": "a spot may be made", "look": "clean looks at a margin come first", "held": "no spot now"}
    return f"{said[word.rstrip('!')]}{'; !: a warning applies, see below' if word.endswith('!') else ''}"


def tests(one: Suggestion) -> str:
    """Every kind of test behind it, in the order of trust."""
    pooled = one.evidence.pooled
    others = f", other studios {pooled.own + pooled.similar}" if pooled else ""
    own, similar, printed = one.evidence.own, one.evidence.similar, one.evidence.print
    part = one.evidence.in_part
    unsure = f", own on tapes not known for sure counted as {part:.1f}" if part else ""
    return f"Tests: own {own}{unsure}, like these {similar}{others}, in print {printed:.1f}"


def reasons(ranked: Ranked, one: Suggestion) -> str:
    """What one needs to know of a row to begin, in words; the chemistry and the counts are under Why."""
    answer = ranked.answer
    lines = _begin(ranked, one)
    step = step_of(answer, one.liquid)
    # What comes before any liquid stands where one looks first.
    lines += filter(None, (answer.look_first, answer.carrier_first))
    lines.append(f"Spot {spot(one)}: {spot_words(one)}.")
    if step is not None:
        lines += ["", f"{ordinal(step[0])} in the series (E).", *outcomes(step[1])]
    alike = [other.name for other in ranked.alike.get(one.liquid, ())]
    if alike:
        more = f" and {len(alike) - ALIKE_NAMED} more" if len(alike) > ALIKE_NAMED else ""
        lines += [
            "",
            f"Alike, +{len(alike)} in the list (Space opens them): {', '.join(alike[:ALIKE_NAMED])}{more}.",
        ]
    grave = [caution for caution in one.cautions if not caution.startswith("note")]
    notes = len(one.cautions) - len(grave)
    lines += ["", *(f"- {_loud(caution)}" for caution in grave)]
    noted = f", {counted(notes, 'note')}" if notes else ""
    lines.append(f"Why (R): tests, print, chemistry{noted}. Safety note: S.")
    note = ranked.safety.get(one.liquid)
    if note is not None:
        lines += ["", short_safety(note)]
    lines += ["", f"Next: {answer.next_step}", *filter(None, [answer.mock_up])]
    return "\n".join([*lines, "", answer.disclaimer])


def _begin(ranked: Ranked, one: Suggestion) -> list[str]:
    """Chances and tests; what comes before a spot of it, or why there is none, unless it is free."""
    lines = [f"Release {chance_words(one.release)}", f"Harm    {chance_words(one.harm)}", f"{tests(one)}."]
    line = ranked.line_of(one)
    held = (
        before(ranked.answer, line, ranked.ceiling)
        if line is not None
        else f"; not proposed: {one.refused}"
        if one.refused
        else ""
    )
    return [*lines, f"{held[2:3].upper()}{held[3:]}."] if held else lines


def _waits(one: Suggestion) -> str:
    """What is said behind the number of a row that is proposed and yet not free."""
    if not one.refused:
        return ""
    return f", after {looks_at_a_margin(one.looks)}" if one.looks else ", held back until its place comes"


def why(ranked: Ranked, one: Suggestion) -> str:
    """All that is known about one row: counts, chemistry, what the answer rests on, every caution."""
    answer = ranked.answer
    lines = _begin(ranked, one)
    if one.looks:
        lines.append(f"Without looks held back: {one.refused}.")
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
    limit = f"{limit[:1].upper()}{limit[1:]}"
    return f"Safety: signal word {note.signal_word}. {said}{more}. {limit}. S shows the whole note."


def full_safety(note: SafetyNote) -> str:
    from kb.desk.materials.safety import sections

    lines = [note.defer, "", f"Signal word: {note.signal_word}"]
    for heading, said in sections(note):
        lines += ["", heading, *(f"- {text}" for text in said)]
    return "\n".join(lines)


def left_out(answer: Answer) -> str:
    """What was vetoed and refused, each with its reason; what looks or the series may still free apart."""
    lines = ["Vetoed by a caution"]
    lines += [f"- {one.name}: {one.text}" for one in answer.vetoed] or ["- none"]
    first, later, never = [], [], []
    for one in answer.refused:
        step = step_of(answer, one.liquid)
        if one.looks:
            first.append(f"- {one.name}: {looks_at_a_margin(one.looks)}; without them {one.refused}")
        elif step is not None:
            later.append(f"- {one.name}: {ordinal(step[0])} in the series; now {one.refused}")
        else:
            never.append(f"- {one.name}: {one.refused}")
    for heading, found in (("Looks first", first), ("Later in the series, not now", later)):
        lines += ["", heading, *found] if found else []
    lines += ["", "Shown, but not proposed", *(never or ["- none"])]
    # The last: a short shelf leaves out most of what there is.
    out = [f"- {one.why}" for one in answer.left_out]
    return "\n".join([*lines, *(["", f"Left out ({len(out)})", *out] if out else [])])
