"""What was tried on the sheet of the question, as far as it bears on what is asked about."""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from kb.desk.choose.gather import Gathered
from kb.index.compiled import Compiled, Named
from kb.index.rows import BARE_PAPER, DISSOLVED, HARM_FROM, RELEASE_FROM, SHOWN_BY_PAPER, WITHDRAWN, Row
from kb.model.question import Question

BRIEF, LONGER = ("swab", "brush", "drop"), ("gel", "local-poultice")
"""Ways that leave a liquid little time on the adhesive, and ways that keep it there. Common practice, no
source."""
BARE = frozenset((BARE_PAPER, ""))
"""Of a spot that lies on no medium, or names none."""


NO_KIND = frozenset[str]()
FREE = "free"
"""Contact of a liquid that nothing holds."""


class HarmSeen(NamedTuple):
    """What was seen of a liquid's harm to one medium, or to bare paper."""

    place: int
    medium: str
    harmed: bool
    kinds: frozenset[str] = NO_KIND
    """Kinds of harm that were seen or, of a clean one, looked at; empty: any, or all."""
    clean: frozenset[str] = NO_KIND
    """Kinds that were looked at where others did harm, and not seen."""
    beside: bool = False
    """Whether it was made on another medium, and tells of the paper there."""

    @property
    def wet(self) -> bool:
        """Whether it tells of too much liquid only, and not of what it dissolves. Bare paper has no ink."""
        bare = self.medium == BARE_PAPER and not (self.harmed or self.beside)
        return bool(self.kinds) and self.kinds.isdisjoint(DISSOLVED) and not bare

    @property
    def cleared(self) -> bool:
        """Whether it is a clean look at what it was made on: of bare paper, at what paper shows."""
        of_paper = self.medium != BARE_PAPER or not self.kinds or not self.kinds.isdisjoint(SHOWN_BY_PAPER)
        return of_paper and not (self.harmed or self.wet)

    @property
    def without_ring(self) -> "HarmSeen | None":
        """What it tells where too much liquid is no matter: of what dissolves alone; None: nothing."""
        if not (self.harmed and self.kinds):
            return self
        kinds, clean = self.kinds & DISSOLVED, self.clean & DISSOLVED
        if kinds:
            return self._replace(kinds=kinds, clean=clean)
        return self._replace(harmed=False, kinds=clean, clean=NO_KIND) if clean else None

    @property
    def harm_alone(self) -> "HarmSeen | None":
        """What it tells of a way that wets more, in which what was clean need not be."""
        return self._replace(clean=NO_KIND) if self.harmed else None

    def did(self, kind: str) -> bool:
        """Whether it harmed so. Of a lifted strip nobody said how: then in the worst way that may be."""
        return self.harmed and kind in (self.kinds or DISSOLVED)

    def spared(self, kind: str) -> bool:
        """Whether that was looked at and not seen. Who did not look for what was harmed clears nothing."""
        return kind in self.clean or (not self.harmed and (not self.kinds or kind in self.kinds))


class Look(NamedTuple):
    """What a look for harm tells of chances: of inks, and of the paper under all of them."""

    place: int
    of: str | None
    """The ink of which it is news; "": of all that is asked about; None: of none."""
    harmed: bool
    paper: bool | None
    """Whether the paper was harmed; None: of that nothing was looked at."""

    @property
    def harm_alone(self) -> "Look | None":
        """What it tells of a way that wets more."""
        return self._replace(paper=self.paper or None) if self.harmed or self.paper else None


class Spots(NamedTuple):
    """Spots already made on this sheet, by place of the candidate."""

    tried: frozenset[str] = frozenset()
    release: tuple[tuple[int, bool], ...] = ()
    """Place, and whether it released."""
    looks: tuple[Look, ...] = ()
    worked: Mapping[str, str] = MappingProxyType({})
    """Liquids that released and harmed nothing; and by which method, where by another they did harm."""
    seen: tuple[HarmSeen, ...] = ()
    """Of the paper and of what is asked about."""
    harmed: tuple[tuple[str, str, frozenset[str]], ...] = ()
    """Of each that did harm here, to whatever: liquid, medium, and the kinds; none: nobody said."""
    passed_by: int = 0
    """Looks on an ink within reach, but at nothing that it can show: clean ones move no chance."""
    unnamed: int = 0
    """Clean looks at ink that name none: of which it is nobody knows."""

    @property
    def graded(self) -> bool:
        """Whether any of them tells something: a spot without a grade tells nothing."""
        return bool(self.release or self.looks)

    def with_look(self, place: int, times: int) -> "Spots":
        """So many harmless looks on bare paper more."""
        return self._replace(looks=(*self.looks, *([Look(place, None, harmed=False, paper=False)] * times)))

    def with_clean(self, place: int, media: Sequence[str], times: int) -> "Spots":
        """So many harmless looks on each of the media more, and at the paper there, beside the adhesive."""
        looks = [Look(place, medium, harmed=False, paper=False) for medium in media] * times
        return self._replace(
            looks=(*self.looks, *looks),
            seen=(*self.seen, *(HarmSeen(place, medium, harmed=False) for medium in (*media, BARE_PAPER))),
        )

    def with_spot(
        self, what: Named, place: int, *, released: bool | None, harmed: bool, medium: str = ""
    ) -> "Spots":
        """One spot on the adhesive more; release None where it was not looked at."""
        release = self.release if released is None else (*self.release, (place, released))
        return self._replace(
            tried=self.tried | {what.id},
            release=release,
            looks=(*self.looks, Look(place, "", harmed, paper=harmed)),
            seen=(*self.seen, HarmSeen(place, medium, harmed)),
        )


def spots_of(rows: list[Row], gathered: Gathered, compiled: Compiled, question: Question) -> Spots:
    """The valid spots among the rows, in terms of candidates."""
    order = gathered.order
    rows = [row for row in rows if row.state != WITHDRAWN and row.liquid in order]
    # A look on bare paper is no trial of the adhesive, unless a release was graded there. A control has none
    # under it, so it is no spot of the series; but the paper is the same there, and the ink.
    spots = [row for row in rows if not row.control and (row.medium != BARE_PAPER or row.release is not None)]
    near, inks = {"", *question.reach}, {*question.reach} - BARE
    looked = [row for row in rows if row.harm is not None and row.harm < HARM_FROM]
    clean = {
        row.liquid
        for row in as_freely(compiled, looked, question.method)
        if (row.medium in question.reach or not any(question.reach))
        and not (_of_ink(question) and row.passes_ink_by)
    }
    # Where no medium is named, or none is there, every spot was made on what is asked about.
    here = [row for row in spots if near <= BARE or row.medium in near or row.liquid in clean]
    # A ring of free liquid is no news of what a gel holds; what a gel wets too much free liquid does as well,
    # and what it spared free liquid may not spare.
    free = {row.id for row in rows if _contact(compiled, row.method) == FREE}
    held = _contact(compiled, question.method) != FREE
    looks, seen = list[Look](), list[HarmSeen]()
    for row in rows:
        place = order[row.liquid]
        look, told = _look(row, place, question), [*_harms_seen(row, place, question)]
        harms: list[HarmSeen | None] = [*told]
        if held and row.id in free:
            harms = [one.without_ring for one in told]
        elif not held and row.id not in free:
            look, harms = look and look.harm_alone, [one.harm_alone for one in told]
        looks += filter(None, (look,))
        seen += filter(None, harms)
    return Spots(
        frozenset(row.liquid for row in spots if _tried(question, row, here)),
        tuple((order[r.liquid], r.release >= RELEASE_FROM) for r in spots if r.release is not None),
        tuple(looks),
        _worked(
            here,
            [(row, kinds) for row in rows if (kinds := harms_here(question, row)) is not None],
            as_freely(compiled, here, question.method),
        ),
        tuple(seen),
        tuple((row.liquid, row.medium, row.kinds) for row in rows if (row.harm or 0) >= HARM_FROM),
        sum(row.harm is not None and row.medium in inks and not row.ink_looked for row in rows),
        sum(bool(inks) and not row.medium and row.ink_looked for row in looked),
    )


def _of_ink(question: Question) -> bool:
    """Whether not paper alone is asked about, where there is no ink to be passed by."""
    return {*question.reach} != {BARE_PAPER}


def _look(row: Row, place: int, question: Question) -> Look | None:
    """What a spot tells of harm to what is asked about; None: nothing."""
    if row.harm is None:
        return None
    # A ring that stayed away beside an ink moves no chance, not even that of the paper under it: enough of
    # such looks would free a liquid for an ink that nobody looked at.
    if row.medium and row.passes_ink_by and _of_ink(question):
        return None
    harmed, of_paper = row.harm >= HARM_FROM, row.paper_harm
    of: str | None = None
    # What paper bore is no news of an ink, nor is what one ink bore of another; what it took ill may be.
    if row.medium != BARE_PAPER and not row.passes_ink_by:
        if harmed or not any(question.reach):
            of = ""
        elif row.medium in question.reach:
            of = row.medium
    # Where nobody said on what it was, harm may have been to the paper.
    paper = (harmed and row.medium in BARE) or (None if of_paper is None else of_paper >= HARM_FROM)
    return None if of is None and paper is None else Look(place, of, harmed, paper)


def _harms_seen(row: Row, place: int, question: Question) -> Iterator[HarmSeen]:
    """What a spot tells of harm: to its medium if that bears on what is asked about, and to the paper."""
    if row.harm is None:
        return
    harmed, clean = row.harm >= HARM_FROM, row.clean_kinds
    also = clean if harmed else NO_KIND
    if row.medium == BARE_PAPER:
        kinds = row.kinds or (DISSOLVED | SHOWN_BY_PAPER if harmed else NO_KIND)
        yield HarmSeen(place, BARE_PAPER, harmed, kinds, also)
    elif bears_on(question, row):
        # Where nobody said on what it was, any of what is asked about was harmed, and none of it spared.
        unnamed = question.reach if harmed or not any(question.reach) else ()
        media = (row.medium,) if row.medium else unnamed
        yield from (HarmSeen(place, medium, harmed, row.kinds, also) for medium in media)
    if row.medium != BARE_PAPER and row.paper_harm is not None:
        of_paper = row.paper_harm >= HARM_FROM
        # Where the ink alone was harmed, what the paper bore was looked at all the same. Of a lifted strip
        # nobody said what was harmed: of all that paper shows it may have been any.
        kinds = (row.kinds or (SHOWN_BY_PAPER if harmed else NO_KIND)) if of_paper or not harmed else clean
        yield HarmSeen(
            place,
            BARE_PAPER,
            of_paper,
            kinds & SHOWN_BY_PAPER,
            clean & SHOWN_BY_PAPER if of_paper else NO_KIND,
            beside=True,
        )


def harms_here(question: Question, row: Row) -> frozenset[str] | None:
    """Kinds of harm that it did to what is asked about, or to the paper, the same all over the sheet.

    None: it did none; empty: it did harm of which nobody said the kind.
    """
    bears = bears_on(question, row)
    if ((row.harm if bears else row.paper_harm) or 0) < HARM_FROM:
        return None
    return row.kinds if bears else row.kinds - DISSOLVED


def bears_on(question: Question, row: Row) -> bool:
    """Whether what a spot harmed is news of what is asked about: what another ink took ill is none."""
    return not any(question.reach) or row.medium in BARE or row.medium in question.reach


def as_freely(compiled: Compiled, rows: Iterable[Row], method: str) -> list[Row]:
    """Those by which the liquid came at least as freely as by a method: what a gel spares a swab may not."""
    held = _contact(compiled, method) != FREE
    return [row for row in rows if held or _contact(compiled, row.method) == FREE]


def _contact(compiled: Compiled, method: str) -> str:
    return compiled.methods.get(method, FREE)


def _tried(question: Question, row: Row, here: Sequence[Row]) -> bool:
    """Whether a spot leaves nothing to be tried with its liquid in the way that is asked of.

    A clean look on an ink comes before the adhesive, what released beside another ink is yet to be tried
    here, and what a swab did not release a gel may, which leaves it more time.
    """
    if row.release is None:
        return row.harm is None
    if row.release >= RELEASE_FROM:
        return row in here
    return not (row.method in BRIEF and question.method in LONGER)


def _worked(
    spots: Iterable[Row], harmed: Iterable[tuple[Row, frozenset[str]]], as_asked: Container[Row]
) -> dict[str, str]:
    """Liquids that released without harm. A second, clean spot of one way does not undo what that way did.

    ``as_asked``: spots that say as much of the way that is asked of.
    """
    found: dict[str, str] = {}
    ways: dict[str, set[str]] = {}
    for row, kinds in harmed:
        # What dissolves the ink does so in every way: only too much of a liquid is undone by another.
        dissolved = not kinds or kinds & DISSOLVED
        ways.setdefault(row.liquid, set()).add("" if dissolved else row.method)
    for row in spots:
        bad = ways.get(row.liquid, set())
        if row.release is not None and row.release >= RELEASE_FROM and not bad & {"", row.method}:
            # By which way is said where another did harm or did not release, or where one that wets more is
            # asked of, which this says nothing of.
            failed = any(
                one.liquid == row.liquid and one.method != row.method and (one.release or 0) < RELEASE_FROM
                for one in spots
                if one.release is not None
            )
            told = row.method if bad or failed or row not in as_asked else ""
            known = found.get(row.liquid)
            # What was done as it is asked for is told before what was not.
            if not told or known is None or (known and row in as_asked):
                found[row.liquid] = told
    return found
