"""One sheet: what was tested, and what is planned for it, with everything that is missing named."""

from __future__ import annotations

from typing import Any

from kb.desk.amounts import grams, humidity, millimetres, per_area_g_m2, size_mm
from kb.desk.errors import DeskError
from kb.desk.records.record import TestSummary, list_tests
from kb.desk.sheet import housing, press, tissue
from kb.desk.sheet.facts import MOST_TESTS, SheetFacts, with_tests
from kb.desk.sheet.housing import HousedView, housings
from kb.desk.sheet.mends import MendView, TonedView, mends, tonings
from kb.desk.studio import Studio
from kb.desk.water import wash
from kb.desk.water.readings import ReadingView, all_readings
from kb.model.question import Plain

TEARS = tuple(tissue.TEARS)
GRAINS = ("unknown", "width", "height")


class BatchUsed(Plain, frozen=True, kw_only=True):
    """A batch that touched the sheet; ``bad`` says why it must not be used."""

    id: str
    short: str
    name: str
    bad: str


class SheetPlan(Plain, frozen=True, kw_only=True):
    """One sheet on one page. A part that lacks what it needs is None; ``missing`` says what that is."""

    sheet: str
    media: tuple[str, ...]
    paper: str
    tests: tuple[TestSummary, ...]
    more_tests: bool
    batches: tuple[BatchUsed, ...]
    readings: tuple[ReadingView, ...]
    wash: wash.WashPlan
    tissue: tissue.TissueAnswer | None
    housing: housing.HousingAnswer | None
    drying: tuple[press.PressPlan, ...]
    mends: tuple[MendView, ...]
    """What was done so far, as are the next two."""
    tonings: tuple[TonedView, ...]
    housings: tuple[HousedView, ...]
    missing: tuple[str, ...]


def sheet_plan(studio: Studio, sheet: str, facts: SheetFacts, *, alkaline: bool = False) -> SheetPlan:
    """The page of a sheet. Media and paper that no one named are taken from its tests.

    Raises DeskError for an empty name and for figures that cannot be.
    """
    name = sheet.strip()
    if not name:
        raise DeskError("Name the sheet.")
    tests = list_tests(studio, {"sheet": name}, limit=MOST_TESTS + 1)
    facts = with_tests(studio, name, facts)
    media, paper = facts.all_media, facts.paper
    readings = tuple(all_readings(studio, name))
    found = wash.plan(studio, wash.Washing(name, media, paper, alkaline, wash.size_of(facts), facts.unknown))
    mended = tuple(mends(studio, name))
    return SheetPlan(
        sheet=name,
        media=media,
        paper=paper,
        tests=tuple(tests[:MOST_TESTS]),
        more_tests=len(tests) > MOST_TESTS,
        batches=tuple(_batches(studio, name)),
        readings=readings,
        wash=found,
        tissue=_tissue(studio, facts),
        housing=_housing(studio, facts),
        drying=(press.plan(studio, "wash"), press.plan(studio, "mend")),
        mends=mended,
        tonings=tuple(tonings(studio, name)),
        housings=tuple(housings(studio, name)),
        missing=_missing(facts, bool(tests), bool(mended), media, paper),
    )


def _tissue(studio: Studio, facts: SheetFacts) -> tissue.TissueAnswer | None:
    if not facts.grammage:
        return None
    wanted: dict[str, Any] = {"grammage_g_m2": per_area_g_m2(facts.grammage)}
    if facts.thickness:
        wanted["thickness_um"] = 1000.0 * millimetres(facts.thickness)
    if facts.tear:
        wanted["tear"] = _one_of(facts.tear, TEARS, "tear")
    if facts.tear_length and facts.tear != "loss":
        wanted["tear_mm"] = millimetres(facts.tear_length)
    return tissue.propose(studio, tissue.Wanted(**wanted))


def _housing(studio: Studio, facts: SheetFacts) -> housing.HousingAnswer | None:
    if not facts.size or not facts.humidity:
        return None
    width, height = size_mm(facts.size)
    low, high = humidity(facts.humidity)
    wanted: dict[str, Any] = {"width_mm": width, "height_mm": height, "rh_from": low, "rh_to": high}
    if facts.grammage:
        wanted["grammage_g_m2"] = per_area_g_m2(facts.grammage)
    if facts.mass:
        wanted["mass_g"] = grams(facts.mass)
    if facts.thickness:
        wanted["thickness_mm"] = millimetres(facts.thickness)
    if facts.grain:
        wanted["grain"] = _one_of(facts.grain, GRAINS, "grain")
    return housing.house(studio, housing.Framed(**wanted))


def _one_of(text: str, known: tuple[str, ...], what: str) -> str:
    if text not in known:
        raise DeskError(f'"{text}" is no {what}; there are {", ".join(known)}.')
    return text


def _missing(
    facts: SheetFacts, tested: bool, mended: bool, media: tuple[str, ...], paper: str
) -> tuple[str, ...]:
    """What to find out, and what it is wanted for."""
    wanted = (
        (tested, "a spot test on this sheet: nothing here was tried on it yet"),
        (bool(media), "every medium within reach of water: without them no washing is planned"),
        (bool(paper), "the paper: its size and filler are not looked at"),
        (bool(facts.size), "width and height: for water, gap, hinges"),
        (bool(facts.grammage), "grammage: for the tissue, the mass, the hinges"),
        (bool(facts.thickness), "thickness: for the depth of the rebate and of a mend"),
        (bool(facts.humidity), "the humidity range it will hang in: for the gap"),
        (bool(facts.grain), "direction of the grain: without it the gap is that for either"),
        # A tear that is mended needs no more planning.
        (bool(facts.tear) or mended, "kind of tear: a plain one is taken"),
        (bool(facts.tear_length) or mended, "length of the tear: for the strips"),
    )
    return tuple(text for there, text in wanted if not there)


def _batches(studio: Studio, sheet: str) -> list[BatchUsed]:
    """Batches that a record of the sheet names, or that went into one of those."""
    from kb.desk.making.batches import touched

    return [
        BatchUsed(id=one.id, short=one.short, name=one.name, bad=one.bad) for one in touched(studio, sheet)
    ]
