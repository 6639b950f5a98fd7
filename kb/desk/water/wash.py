"""The washing planner: which washing is possible at all, the gentlest first, with water and time."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.desk.amounts import grams, per_area_g_m2, size_mm
from kb.desk.choose.cautions import CautionView, cautions
from kb.desk.choose.rule import applying, bearing
from kb.desk.materials.measured import Maker, Measured, span_of, value_of
from kb.desk.studio import Studio
from kb.desk.water.readings import stop_rule
from kb.desk.water.wash_reach import within_reach, worst
from kb.desk.water.wash_view import NAMES, InReach, Verdict, WashPlan, WashWay
from kb.model.guidance import Caution
from kb.model.question import Question
from kb.science.sheet.paper import sheet_mass_g

if TYPE_CHECKING:
    from kb.desk.sheet.facts import SheetFacts

DISCLAIMER = (
    "A plan and no permission: washing cannot be undone. Volumes, times and numbers are customary ranges "
    "without a measured source. Try the whole course on a margin or a scrap first."
)
HEADLINES: dict[Verdict, str] = {
    "no": "No bath: something within reach cannot be wetted.",
    "test first": "Test first, no bath.",
    "gentle only": "Only the gentlest ways, and look often.",
    "possible": "Washing is possible; begin with the gentlest way.",
}


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


def plan_known(studio: Studio, asked: Washing) -> WashPlan:
    """As `plan`; what is not said - media, paper, sizes - is what is known of the sheet."""
    from kb.desk.sheet.facts import SheetFacts, sheet_facts

    facts = sheet_facts(studio, asked.sheet) if asked.sheet.strip() else SheetFacts()
    # What is typed now stands over what was known: a sheet may have been trimmed since.
    size = Size(*(said or known for said, known in zip(asked.size, size_of(facts), strict=True)))
    # Both faces: water goes through.
    media = asked.media or facts.all_media
    return plan(studio, asked._replace(media=media, paper=asked.paper or facts.paper, size=size))


def plan(studio: Studio, asked: Washing) -> WashPlan:
    """What may be done with a sheet, by its own tests, the cautions and the handbook.

    Without a test with water on this sheet the answer is to test first. Raises DeskError for ids that are not
    in the catalogue.
    """
    asked = asked._replace(sheet=asked.sheet.strip())
    sheet, media, paper, alkaline, size = asked
    rules = _rules(studio, asked)
    reach = [within_reach(studio, "medium", one, sheet, rules, alkaline=alkaline) for one in media]
    if paper:
        reach.append(within_reach(studio, "paper", paper, sheet, rules, alkaline=alkaline))
    verdict = worst([one.verdict for one in reach])
    # With no medium named nothing is known to be safe, unless something is already forbidden.
    if not media and verdict != "no":
        verdict = "test first"
    make = Maker(studio)
    return WashPlan(
        sheet=sheet,
        verdict=verdict,
        headline=HEADLINES[verdict],
        reach=tuple(reach),
        ways=tuple(_way(make, way, verdict, size) for way in NAMES),
        temperature=(make.guide("wash-temperature-start"), make.guide("wash-temperature-stubborn")),
        least_water=_least_water(make, size),
        cautions=_views(studio, rules),
        stop=stop_rule(studio, sheet),
        notes=_notes(asked),
        disclaimer=DISCLAIMER,
    )


def _rules(studio: Studio, asked: Washing) -> list[Caution]:
    """Cautions on water, and on alkali if that is planned, that bear on this sheet."""
    first, others = next(iter(asked.media), ""), asked.media[1:]
    question = Question(medium=first, also_media=others, paper=asked.paper, method="bath")
    met = bearing(studio.compiled, [question])
    # The alkaline rules are apart: as a liquid, water meets only those about water.
    water = set(applying(studio.compiled, met, {"water": 1.0}))
    return [one for one in met.values() if one in water or (asked.alkaline and "alkaline" in one.when.agents)]


def _views(studio: Studio, rules: list[Caution]) -> tuple[CautionView, ...]:
    wanted = {one.id for one in rules}
    return tuple(one for one in cautions(studio) if one.id in wanted)


def _way(make: Maker, way: str, verdict: Verdict, size: Size) -> WashWay:
    per_change = _water(make, way, size)
    changes = make.guide(f"wash-{way}-changes")
    return WashWay(
        way=way,
        name=NAMES[way],
        verdict=_of_way(way, verdict),
        why=_why(way, verdict),
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


def _why(way: str, verdict: Verdict) -> str:
    if verdict != "gentle only":
        return HEADLINES[verdict]
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


def _in_all(make: Maker, per_change: Measured | None, changes: Measured) -> Measured | None:
    # An open range times anything says nothing.
    if per_change is None or None in {per_change.low, per_change.high, changes.low, changes.high}:
        return None
    low = (per_change.low or 0.0) * (changes.low or 0.0)
    high = (per_change.high or 0.0) * (changes.high or 0.0)
    sources = (*per_change.sources, *changes.sources)
    return make.span(low, high, "l", "water x changes", sources)


def _notes(asked: Washing) -> tuple[str, ...]:
    sheet, media, paper, alkaline, size = asked
    said = []
    if not sheet:
        said.append("No sheet is named, so no test of the book counts: name it.")
    if not media:
        said.append("No medium is named: list every mark on both faces, or bare-paper if there is none.")
    if not paper:
        said.append("The paper is not named: its size and filler are not looked at.")
    if alkaline:
        said.append("A test counts for alkali only if it names the batch of bath that it was made with.")
    if not size.tray_m2:
        said.append("Give the size of the sheet or of the tray for the amounts of water.")
    # Always: what was not written down cannot be compared with the next bath.
    said.append("Write down pH, conductivity, temperature and colour at the start and the end of each bath.")
    return tuple(said)


__all__ = ["InReach", "Size", "WashPlan", "plan"]
