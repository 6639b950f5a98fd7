"""The washing planner: which washing is possible at all, the gentlest first, with water and time.

The answer of the washing planner: plain structures whose JSON form is stable.

What lies within reach of the water, and whether it can be wetted at all.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import msgspec

from kb.desk.amounts import grams, per_area_g_m2, size_mm
from kb.desk.choose.cautions import CautionView, seen
from kb.desk.choose.rule import applying, bearing, meets
from kb.desk.choose.spots import as_freely
from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured, span_of, value_of
from kb.desk.materials.names import Names
from kb.desk.records.record import show_test
from kb.desk.studio import Studio
from kb.desk.water.readings import StopRule, stop_rule
from kb.index.queries import entry, spot_tests
from kb.index.rows import BARE_PAPER, DISSOLVED, HARM_FROM, SHOWN_BY_PAPER
from kb.index.search import find
from kb.model.guidance import Caution
from kb.model.material import AgentSensitivity, Medium, Paper
from kb.model.question import Plain, Question
from kb.science.numbers import counted, dwell_words
from kb.science.sheet.paper import sheet_mass_g

if TYPE_CHECKING:
    from kb.desk.sheet.facts import SheetFacts

Verdict = Literal["possible", "gentle only", "test first", "no"]
NAMES = {
    "blotter": "damp blotters, above and below",
    "float": "float, sheet face up on the water",
    "immersion": "immersion in a tray",
    "suction": "suction table, zone by zone",
}
"""Ways to wash, the gentlest first."""


class WashTest(Plain, frozen=True, kw_only=True):
    """A test that counts for this sheet: with water, or one that did harm with a liquid that holds water."""

    id: str
    at: str
    harm: int | None
    """The worst grade looked at, tidelines apart: the edge of a drop makes them, an even bath does not."""
    kind: str
    """The kind of harm that had the worst grade; empty: none was looked at."""
    tideline: int | None
    longest_dwell_min: float
    looked_at: tuple[str, ...]
    liquid: str
    """What was put on, by name."""
    water_share: float
    """Of it by volume, solutions in water taken whole."""
    medium_named: bool
    """False: nobody said on which medium, so its harm counts for each."""


class InReach(Plain, frozen=True, kw_only=True):
    """A medium or the paper, and what is known of it and water (and alkali, if a bath is planned)."""

    kind: Literal["medium", "paper"]
    id: str
    name: str
    verdict: Verdict
    why: str
    handbook: str
    handbook_sources: tuple[str, ...]
    tests: tuple[WashTest, ...]


class WashWay(Plain, frozen=True, kw_only=True):
    """One way to wash."""

    way: str
    name: str
    verdict: Verdict
    why: str
    water_per_change: Measured | None
    minutes: Measured
    changes: Measured
    water_in_all: Measured | None


class WashPlan(Plain, frozen=True, kw_only=True):
    """Which washing is possible at all, and with how much water and time."""

    sheet: str
    verdict: Verdict
    headline: str
    reach: tuple[InReach, ...]
    ways: tuple[WashWay, ...]
    """The gentlest first."""
    temperature: tuple[Measured, ...]
    least_water: Measured | None
    cautions: tuple[CautionView, ...]
    stop: StopRule
    notes: tuple[str, ...]
    disclaimer: str


# The mildest first, so that the worst is the furthest along.
ORDER: tuple[Verdict, ...] = ("possible", "gentle only", "test first", "no")
MUST_LOOK = {"bleed": frozenset({"bleed"}), "offset": frozenset({"offset"})}
"""What a test with water must have looked at before it says anything about a bath of an ink: any of each."""
MUST_LOOK_OF_PAPER = {"tideline, gloss or surface": SHOWN_BY_PAPER}
UNNAMED_PAPER = "Paper, not named"
WATER = "water"
MOSTLY_WATER = 0.5
"""Share by volume from which the harm of a blend bars a bath; below, its other parts may have done it. This
project's own."""


class Facts(NamedTuple):
    """What a verdict rests on."""

    tests: tuple[WashTest, ...]
    alkaline: tuple[WashTest, ...]
    """Those of them that named the batch of bath that they were made with."""
    must_look: Mapping[str, frozenset[str]] = MUST_LOOK
    held: bool = False
    """Whether water was also put on by a gel or the like and did nothing, which is no news of a bath."""


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The most cautious of several; nothing known means: test first."""
    return max(verdicts, key=ORDER.index) if verdicts else "test first"


def facts(studio: Studio, sheet: str, medium: str = "") -> Facts:
    """Tests with water on this sheet, on one medium or on any, the newest first.

    Harm counts also where no medium was named, and that of a liquid in which water is one part.
    """
    # Without a sheet no test counts: what other sheets showed is in the handbook's word.
    if not sheet:
        return Facts((), ())
    found: list[WashTest] = []
    named: list[WashTest] = []
    names, held = Names(studio), False
    for row in spot_tests(studio.index.conn, {"sheet": sheet}, withdrawn=False):
        plain = row.liquid == WATER and medium in {"", row.medium}
        if not plain and ((row.harm or 0) < HARM_FROM or (medium not in {"", row.medium} and row.medium)):
            continue
        try:
            test = show_test(studio, row.id).test
        except DeskError:
            # A record that cannot be read back says neither yes nor no.
            continue
        share = _water_share(studio, test.parts)
        if not plain and not share:
            continue
        # The longest round and not the sum: it shows whether the medium stands water at a stretch.
        longest = max((one.dwell_s for one in test.rounds), default=0.0) / 60.0
        # What an ink showed is told of that ink: the paper under it did not bleed.
        of_ink = DISSOLVED if not medium and _is_ink(studio, row.medium) else ()
        seen = {
            kind: grade
            for kind, grade in test.harm.items()
            if kind != "tideline" and not (grade and kind in of_ink)
        }
        kind = max(seen, key=seen.__getitem__, default="")
        if not plain and seen.get(kind, 0) < HARM_FROM:
            continue
        # What a gel or vapour left clean is no news of a bath; what it harmed is, and a trace of that.
        free = bool(as_freely(studio.compiled, [row], ""))
        if not (free or seen.get(kind, 0) or test.harm.get("tideline")):
            held = True
            continue
        one = WashTest(
            id=row.id,
            at=row.at,
            harm=seen.get(kind) if free else seen.get(kind) or None,
            kind=kind,
            tideline=test.harm.get("tideline"),
            longest_dwell_min=longest,
            looked_at=tuple(test.harm) if free else (),
            liquid=names.blend(row.liquid),
            water_share=round(share, 4),
            medium_named=bool(row.medium),
        )
        found.append(one)
        named += [one] if test.batch else []
    # Bleeding is no news of paper, as elsewhere.
    must_look = MUST_LOOK if medium and medium != BARE_PAPER else MUST_LOOK_OF_PAPER
    return Facts(tuple(found), tuple(named), must_look, held)


def _is_ink(studio: Studio, medium: str) -> bool:
    return medium != BARE_PAPER and medium in studio.compiled.media


def _shown_by_inks(studio: Studio, sheet: str) -> tuple[str, ...]:
    """Media on which water left at least a trace in tests on the sheet: they lie on it, named or not."""
    tested = dict.fromkeys(
        row.medium for row in spot_tests(studio.index.conn, {"sheet": sheet}, withdrawn=False)
    )
    return tuple(
        medium
        for medium in tested
        if _is_ink(studio, medium)
        and any(one.medium_named and _harm(one) for one in facts(studio, sheet, medium).tests)
    )


def _water_share(studio: Studio, parts: Mapping[str, float]) -> float:
    known = studio.compiled.by_id
    # Solutions in water stand under the same column of the handbook.
    return sum(share for part, share in parts.items() if part in known and known[part].agent == WATER)


def within_reach(
    studio: Studio, kind: Literal["medium", "paper"], entry_id: str, asked: Washing, rules: Sequence[Caution]
) -> InReach:
    """One medium or the paper, whose id may be empty. ``rules`` are the cautions on water or alkali that bear
    on the sheet."""
    grade, name, handbook = None, UNNAMED_PAPER, ""
    if kind == "medium" or entry_id:
        row = entry(studio.index.conn, kind, entry_id)
        if row is None:
            raise DeskError(f'There is no {kind} "{entry_id}" in the catalogue.')
        of: type[Medium | Paper] = Medium if kind == "medium" else Paper
        agent, told = (
            "alkaline" if asked.alkaline else WATER,
            msgspec.json.decode(row.body, type=of).sensitivity,
        )
        grade, name = next((one for one in told if one.agent == agent), None), row.name
        handbook = f"{agent}: {grade.grade}. {grade.text}".strip() if grade else f"{agent}: nothing found"
    about = [one for one in rules if entry_id in (one.when.media if kind == "medium" else one.when.papers)]
    # A test on any medium wetted the paper as well.
    known = facts(studio, asked.sheet, entry_id if kind == "medium" else "")
    verdict, why = _judge(studio, about, grade, known, asked.alkaline)
    return InReach(
        kind=kind,
        id=entry_id,
        name=name,
        verdict=verdict,
        why=why,
        handbook=handbook,
        handbook_sources=grade.sources if grade else (),
        tests=known.tests,
    )


def _judge(
    studio: Studio, rules: Sequence[Caution], grade: AgentSensitivity | None, known: Facts, alkaline: bool
) -> tuple[Verdict, str]:
    """A rule that forbids comes first, then this sheet's own tests, then the handbook."""
    forbidding = next((one for one in rules if one.severity == "stop"), None)
    if forbidding:
        return "no", forbidding.text
    wet = [one for one in known.tests if one.water_share >= MOSTLY_WATER]
    if not wet:
        tried = "Water was tried here by gel or the like alone"
        untried = "Nothing on this sheet was tested with water"
        return "test first", f"{tried if known.held else untried}: test first, no bath."
    # Without a grade of harm nobody looked, and that is not "no harm".
    graded = [one for one in wet if one.harm is not None]
    worst_test = max(graded, key=_harm, default=None)
    if worst_test and _harm(worst_test) >= HARM_FROM:
        return "no", f"{_called(worst_test)}: {worst_test.kind} of grade {worst_test.harm}."
    if text := _too_little(studio, wet, "with water", known.must_look):
        return "test first", text
    if not graded:
        # What inks showed apart, which is told of them: of the paper a tideline is all that is left.
        text = "Of the paper, tests with water looked at the tideline alone: look at gloss and surface too."
        return "test first", text
    # A handbook that calls it stable in alkali is enough; its silence is not.
    if alkaline and (grade is None or grade.grade != "stable"):
        if not known.alkaline:
            text = "Plain water was tested, alkali was not: test with the bath itself, name its batch."
            return "test first", text
        if text := _too_little(studio, known.alkaline, "that names the batch of a bath", known.must_look):
            return "test first", text
    if worst_test and worst_test.harm == 1:
        return "gentle only", f"{_called(worst_test)} left a trace: {worst_test.kind}."
    if mixed := max((one for one in known.tests if one not in wet), key=_harm, default=None):
        text = f"{_called(mixed)}: {mixed.kind} of grade {mixed.harm}; with water alone no harm was seen."
        return "gentle only", text
    if grade is not None and grade.grade == "usually bleeds":
        text = "The handbook says that it usually gives way; tests on this sheet show no harm. They disagree."
        # Where handbook and sheet disagree, neither is simply believed.
        return "gentle only", text
    if any(one.tideline for one in known.tests):
        text = "Tests with water show a tideline and no other harm: wet the whole sheet at once and evenly."
        return "possible", text
    return "possible", f"{counted(len(graded), 'test')} with water on this sheet: no harm seen."


def _harm(test: WashTest) -> int:
    return test.harm or 0


def _called(test: WashTest) -> str:
    # By its day: nobody knows its id, and the sheet is the one that is planned for.
    said = f"Test of {test.at[:10]} with {test.liquid[:1].lower()}{test.liquid[1:]}"
    return said if test.medium_named else f"{said}, no medium named"


def _too_little(
    studio: Studio, tests: Sequence[WashTest], which: str, must_look: Mapping[str, frozenset[str]]
) -> str:
    """Why these do not yet answer for a bath; empty if they do. Each kind of harm asks for its own dwell."""
    # Whoever looked at the gloss alone after a quarter of an hour did not see whether the ink stood it.
    longest = {
        kind: [one.longest_dwell_min for one in tests if not any_of.isdisjoint(one.looked_at)]
        for kind, any_of in must_look.items()
    }
    missing = [kind for kind, dwells in longest.items() if not dwells]
    if missing:
        return f"No test {which} looked for {' or '.join(missing)}; unseen is not unharmed."
    least = value_of(studio, "wash-test-dwell")
    kind = min(longest, key=lambda one: max(longest[one]))
    longest_min = max(longest[kind])
    if longest_min >= least:
        return ""
    # In whole seconds again, of which the minutes were made.
    found_s, least_s = (round(60.0 * minutes, 3) for minutes in (longest_min, least))
    took = f"The longest test {which} that looked for {kind} took {dwell_words(found_s)}"
    took = took if found_s else f"No test {which} that looked for {kind} says how long it took"
    return f"{took}; a bath asks for at least {dwell_words(least_s)}."


DISCLAIMER = (
    "A plan and no permission: washing cannot be undone. Volumes, times and numbers are customary ranges "
    "without a measured source. Try the whole course on a margin or a scrap first."
)
HEADLINES: dict[Verdict, str] = {
    "no": "No bath: {} cannot be wetted.",
    "test first": "Test first, no bath.",
    "gentle only": "Only the gentlest ways, and look often.",
    "possible": "Washing is possible; begin with the gentlest way.",
}


_MORE = re.compile(r" \([^)]*\)|, .*| with .*")
MOST_NAMED = 3
"""What cannot be wetted is named in the headline up to so many."""


class Size(NamedTuple):
    """Sheet and tray. Zero: not known."""

    width_mm: float = 0.0
    height_mm: float = 0.0
    grammage_g_m2: float = 0.0
    dry_g: float = 0.0
    tray_w_mm: float = 0.0
    tray_h_mm: float = 0.0
    blotter_g_m2: float = 0.0

    @property
    def mass_g(self) -> float:
        """Dry mass, weighed or worked out; zero if neither can be."""
        # A weighed mass is surer than one worked out; without a size nothing can be worked out.
        if self.dry_g or not (self.width_mm and self.height_mm and self.grammage_g_m2):
            return self.dry_g
        return sheet_mass_g(self.width_mm, self.height_mm, self.grammage_g_m2)

    @property
    def tray_m2(self) -> float:
        """Area of the tray, or of the sheet where no tray is named."""
        if self.tray_w_mm and self.tray_h_mm:
            return self.tray_w_mm * self.tray_h_mm * 1e-6
        return self.width_mm * self.height_mm * 1e-6


def size_of(facts: SheetFacts) -> Size:
    """The sheet as it is known. Raises DeskError for words that are no amount."""
    width, height = size_mm(facts.size) if facts.size else (0.0, 0.0)
    return Size(
        width_mm=width,
        height_mm=height,
        grammage_g_m2=per_area_g_m2(facts.grammage) if facts.grammage else 0.0,
        dry_g=grams(facts.mass) if facts.mass else 0.0,
    )


class Washing(NamedTuple):
    """What is to be washed: ``media`` are ids of every medium within reach of the water, on both faces."""

    sheet: str
    media: tuple[str, ...] = ()
    paper: str = ""
    alkaline: bool = False
    size: Size = Size()
    unknown: tuple[str, ...] = ()
    """Media as typed of which the catalogue knows nothing."""


def plan_known(studio: Studio, asked: Washing) -> WashPlan:
    """As `plan`; what is not said - media, paper, sizes - is what is known of the sheet."""
    from kb.desk.sheet.facts import SheetFacts, sheet_facts

    facts = sheet_facts(studio, asked.sheet) if asked.sheet.strip() else SheetFacts()
    # What is typed now stands over what was known: a sheet may have been trimmed since.
    size = Size(*(said or known for said, known in zip(asked.size, size_of(facts), strict=True)))
    # Both faces: water goes through.
    media = tuple(dict.fromkeys((*asked.media, *facts.all_media)))
    return plan(
        studio,
        asked._replace(media=media, paper=asked.paper or facts.paper, size=size, unknown=facts.unknown),
    )


def _unknown(studio: Studio, word: str) -> InReach:
    """A medium whose rules nobody can apply; one that is only misspelt is named."""
    near = find(studio.index.conn, word, ("medium",), 1)
    return InReach(
        kind="medium",
        id="",
        name=word,
        verdict="test first",
        why="The catalogue has no medium of that name: nothing is known of it and water."
        + "".join(f" Near in spelling: {one.name}; amend the sheet if it is meant." for one in near),
        handbook="",
        handbook_sources=(),
        tests=(),
    )


def plan(studio: Studio, asked: Washing) -> WashPlan:
    """What may be done with a sheet, by its own tests, the cautions and the handbook.

    Without a test with water on this sheet the answer is to test first. Raises DeskError for ids that are not
    in the catalogue.
    """
    asked = asked._replace(sheet=asked.sheet.strip())
    if asked.sheet:
        # The paper lies under all that is on it, and answers for what the question does not name.
        shown = _shown_by_inks(studio, asked.sheet)
        asked = asked._replace(media=tuple(dict.fromkeys((*asked.media, *shown))))
    sheet, media, paper, _, size, unknown = asked
    rules = _rules(studio, asked)
    reach = [within_reach(studio, "medium", one, asked, rules) for one in media]
    reach += [_unknown(studio, word) for word in unknown]
    # Named or not: every sheet has one, and it is wetted whatever lies on it.
    reach.append(within_reach(studio, "paper", paper, asked, rules))
    verdict = worst([one.verdict for one in reach])
    # With no medium named nothing is known to be safe, unless something is already forbidden.
    if not media and verdict != "no":
        verdict = "test first"
    headline = HEADLINES[verdict].format(_barred(reach))
    make = Maker(studio)
    return WashPlan(
        sheet=sheet,
        verdict=verdict,
        headline=headline,
        reach=tuple(reach),
        ways=tuple(_way(make, way, verdict, headline, size) for way in NAMES),
        temperature=(make.guide("wash-temperature-start"), make.guide("wash-temperature-stubborn")),
        least_water=_least_water(make, size),
        cautions=tuple(seen(studio, rules)),
        stop=stop_rule(studio, sheet),
        notes=_notes(asked),
        disclaimer=DISCLAIMER,
    )


def _barred(reach: Sequence[InReach]) -> str:
    """What within reach takes no water: the answer is read before the list, and often alone."""
    # Of a name what stands before its particulars: the list below has it whole.
    names = list(dict.fromkeys(_MORE.sub("", one.name) for one in reach if one.verdict == "no"))
    more = len(names) - MOST_NAMED
    return ", ".join([*names[:MOST_NAMED], *([f"and {more} more"] if more > 0 else [])])


def _rules(studio: Studio, asked: Washing) -> list[Caution]:
    """Cautions on water, and on alkali if that is planned, that bear on this sheet."""
    first, others = next(iter(asked.media), ""), asked.media[1:]
    question = Question(medium=first, also_media=others, paper=asked.paper, method="bath")
    met = bearing(studio.compiled, [(1.0, question)])
    # The alkaline rules are apart: as a liquid, water meets only those about water.
    water = set(applying(met, meets(studio.compiled, {"water": 1.0})))
    return [one for one in met.values() if one in water or (asked.alkaline and "alkaline" in one.when.agents)]


def _way(make: Maker, way: str, verdict: Verdict, headline: str, size: Size) -> WashWay:
    per_change = _water(make, way, size)
    changes = make.guide(f"wash-{way}-changes")
    return WashWay(
        way=way,
        name=NAMES[way],
        verdict=_of_way(way, verdict),
        why=_why(way) if verdict == "gentle only" else headline,
        water_per_change=per_change,
        minutes=make.guide(f"wash-{way}-minutes"),
        changes=changes,
        water_in_all=_in_all(make, per_change, changes),
    )


def _of_way(way: str, verdict: Verdict) -> Verdict:
    # The verdict of the sheet holds for every way, but for "gentle only", which parts them.
    if verdict != "gentle only":
        return verdict
    # Blotter and suction bring little water and lead it away.
    return "possible" if way in {"blotter", "suction"} else "no"


def _why(way: str) -> str:
    if way == "blotter":
        return "Little water and none that flows; lift a corner and look at the blotter often."
    if way == "suction":
        return "What moves is drawn straight down; zone by zone, away from what left a trace."
    return "Too much free water for what left a trace."


def _water(make: Maker, way: str, size: Size) -> Measured | None:
    """Litres for one change; None where nothing says how much."""
    if way in {"float", "immersion"} and size.tray_m2:
        depth = span_of(make.studio, f"wash-{way}-depth")
        # Floating needs no depth by mass: the sheet lies on top.
        least = _least_l(make, size) if way == "immersion" else 0.0
        low, high = (max(size.tray_m2 * end, least) for end in (depth.low, depth.high))
        note = "of the tray" if size.tray_w_mm else "of the sheet's own area; the tray is larger"
        return make.span(low, high, "l", "area x depth", (depth.source,), note)
    if way == "blotter" and size.blotter_g_m2 and size.width_mm and size.height_mm:
        pickup = span_of(make.studio, "wash-blotter-pickup")
        # Two blotters, one on each face.
        mass_kg = 2.0 * sheet_mass_g(size.width_mm, size.height_mm, size.blotter_g_m2) / 1000.0
        low, high = mass_kg * pickup.low, mass_kg * pickup.high
        return make.span(low, high, "l", "two blotters x pickup", (pickup.source,), "one above, one below")
    return None


def _least_l(make: Maker, size: Size) -> float:
    return value_of(make.studio, "wash-water-per-gram") * size.mass_g / 1000.0


def _least_water(make: Maker, size: Size) -> Measured | None:
    if not size.mass_g:
        return None
    per_gram, depth = make.guide("wash-water-per-gram"), span_of(make.studio, "wash-immersion-depth")
    by_depth = size.tray_m2 * depth.low
    # By mass alone a large thin sheet would lie in a film of a millimetre.
    if by_depth <= _least_l(make, size):
        return make.one(_least_l(make, size), "l", "mass x least water", per_gram.sources, "for each bath")
    over = "tray" if size.tray_w_mm else "sheet; a larger tray takes more"
    return make.one(by_depth, "l", "area x depth", (depth.source,), f"for each bath, to cover the {over}")


def _times(water: float | None, changes: float | None) -> float | None:
    """An open end times anything says nothing, and is not nought."""
    return None if water is None or changes is None else water * changes


def _in_all(make: Maker, per_change: Measured | None, changes: Measured) -> Measured | None:
    if per_change is None:
        return None
    low, high = _times(per_change.low, changes.low), _times(per_change.high, changes.high)
    if low is None or high is None:
        return None
    return make.span(low, high, "l", "water x changes", (*per_change.sources, *changes.sources))


def _notes(asked: Washing) -> tuple[str, ...]:
    sheet, media, paper, alkaline, size, _ = asked
    said = []
    if not sheet:
        said.append("No sheet is named, so no test of the book counts: name it.")
    if not media:
        said.append("No medium is named: list every mark on both faces, or say that the paper is bare.")
    if not paper:
        said.append("The paper is not named: its size and filler are not looked at.")
    if alkaline:
        said.append("A test counts for alkali only if it names the batch of bath that it was made with.")
    if not size.tray_m2:
        said.append("Give the size of the sheet or of the tray for the amounts of water.")
    # Always: what was not written down cannot be compared with the next bath.
    said.append("Write down pH, conductivity, temperature and colour at the start and the end of each bath.")
    return tuple(said)
