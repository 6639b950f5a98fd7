"""What a picker offers for the words typed so far. Runs in a thread, under the desk's lock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from kb.desk.errors import DeskError
from kb.science.numbers import counted
from kb.tui.screens.choose.asked import BY_NAME, Asked, Filled

if TYPE_CHECKING:
    from kb.desk.choose.lexicon import Spoken
    from kb.desk.studio import Studio
    from kb.model.question import Question

SENTENCE_FROM = 3
"""Words from which what is typed into the first blank may be a whole question."""
SHOWN = 40
"""Finds shown for what is typed."""
LISTED = 300
"""Entries listed while nothing is typed; a longer list is read by nobody and slow to draw."""
NEW = "a new sheet"
ONE_SHEET = "one sheet"
"""Asked for where the next thing is done with a sheet: "none" is no answer there."""
USUAL_METHOD = "swab"
WHOLE_LINE = "Take all of this line as the question"
CLOSEST = "Take it with what is closest"
TAKES_CLOSEST = "Y takes the closest."
NOTHING: Mapping[str, Filled] = {}
Row = tuple[str, str, str, str, bool]
"""Kind, id, name, what is said after the kind, and whether only the spelling is near."""


class Whole(NamedTuple):
    """A question typed in one line: for the desk, for the blanks, and what was understood in words."""

    question: Question
    filled: Mapping[str, tuple[Filled, ...]]
    sentence: str
    brief: str
    closest: Whole | None = None
    """The same with the closest names in place of words that were not understood."""


class Offer(NamedTuple):
    """One line of a picker. ``what`` None empties the blank; ``brings`` fills other blanks with it."""

    what: Filled | None
    name: str
    words: str
    brings: Mapping[str, Filled] = NOTHING
    stays: bool = False
    """Only a word to the reader: taking it does nothing."""
    whole: Whole | None = None
    """The whole question as it was typed in one line."""
    near: bool = False
    """Only its spelling is like what was typed: taken where a person goes to it, never of itself."""


def offers(studio: Studio, blank: str, text: str, asked: Asked | None = None) -> list[Offer]:
    """Likeliest first; everything that fits while nothing is typed. "Not known" is always the first.

    Of stages, only those that the adhesive ``asked`` about goes through, if it is known.
    """
    if blank in {"sheet", ONE_SHEET}:
        none = [Offer(None, "none", "no sheet named")] if blank == "sheet" else []
        return none + _sheets(studio, text)
    from kb.desk.materials import lookup

    kinds = BY_NAME[blank].kinds if blank in BY_NAME else (blank,)
    if text.strip():
        rows = [
            (one.kind, one.id, one.name, _also(one.name, one.matched), one.near)
            for one in lookup.find(studio, text, kinds, SHOWN)
        ]
    else:
        rows = [(kind, *row, "", False) for kind in kinds for row in lookup.names(studio, kind)]
        if blank == "stage" and asked is not None:
            rows = _by_adhesive(studio, rows, asked.question(studio).adhesive)
    first = [Offer(None, "not known", "leave the blank empty")] if blank != "liquid" else []
    if blank == "tape" and len(text.split()) >= SENTENCE_FROM:
        first += _sentence(studio, text)
    listed = [_offer(studio, blank, *row) for row in rows[:LISTED]]
    if len(rows) > LISTED:
        listed.append(Offer(None, f"... and {len(rows) - LISTED:,} more", "type part of a name", stays=True))
    return first + listed


def _by_adhesive(studio: Studio, rows: list[Row], adhesive: str) -> list[Row]:
    """The stages an adhesive goes through, as it ages, each with what one sees; all if it is not known."""
    import msgspec

    from kb.index.identify_table import stages_of
    from kb.index.queries import entry
    from kb.model.material import Adhesive, Stage

    found = entry(studio.index.conn, "adhesive", adhesive)
    entries = {row[1]: entry(studio.index.conn, "stage", row[1]) for row in rows}
    stages = {id: msgspec.json.decode(one.body, type=Stage) for id, one in entries.items() if one}
    by_id = {row[1]: (*row[:3], f": {_seen(stages[row[1]].text)}", False) for row in rows if row[1] in stages}
    if found is None:
        return list(by_id.values())
    # A gummed tape neither creeps nor turns oily: what it does not go through is no choice.
    own = stages_of(msgspec.json.decode(found.body, type=Adhesive), stages)
    return [by_id[one] for one in own if one in by_id] or list(by_id.values())


def _seen(text: str) -> str:
    """The first sentence of a stage, and of that what stands behind a colon: what one sees."""
    return text.partition(". ")[0].rpartition(": ")[2].rstrip(".")


def _sentence(studio: Studio, text: str) -> list[Offer]:
    """The typed words as a whole question, if any blank but the tape's is in them."""
    from kb.desk.choose.spoken import spoken

    try:
        said = spoken(studio, text)
    except DeskError:
        return []
    asked = said.question
    more = (asked.stage, asked.medium, asked.paper, asked.back_media, asked.may_be)
    whole = whole_of(studio, said)
    # A line with nothing but slips in it beside the tape is a question too, once they are taken.
    if not any(more) and whole.closest is None:
        return []
    found = [Offer(None, WHOLE_LINE, "question", whole=whole)]
    if whole.closest is not None:
        found.append(Offer(None, f"{CLOSEST}: {said.closest}", "question", whole=whole.closest))
    return found


def whole_of(studio: Studio, said: Spoken) -> Whole:
    """A typed line as the screen takes it."""
    from kb.desk.choose.spoken import spoken

    closest, takes = None, ""
    if said.closest:
        near = spoken(studio, said.closest)
        closest = Whole(near.question, filled_by(studio, near.question), near.sentence, near.brief)
        takes = f"{TAKES_CLOSEST} "
    brief = f"{said.missed}{takes}{said.in_short}"
    return Whole(said.question, filled_by(studio, said.question), said.sentence, brief, closest)


def filled_by(studio: Studio, question: Question) -> dict[str, tuple[Filled, ...]]:
    """What stands in each blank for a question of the desk."""
    from kb.index.queries import entry

    def named(kind: str, ids: Iterable[str]) -> tuple[Filled, ...]:
        rows = ((one, entry(studio.index.conn, kind, one)) for one in ids if one)
        return tuple(Filled(kind, one, row.name if row else one) for one, row in rows)

    tape = named("tape", (question.tape,)) or named("adhesive", (question.adhesive,))
    single = {
        name: named(name, (getattr(question, name),)) for name in ("stage", "medium", "paper", "carrier")
    }
    _, usual, _ = studio.compiled.tapes.get(question.tape, ("", "", ""))
    adhesive = named("adhesive", (question.adhesive,)) if question.tape and question.adhesive != usual else ()
    method = () if question.method == USUAL_METHOD else named("method", (question.method,))
    return {
        "tape": tape,
        "adhesive": adhesive,
        **single,
        "method": method,
        "also": named("medium", question.also_media),
        "back": named("medium", question.back_media),
    }


def _also(name: str, matched: str) -> str:
    """The other name that was met, where the name itself does not show why it is listed."""
    return f", also {matched}" if matched and matched.lower() not in name.lower() else ""


def _offer(studio: Studio, blank: str, kind: str, entry_id: str, name: str, also: str, near: bool) -> Offer:
    brings = NOTHING
    if blank == "tape" and kind == "tape":
        _, _, carrier = studio.compiled.tapes.get(entry_id, ("", "", ""))
        if carrier:
            carrier_name = studio.compiled.carrier_names.get(carrier, carrier)
            brings = {"carrier": Filled("carrier", carrier, carrier_name)}
    return Offer(Filled(kind, entry_id, name), name, f"{kind}{also}", brings, near=near)


def _sheets(studio: Studio, text: str) -> list[Offer]:
    """Sheets by any part of what they are called, then what is near in spelling; founding one is the last."""
    from kb.desk.records import record
    from kb.desk.sheet.names import sheets_like
    from kb.index.queries import subjects

    typed = text.strip()
    counts = dict(record.sheet_names(studio))
    taped = subjects(studio.index.conn, ("strip",))
    borne, near = sheets_like(studio, typed)
    # Tape is work to be done: before sheets that only bear a name.
    borne.sort(key=lambda name: name not in taped)
    made = []
    for name, alike in (*((name, False) for name in borne), *((name, True) for name in near)):
        count = counts.get(name, 0)
        tests = counted(count, "test") if count else "no test"
        said = f"tape, {tests}" if name in taped else tests
        made.append(Offer(Filled("sheet", name, name), name, said, near=alike))
    made = made[:SHOWN]
    if typed and typed.casefold() not in {name.casefold() for name in borne}:
        # Where there is anything like it, a new sheet is founded only by going to its line.
        new = Offer(Filled("sheet", typed, typed), typed, NEW, near=bool(made))
        made.append(new)
    return made
