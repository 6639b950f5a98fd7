"""What the index keeps of one test. Light to import: reading an answer needs no more than this."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.model.kinds import plain_id
from kb.science.liquids.blends import blend_id, normalise

if TYPE_CHECKING:
    from kb.book.fold import Current
    from kb.book.kinds.spot_test import SpotTest
    from kb.model.record import Line

Tapes = Mapping[str, tuple[str, str, str]]
"""The name, adhesive and carrier of each tape of the catalogue."""

CURRENT, AMENDED, WITHDRAWN = 0, 1, 2
WHOLE = 1000
"""Into so many parts a test on an unknown tape is cut: whole numbers add up the same in any order."""
STATES = ("", "amended", "withdrawn")
RELEASE_FROM = 3
"""Release grade from which a test counts as released."""
HARM_FROM = 2
"""Harm grade from which a test counts as harm."""
DISSOLVED = frozenset({"bleed", "offset", "colour"})
"""Kinds of harm that come of what the liquid dissolves, however little of it there is: what an ink shows."""
SHOWN_BY_PAPER = frozenset({"tideline", "gloss", "surface"})
"""The other kinds: what the paper shows beside any ink."""
# A tape that was seen to have no carrier has none; an empty field says that nobody looked.
NO_CARRIER = "none-transfer"
BARE_PAPER = "bare-paper"
"""Id of the medium that stands for none."""
GRADES_KEPT = 8192
"""Sets of grades of harm that are remembered: few differ, in a book of any length."""


# A book names the same few hundred materials over and over; and each of them is one text in memory then.
_plain_id = lru_cache(maxsize=512)(plain_id)


class Row(NamedTuple):
    """One test as the index keeps it; ``harm`` is the worst grade among those looked at."""

    id: str
    file: int
    offset: int
    length: int
    at: str
    who: str
    sheet: str
    tape: str
    adhesive: str
    stage: str
    carrier: str
    medium: str
    paper: str
    liquid: str
    method: str
    release: int | None
    harm: int | None
    control: int
    state: int
    batch: str = ""
    """The batch that was used, as it was named, in capitals as ids are."""
    may_be: str = ""
    """What an unknown tape may be, as :func:`shares_text` writes it; empty where the adhesive is known."""
    harms: str = ""
    """Grades of harm by kind, as :func:`harms_text` writes them; empty where one stands for all kinds."""

    @property
    def ink_looked(self) -> bool:
        """Whether one of DISSOLVED was looked at."""
        return self.harm is not None and (not self.harms or ink_looked(harms_of(self.harms)))

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of harm that were seen; where none was, those that were looked at. Empty: any, or all."""
        return _kinds(self.harms, HARM_FROM if (self.harm or 0) >= HARM_FROM else 0)

    @property
    def clean_kinds(self) -> frozenset[str]:
        """The kinds of harm that were looked at and not seen."""
        return _kinds(self.harms, 0) - _kinds(self.harms, HARM_FROM)

    @property
    def paper_harm(self) -> int | None:
        """The worst grade of what the paper shows and not the ink; None: of that nothing was looked at."""
        return _of_paper(self.harms) if self.harms else self.harm

    @property
    def passes_ink_by(self) -> bool:
        """Whether it is a clean look that says nothing of an ink: a gloss that stayed is no ink that did.

        What was seen to harm counts, of whatever kind; on bare paper no ink is there to be looked at.
        """
        return passes_ink_by(self.medium, self.harm, self.ink_looked)

    @property
    def harm_looks(self) -> tuple[tuple[str, int], ...]:
        """The media under which its looks for harm enter the sums of the book, each with its grade.

        What the paper shows is a look at the paper, whatever lies beside it and whatever came of it: a ring
        would do the same under another ink. Where nothing was looked at that an ink can show it is that
        alone: under the ink three clean ones freed a liquid for it, and without them two rings of twenty were
        two of two.
        """
        return () if self.harm is None else _looks(self.medium, self.harm, self.harms)

    @property
    def worst(self) -> int | None:
        """The worst grade as lists show it; None where nothing was looked at that could be harmed there."""
        return self.harm if self.harm_looks else None


TEST_COLUMNS = ", ".join(Row._fields)


@lru_cache(maxsize=GRADES_KEPT)
def _looks(medium: str, worst: int, harms: str) -> tuple[tuple[str, int], ...]:
    paper = _of_paper(harms)
    if medium == BARE_PAPER and worst < HARM_FROM:
        # Who looked on paper for bleeding alone has seen nothing of it; where it was seen, it was dyed.
        return () if paper is None else ((BARE_PAPER, paper),)
    if medium == BARE_PAPER or not ink_looked(harms_of(harms)):
        return ((BARE_PAPER, worst),)
    return ((medium, worst),) if paper is None else ((medium, worst), (BARE_PAPER, paper))


@lru_cache(maxsize=GRADES_KEPT)
def _of_paper(harms: str) -> int | None:
    return max((grade for kind, grade in harms_of(harms).items() if kind not in DISSOLVED), default=None)


@lru_cache(maxsize=GRADES_KEPT)
def _kinds(harms: str, least: int) -> frozenset[str]:
    return frozenset(kind for kind, grade in harms_of(harms).items() if grade >= least)


@lru_cache(maxsize=GRADES_KEPT)
def harms_text(grades: tuple[tuple[str, int], ...]) -> str:
    """``bleed=0;tideline=3``: the grades of harm by kind."""
    # Sorted, so that equal grades are equal text, and one in memory.
    return ";".join(f"{kind}={grade}" for kind, grade in sorted(grades))


@lru_cache(maxsize=GRADES_KEPT)
def harms_of(text: str) -> Mapping[str, int]:
    """What :func:`harms_text` wrote."""
    return {kind: int(grade) for kind, _, grade in (one.partition("=") for one in text.split(";") if one)}


def passes_ink_by(medium: str, worst: int | None, ink_looked: bool) -> bool:
    """The same of a test on ``medium`` whose worst harm was of this grade; None: nothing was looked at."""
    return not ink_looked and worst is not None and worst < HARM_FROM and medium != BARE_PAPER


def ink_looked(kinds: Iterable[str]) -> bool:
    """Whether one of DISSOLVED is among the kinds of harm that were looked at."""
    return not DISSOLVED.isdisjoint(kinds)


def state_of(current: "Current[Any]") -> int:
    return WITHDRAWN if current.withdrawn else AMENDED if current.history else CURRENT


def shares_text(shares: Mapping[tuple[str, str, str], int]) -> str:
    """``a/b/c=412;d/e/f=588``: adhesive, stage, carrier, and its part of the test in WHOLE-ths."""
    # Sorted, so that equal shares are equal text and a recount finds nothing to change.
    return ";".join(f"{'/'.join(key)}={share}" for key, share in sorted(shares.items()))


def shares_of(text: str) -> list[tuple[tuple[str, str, str], int]]:
    """What :func:`shares_text` wrote."""
    found = []
    for item in text.split(";") if text else ():
        key, _, share = item.rpartition("=")
        adhesive, stage, carrier = key.split("/")
        found.append(((adhesive, stage, carrier), int(share)))
    return found


def shares_of_tape(
    may_be: Mapping[str, float], seen_stage: str, seen_carrier: str, whole: int = WHOLE
) -> dict[tuple[str, str, str], int]:
    """What a tape may be as whole parts of ``whole``; a stage or carrier that was seen holds for all."""
    shares: dict[tuple[str, str, str], int] = {}
    for what, chance in may_be.items():
        adhesive, stage, usual = (plain_id(name) for name in what.split("/"))
        # A chance below half a thousandth falls away: no test may leave rows of nothing.
        share = round(chance * whole)
        if adhesive and share:
            # What was seen on this tape is surer than what tapes of its kind usually carry.
            key = (adhesive, plain_id(seen_stage) or stage, seen_carrier or usual)
            shares[key] = shares.get(key, 0) + share
    return shares


def plain_parts(parts: dict[str, float]) -> dict[str, float]:
    """Volume shares by canonical id. Nearly every test is of one liquid, so that case is kept short."""
    if len(parts) == 1:
        return {_plain_id(next(iter(parts))): 1.0}
    return normalise({_plain_id(name): share for name, share in parts.items()})


def row_of(
    line: "Line", test: "SpotTest", parts: dict[str, float], place: tuple[int, int, int], tapes: Tapes
) -> Row:
    """The columns of one test. A tape fills in its adhesive and carrier where they are not given."""
    tape = tape_adhesive = tape_carrier = ""
    if test.tape:
        tape = _plain_id(test.tape)
        _, tape_adhesive, tape_carrier = tapes.get(tape, ("", "", ""))
    carrier = NO_CARRIER if test.carrier_present is False else _plain_id(test.carrier) or tape_carrier
    return Row(
        line.id,
        *place,
        test.tested_at or line.at,
        line.who,
        test.sheet,
        tape,
        _plain_id(test.adhesive) or tape_adhesive,
        _plain_id(test.stage),
        carrier,
        # A control of which no medium is named lay on none.
        _plain_id(test.medium) or (BARE_PAPER if test.control else ""),
        _plain_id(test.paper),
        # What was left out is written as what was seen to come of it: none on paper that carries no film.
        next(iter(parts)) if len(parts) == 1 else blend_id(parts),
        _plain_id(test.method),
        test.release,
        # The worst kind of harm is what the ranking avoids; where kinds are shown, the book is read.
        max(test.harm.values()) if test.harm else None,
        int(test.control),
        CURRENT,
        test.batch and test.batch.strip().upper(),
        # A tape that was named beats chances: the writer knew, and what it may be is a guess from earlier.
        ""
        if test.adhesive or tape_adhesive or not test.may_be
        else shares_text(shares_of_tape(test.may_be, test.stage, carrier)),
        harms_text(tuple(test.harm.items())),
    )


def with_tape(row: Row, tapes: Tapes) -> Row:
    """The row that `row_of` made without tapes, of a test that says nothing of what its tape may be."""
    _, adhesive, carrier = tapes.get(row.tape, ("", "", ""))
    return row._replace(adhesive=row.adhesive or adhesive, carrier=row.carrier or carrier)
