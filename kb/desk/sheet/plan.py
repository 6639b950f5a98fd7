"""One sheet: what was tested, and what is planned for it, with everything that is missing named.

The same as headings and lines: for the screen, the command line and a text file.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from kb.book.kinds.housing import HOUSING
from kb.book.kinds.mend import MEND
from kb.book.kinds.spot_test import RELEASE_WORDS
from kb.book.kinds.toning import TONING
from kb.book.storage import write_new_file
from kb.desk.amounts import grams, humidity, millimetres, per_area_g_m2, size_mm
from kb.desk.errors import DeskError
from kb.desk.materials.names import Names
from kb.desk.records.record import TestSummary, harm_in_words, list_tests
from kb.desk.records.work_records import all_told
from kb.desk.sheet import housing, press, tissue
from kb.desk.sheet.facts import MOST_TESTS, SheetFacts, plain_name, with_tests
from kb.desk.sheet.housing import GapView, HousingAnswer
from kb.desk.sheet.press import PressPlan
from kb.desk.sheet.tissue import TissueAnswer
from kb.desk.signs import Signs
from kb.desk.studio import Studio
from kb.desk.water import wash
from kb.desk.water.readings import ReadingView, StopRule, all_readings
from kb.desk.water.wash import WashPlan, WashWay
from kb.model.question import Plain
from kb.science.numbers import counted

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
    mends: tuple[dict[str, Any], ...]
    """What was done so far, as are the next two: records as `as_told` has them."""
    tonings: tuple[dict[str, Any], ...]
    housings: tuple[dict[str, Any], ...]
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
    mended = tuple(all_told(studio, MEND, name))
    # What no alkali may touch can bear water all the same, and paste with it.
    plain = wash.plan(studio, wash.Washing(name, media, paper, unknown=facts.unknown)) if alkaline else found
    # After a bath that is not to be nothing dries, unless there was one.
    wet = found.verdict != "no" or readings
    return SheetPlan(
        sheet=name,
        media=media,
        paper=paper,
        tests=tuple(tests[:MOST_TESTS]),
        more_tests=len(tests) > MOST_TESTS,
        batches=tuple(_batches(studio, name)),
        readings=readings,
        wash=found,
        tissue=_tissue(studio, facts, dry=plain.verdict == "no"),
        housing=_housing(studio, facts),
        drying=tuple(press.plan(studio, after) for after in (*(("wash",) if wet else ()), "mend")),
        mends=mended,
        tonings=tuple(all_told(studio, TONING, name)),
        housings=tuple(all_told(studio, HOUSING, name)),
        missing=_missing(facts, any(one.state != "withdrawn" for one in tests), bool(mended)),
    )


def _tissue(studio: Studio, facts: SheetFacts, *, dry: bool) -> tissue.TissueAnswer | None:
    if not facts.grammage:
        return None
    wanted: dict[str, Any] = {"grammage_g_m2": per_area_g_m2(facts.grammage), "dry": dry}
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


def _missing(facts: SheetFacts, tested: bool, mended: bool) -> tuple[str, ...]:
    wanted = (
        (tested, "a spot test on this sheet: nothing here was tried on it yet"),
        (bool(facts.all_media), "every medium within reach of water: without them no washing is planned"),
        (bool(facts.paper), "the paper: its size and filler are not looked at"),
        (bool(facts.size), "width and height: for water, gap, hinges"),
        (bool(facts.grammage), "grammage: for the tissue, the mass, the hinges"),
        (bool(facts.thickness), "thickness: for the depth of the rebate and of a mend"),
        (bool(facts.humidity), "the humidity range it will hang in: for the gap"),
        (bool(facts.grain), "direction of the grain: without it the gap is that for either"),
        # A tear that is mended needs no more planning.
        (bool(facts.tear) or mended, "kind of tear: a plain one is taken"),
        (bool(facts.tear_length) or mended or facts.tear == "lifting", "length of the tear: for the strips"),
    )
    return tuple(text for there, text in wanted if not there)


def _batches(studio: Studio, sheet: str) -> list[BatchUsed]:
    """Batches that a record of the sheet names, or that went into one of those."""
    from kb.desk.making.batches import touched

    return [BatchUsed.taken_from(one) for one in touched(studio, sheet)]


# -- as headings and lines -----------------------------------------------------------------------------------


Section = tuple[str, list[str]]
WIDTH = 92
EXPORTS = "exports"
"""Folder of the studio into which plans are written."""
MOST_PLANS = 1000


def sections(studio: Studio, plan: SheetPlan) -> list[Section]:
    names = Names(studio)
    missing = [f"- {one}" for one in plan.missing] or ["Nothing."]
    drying = [line for one in plan.drying for line in drying_lines(one)]
    return [
        ("Missing for a full plan", missing),
        ("Tests so far", list(_tests(names, plan))),
        ("Batches that touched it", list(_batch_lines(plan))),
        ("Washing", wash_lines(plan.wash)),
        ("Readings of its baths", [*reading_lines(plan.readings), stop_line(plan.wash.stop)]),
        ("Repair tissue", [*tissue_lines(plan.tissue), *mended_lines(plan)]),
        ("Drying and pressing", drying),
        ("Housing", [*housing_lines(plan.housing), *housed_lines(plan)]),
    ]


def _tests(names: Names, plan: SheetPlan) -> Iterator[str]:
    if not plan.tests:
        yield "None. Nothing is known of how this sheet answers."
    for one in plan.tests:
        yield f"- {_test(names, one)}"
    if plan.more_tests:
        yield f"- and more than these {len(plan.tests)}"


def _test(names: Names, one: TestSummary) -> str:
    liquid = names.blend(one.liquid)
    release = "not graded" if one.release is None else RELEASE_WORDS[one.release]
    state = "".join(f" [{word}]" for word in ("control" * one.control, one.state) if word)
    medium = names.of("medium", one.medium) if one.medium else "medium not named"
    return f"{one.at[:10]} {liquid} on {medium}: {release}; {harm_in_words(one)}{state}"


def _batch_lines(plan: SheetPlan) -> Iterator[str]:
    for one in plan.batches:
        bad = f" - BAD: {one.bad}" if one.bad else ""
        yield f"- {one.short} {one.name}{bad}"
    if not plan.batches:
        yield "No record of this sheet names one."


def wash_lines(plan: WashPlan) -> list[str]:
    """Whether and how, the gentlest first."""
    lines = [
        plan.headline,
        *(
            f"- {one.kind} {one.name}: {one.verdict.upper()}. {one.why}"
            + f" Handbook, {one.handbook}" * bool(one.handbook)
            for one in plan.reach
        ),
        *(f"- {way.name}: {_way(way)}" for way in plan.ways),
    ]
    lines.append(f"Water: {'; '.join(one.words for one in plan.temperature)}")
    if plan.least_water:
        lines.append(f"At least {plan.least_water.words}")
    lines += [f"{rule.severity.upper()}: {rule.text} {rule.instead}".strip() for rule in plan.cautions]
    return [*lines, *plan.notes, plan.disclaimer]


def _way(way: WashWay) -> str:
    if way.verdict in {"no", "test first"}:
        return way.verdict
    water = f", {way.water_per_change.words} a change" if way.water_per_change else ""
    whole = f", {way.water_in_all.words} in all" if way.water_in_all else ""
    return f"{way.verdict}. {way.why} {way.minutes.words} each, {way.changes.words}{water}{whole}"


def reading_lines(readings: tuple[ReadingView, ...] | list[ReadingView]) -> list[str]:
    """One line each, in the order they were written down."""
    return [f"- {reading_line(one)}" for one in readings] or ["None is written down."]


def reading_line(one: ReadingView) -> str:
    """``bath 1, 10 min: pH 6.8, 320 µS/cm, 18 °C, pale straw``."""
    read = one.reading
    figures = (
        ("" if read.ph is None else f"pH {read.ph:g}"),
        ("" if read.conductivity_us_cm is None else f"{read.conductivity_us_cm:g} µS/cm"),
        ("" if read.temperature_c is None else f"{read.temperature_c:g} °C"),
        read.colour,
        read.method,
        read.water,
        f"batch {read.batch[:10]}" if read.batch else "",
        f"({read.remarks})" if read.remarks else "",
        "[amended]" if one.amended else "",
    )
    after = "" if read.minutes is None else f", {read.minutes:g} min"
    return f"bath {read.bath}{after}: {', '.join(part for part in figures if part)}"


def stop_line(rule: StopRule) -> str:
    """Whether to go on. One reading is too few as well, and is not called none."""
    said = "too few readings" if rule.verdict == "no readings" else rule.verdict
    return f"{said.upper()}: {rule.text}"


def tissue_lines(found: TissueAnswer | None) -> list[str]:
    if found is None:
        return ["Not planned: the grammage of the sheet is missing."]
    lines = [rule.words for rule in found.without_water]
    lines += [f"For the {found.job} look for {found.wanted.words}"] if found.wanted else []
    lines.append(found.advice)
    if found.strips:
        cut = found.strips
        lines.append(
            f"{counted(cut.pieces, 'piece')} of {cut.piece_length.words} x {cut.width.words}; "
            f"tissue to lay in: {cut.area_to_cut.words}"
        )
    lines += [
        f"- {one.name}, {one.grammage.words}: stronger than the sheet: {one.stronger_than_sheet}. "
        f"{one.verdict} {one.note}".rstrip()
        for one in found.tissues
    ]
    if not found.tissues:
        lines.append("No tissue of the catalogue is customary for it.")
    return [*lines, *(rule.words for rule in found.rules)]


def mended_lines(plan: SheetPlan) -> list[str]:
    """Toning tests and mends that were made, in the order they were written down."""
    toned = [line for one in plan.tonings for line in _done(one, (one["verdict"],))]
    mended = [line for one in plan.mends for line in _done(one, ())]
    return [
        *(["Toning tests so far:", *toned] if toned else ()),
        *(["Mends so far:", *mended] if mended else ()),
    ]


def housed_lines(plan: SheetPlan) -> list[str]:
    """How the sheet was put away, and whether its gap is enough."""
    housed = [line for one in plan.housings for line in _done(one, one["gap"])]
    return ["Housed so far:", *housed] if housed else []


def _done(one: dict[str, Any], follows: tuple[str, ...]) -> list[str]:
    """A record of the sheet, what follows from it, and what speaks against it."""
    state = f" [{one['state']}]" if one["state"] else ""
    return [
        f"- {one['at'][:10]} {one['words']}{state}",
        *(f"  {text}" for text in follows),
        *(f"  ! {text}" for text in one["warnings"]),
    ]


def drying_lines(plan: PressPlan) -> list[str]:
    """Steps with their times and fresh blotters."""
    return [
        f"After {plan.after}: {plan.in_all.words}, blotters changed {counted(plan.blotter_changes, 'time')}",
        *(f"  {step.number}. {step.text} {step.minutes.words}" for step in plan.steps),
        f"  {plan.note}",
    ]


def housing_lines(found: HousingAnswer | None) -> list[str]:
    """Gap, hinges, depth, light."""
    if found is None:
        return ["Not planned: it needs width and height, and the range of humidity."]
    hinges, light = found.hinges, found.light
    over = " OVER THE BUDGET OF A YEAR." if light.over_budget else ""
    return [
        f"Humidity: {found.humidity.words}",
        *(_gap(one) for one in found.gaps),
        f"Hinges: {hinges.count.words}, {hinges.width.words} wide; tissue {hinges.tissue.words}",
        f"Depth of the rebate: {found.depth.words}",
        f"Light, {light.taken}: {light.dose.words} of {light.year.words} in a year; "
        f"{light.most_lux.words}.{over}",
        found.disclaimer,
    ]


def _gap(one: GapView) -> str:
    beyond = " MORE THAN IS CUSTOMARY." if one.beyond_custom else ""
    return (
        f"Gap {one.direction}: {one.gap.words}; give at least {one.advised.words} "
        f"(the sheet moves {one.movement.words}).{beyond}"
    )


def as_text(plan: SheetPlan, parts: list[Section], day: str) -> str:
    """The page as plain text, wrapped."""
    lines = textwrap.wrap(f"Plan for sheet {plan.sheet}", WIDTH, subsequent_indent="    ")
    lines += [f"Drawn up {day}. A plan and no permission.", ""]
    signs = Signs()
    for heading, body in parts:
        lines += [heading, "-" * len(heading)]
        for text in map(signs.short, body):
            indent = " " * (len(text) - len(text.lstrip(" -")))
            lines += textwrap.wrap(text, WIDTH, subsequent_indent=indent, drop_whitespace=True) or [""]
        lines.append("")
    return "\n".join([*lines, signs.key] if signs.key else lines)


def save_text(studio: Studio, sheet: str, text: str) -> Path:
    """Write the page into the studio's folder ``exports``. A page that is there is never overwritten."""
    folder, name = studio.root / EXPORTS, plain_name(sheet)
    try:
        studio.make()
        folder.mkdir(exist_ok=True)
        for number in range(1, MOST_PLANS):
            path = folder / f"plan-{name}{'' if number == 1 else f'-{number}'}.txt"
            try:
                write_new_file(path, text)
                return path
            except FileExistsError:
                if path.read_text(encoding="utf-8", errors="replace") == text:
                    return path
    except OSError as error:
        raise DeskError(f"The plan could not be written to {folder} ({error.strerror}).") from error
    raise DeskError(f"There are too many plans of this sheet in {folder}.")
