"""The tape of one sheet: its patches, what was done with each, and which comes next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from kb.book.kinds.parts import corners, outline_text
from kb.book.kinds.patch import NO_COLOUR, NOTHING_SEEN, PatchDone, PatchState, Strip, bears_colour
from kb.book.kinds.sheet import Sheet
from kb.book.kinds.spot_test import HARM_WORDS, harm_words
from kb.desk.amounts import litres, size_mm
from kb.desk.choose.may_be import components, from_sheet
from kb.desk.choose.rule import applying, bearing, meets
from kb.desk.errors import DeskError, Unclear, in_a_sentence
from kb.desk.materials.names import Names
from kb.desk.materials.resolve import parts
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import Written, photo, write
from kb.desk.records.typed_fields import changes_from_words
from kb.desk.sheet.facts import sheet_facts
from kb.desk.sheet.names import sheet_named, sheet_record
from kb.desk.sheet.plan_file import Planned, warnings
from kb.desk.sheet.sheets import record_from_words
from kb.desk.shelf.shelf import apart, forbidden
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.index.rows import harms_of
from kb.model.question import Plain, Question
from kb.science.liquids.blends import blend_id
from kb.science.sheet.cutting import FACES, Area, Patch, cut
from kb.science.sheet.patch_plan import Freed, Left, Metrics, Worked, left, plan
from kb.science.sheet.polygons import Outline

SAME = 0.5
"""A patch of the plan is one that was worked on if they share more than this part of the smaller."""
LETTERS = {"todo": "", "now": "N", "done": "D", "look": "L", "partly": "P", "skipped": "X", "stopped": "S"}
"""Each state of a patch by a letter, so that it does not hang on colour."""
ALL_THE_SAME = "Nothing was begun. If it is to be done all the same, say why (all the same)."


class PatchView(Planned, frozen=True, kw_only=True):
    """One patch of a sheet: where, in what state, and the record of it if it was begun."""

    state: str
    """todo, now, done, look, partly, skipped or stopped."""
    record: str
    done: PatchDone | None


class TapeView(Plain, frozen=True, kw_only=True):
    """All patches of a sheet, in the order of the plan for those that are left."""

    sheet: str
    patches: tuple[PatchView, ...]
    """What was begun in the order it was, then what is left in the order of the plan."""
    next: str
    """Id of the patch to lift now; empty while a decision is due, or when all is done."""
    decide: str
    """Why nothing is next: which patch, and what was seen."""
    done: int
    freed_front_mm2: float
    freed_back_mm2: float
    metrics: dict[str, float | int | None]
    minutes_left: float
    ml_left: float
    swabs_left: float
    own_rates: tuple[str, ...]
    warnings: tuple[str, ...]


class _Begun(NamedTuple):
    row: KeptRow
    patch: PatchDone
    outline: Outline


def strips(studio: Studio, name: str) -> list[KeptRow]:
    """Strips and weak zones of a sheet, the oldest first."""
    return kept(studio.index.conn, "strip", name)


def add_strip(studio: Studio, words: Mapping[str, Any]) -> Written:
    """Write down a strip or weak zone. ``at`` and ``size`` make a rectangle where no outline is given.

    Raises DeskError for one that crosses itself or lies outside its sheet.
    """
    given = dict(words)
    name = sheet_named(studio, str(given.get("sheet") or ""), to_write=True)
    place, size = (str(given.pop(key, "") or "").strip() for key in ("at", "size"))
    if place or size:
        from kb.science.sheet.polygons import rectangle

        x, y = size_mm(place.replace(",", " x ") if "x" not in place else place) if place else (0.0, 0.0)
        width, height = size_mm(size)
        with in_a_sentence("Nothing was recorded."):
            given["outline"] = outline_text(rectangle(x, y, width, height))
    strip: Strip = record_from_words(studio, "strip", {**given, "sheet": name})
    _cut(_sized(studio, name)[0], [*(row.body for row in strips(studio, name)), strip])
    return write(studio, "strip", strip)


def tape_view(studio: Studio, typed: str) -> TapeView:
    """The patches of a sheet as things stand. Raises DeskError if it has no size or no tape on record."""
    name = sheet_named(studio, typed)
    sheet, size_from = _sized(studio, name)
    found = [row.body for row in strips(studio, name)]
    if not any(not strip.weak for strip in found):
        raise DeskError(f'No tape is written down for "{name}". Add it: benchleaf strip add "{name}" ...')
    begun = _begun(studio, name)
    pieces = _cut(sheet, found)
    freed = _freed(begun, float(sheet.width_mm or 0.0))
    own = {piece.id: _of(piece, begun) for piece in pieces}
    planned = plan([rest for piece in pieces if (rest := _rest(piece, own[piece.id]))], freed=freed)
    again = {item.row.id for piece in planned.order if (item := own[piece.id])}
    partner = planned.pairs | {back: front for front, back in planned.pairs.items()}
    decide = _decide(begun)
    running = next((item for item in begun if item.patch.progress == "running"), None)
    nearest = running.patch.patch if running else planned.order[0].id if planned.order else ""
    weak = {item.row.id: piece.weak for piece in pieces if (item := own[piece.id])}
    views = [
        _begun_view(item, weak=weak.get(item.row.id, False)) for item in begun if item.row.id not in again
    ] + [
        _planned_view(piece, partner.get(piece.id, ""), own[piece.id], now=piece.id == nearest and not decide)
        for piece in planned.order
    ]
    ahead = left(planned.order, planned.metrics.turns, [_worked(item.patch) for item in begun])
    return TapeView(
        sheet=name,
        patches=tuple(views),
        next="" if decide else nearest,
        decide=decide,
        done=sum(item.patch.progress == "done" for item in begun),
        freed_front_mm2=round(freed.front_mm2, 1),
        freed_back_mm2=round(freed.back_mm2, 1),
        metrics=planned.metrics._asdict(),
        minutes_left=round(ahead.minutes, 1),
        ml_left=round(ahead.ml, 1),
        swabs_left=round(ahead.swabs),
        own_rates=ahead.own,
        warnings=(*size_from, *_warnings(planned.metrics, planned.order, ahead)),
    )


def start(studio: Studio, typed: str, words: Mapping[str, Any]) -> Written:
    """Begin a patch: the next, or the one named in ``patch``. Raises DeskError while a decision is due."""
    view = tape_view(studio, sheet_named(studio, typed, to_write=True))
    wanted = str(words.get("patch") or "").strip().upper() or view.next
    if view.decide:
        raise DeskError(view.decide)
    running = next((patch for patch in view.patches if patch.done and patch.done.progress == "running"), None)
    if running is not None:
        raise DeskError(f"Patch {running.id} is under way; finish, stop or skip it first.")
    return _record(studio, view, wanted, words, progress="running", started_at=_now())


def done(studio: Studio, typed: str, words: Mapping[str, Any]) -> Written:
    """Write down how the patch under way, or the one named, went. Its own fields are typed by name."""
    view = tape_view(studio, sheet_named(studio, typed, to_write=True))
    running = [patch.id for patch in view.patches if patch.done and patch.done.progress == "running"]
    wanted = str(words.get("patch") or "").strip().upper() or (running[0] if running else view.next)
    share = str(words.get("share_percent") or "").strip().removesuffix("%").strip()
    progress = str(words.get("progress") or "").strip() or _progress(share, str(words.get("release") or ""))
    return _record(
        studio, view, wanted, {**words, "share_percent": share}, progress=progress, ended_at=_now()
    )


def _progress(share: str, release: str) -> PatchState:
    """Where nobody says it: a patch of which nothing came off is not lifted, and comes again."""
    if share not in {"", "0"}:
        return "done" if share == "100" else "partly"
    return "stopped" if share or release.strip() == "0" else "done"


def skip(studio: Studio, typed: str, words: Mapping[str, Any]) -> Written:
    """Leave out the next patch, or the one named, and say why."""
    if not str(words.get("why") or "").strip():
        raise DeskError("Say why the patch is left out.")
    view = tape_view(studio, sheet_named(studio, typed, to_write=True))
    wanted = str(words.get("patch") or "").strip().upper() or view.next
    return _record(studio, view, wanted, words, progress="skipped", ended_at=_now())


def decide(studio: Studio, typed: str, decision: str) -> Written:
    """Write down what was decided about the patch that stopped the plan; the plan then goes on."""
    if not decision.strip():
        raise DeskError("Say what was decided, and by whom.")
    name = sheet_named(studio, typed, to_write=True)
    due = next((item for item in _begun(studio, name) if _due(item.patch)), None)
    if due is None:
        raise DeskError(f'No patch of "{name}" waits for a decision.')
    return amend_record(studio, due.row.id, {"decision": decision.strip()}, "decision taken")


def _record(studio: Studio, view: TapeView, wanted: str, words: Mapping[str, Any], **fixed: str) -> Written:
    """The patch as a new record, or its record amended."""
    patch = next((patch for patch in view.patches if patch.id == wanted), None)
    if patch is None:
        known = ", ".join(patch.id for patch in view.patches[:12])
        raise DeskError(
            f'There is no patch "{wanted}" to work on; the plan has {known} ...'
            if wanted
            else f'No patch of "{view.sheet}" is left to lift.'
        )
    given = {
        key.replace("-", "_"): str(value)
        for key, value in words.items()
        if key not in {"patch", "sheet", "photo"} and value is not None and str(value).strip()
    }
    given |= fixed
    why = given.pop("all_the_same", "")
    # What was done is written down as it was done; what is begun is asked about.
    if "liquid" in given and fixed["progress"] == "running":
        given |= _begun_with(studio, view.sheet, given, why)
    elif "liquid" in given:
        from kb.desk.records.work_records import known_or_words

        given["liquid"] = known_or_words(studio, ("liquid",), given["liquid"])
    if given.get("colour", "").strip(" .").lower() in NOTHING_SEEN:
        given["colour"] = NO_COLOUR
    elif given.get("colour") and not any(sign.isalpha() for sign in given["colour"]):
        # A grade that was typed one line too early would stop the plan, and stand as seen on the swab.
        raise DeskError(
            f'"{given["colour"].strip()}" is no colour: write none, or what is on the swab, such as yellow. '
            "A grade of release goes into its own line."
        )
    if "volume" in given:
        given["volume_ml"] = f"{1000 * litres(given.pop('volume')):g}"
    if patch.record:
        changes = changes_from_words(studio, "patch", [f"{key}={value}" for key, value in given.items()])
        if pictures := [photo(Path(path), "after") for path in words.get("photo") or ()]:
            earlier = patch.done.photos if patch.done else ()
            changes["photos"] = msgspec.to_builtins((*earlier, *pictures))
        return amend_record(studio, patch.record, changes, f"patch {fixed['progress']}")
    base = {
        "sheet": view.sheet,
        "patch": patch.id,
        "face": patch.face,
        "outline": outline_text(patch.polygon),
        "area_mm2": f"{patch.area_mm2:.1f}",
    }
    body: PatchDone = record_from_words(studio, "patch", {**base, **given, "photo": words.get("photo") or ()})
    return write(studio, "patch", body)


def _begun_with(studio: Studio, sheet: str, given: Mapping[str, str], why: str) -> dict[str, str]:
    """Liquid, method and remarks as the record holds them. A word that names no liquid is asked back.

    Raises DeskError where the studio forbids it, a caution on this sheet is a stop or a test on it did harm,
    unless ``why`` says why it is begun all the same: whoever lifts a patch no longer looks at the list that
    left it out. What it was begun against then stands in the record.
    """
    from kb.desk.records.work_records import known_or_words

    meant = _parts(studio, given["liquid"])
    method = known_or_words(studio, ("method",), given.get("method", ""))
    against = speaks_against(studio, sheet, meant, method)
    if against and not why:
        raise DeskError(" ".join([*against.values(), ALL_THE_SAME]))
    said = f"Begun against {', '.join(against)}: {why}." if against else why
    remarks = " ".join(filter(None, (said, given.get("remarks", ""))))
    return {"liquid": blend_id(meant), "method": method, "remarks": remarks}


def speaks_against(
    studio: Studio, sheet: str, meant: Mapping[str, float], method: str = ""
) -> dict[str, str]:
    """Sentences by what they rest on: the studio's own prohibition, what must not meet, each stop for this
    sheet and its tape, what did harm on the sheet and bars it.

    ``method`` is an id.
    """
    own, pair = forbidden(studio.compiled, meant), apart(studio.compiled, meant)
    facts = sheet_facts(studio, sheet)
    first, *others = facts.all_media or ("",)
    asked = Question(
        medium=first, also_media=tuple(others), paper=facts.paper, method=method or "swab", sheet=sheet
    )
    met = bearing(studio.compiled, _of_its_tapes(studio, asked))
    stops = [one for one in applying(met, meets(studio.compiled, meant)) if one.severity == "stop"]
    found = {"the rule of this studio": f"This studio forbids it: {'; '.join(own)}."} if own else {}
    found |= {"what must not meet": f"STOP: {pair}."} if pair else {}
    found |= {f"caution {one.id}": f"STOP: {one.text}" for one in stops}
    found |= dict(_harmed_here(studio, sheet, meant, asked.method))
    return found | {
        f'an unknown medium "{word}"': f'The catalogue has no medium "{word}": what it stands is not known '
        "here; test first."
        for word in facts.unknown
    }


def _harmed_here(
    studio: Studio, sheet: str, meant: Mapping[str, float], method: str
) -> Iterator[tuple[str, str]]:
    """What did harm on the sheet and bars what is meant, by what names it: spots, and patches lifted before.

    The list of what to test next bars by the same rule: what was clean here speaks there and here alike.
    """
    from kb.desk.choose.after import harm_against

    names, liquid = Names(studio), blend_id(meant)
    (against,) = harm_against(studio, Question(sheet=sheet, method=method), [meant])
    for row in against:
        seen = ", ".join(
            f"{kind} {harm_words(kind)[harms_of(row.harms)[kind]]}" for kind in sorted(row.kinds)
        )
        on = f" on {names.of('medium', row.medium)}" if row.medium else ""
        by = names.of("method", row.method).lower() or "no method named"
        what = names.blend(row.liquid)
        said = f"On this sheet {what} ({by}) did harm{on}: {seen or HARM_WORDS[row.harm or 0]}."
        if row.liquid != liquid and row.liquid not in meant:
            said += f" {names.blend(liquid)} is like it, a part of it or harsher."
        # A strip that was lifted has the days of its patches.
        yield (f"the test of {what} on {row.at[:10]}" if row.at else f"patches lifted with {what}"), said


def _of_its_tapes(studio: Studio, asked: Question) -> list[tuple[float, Question]]:
    """The question for each tape that a strip of the sheet names; for all it may be, where one names none."""
    tapes = studio.compiled.tapes
    named = {(strip.tape, strip.stage) for row in strips(studio, asked.sheet) if not (strip := row.body).weak}
    found = []
    for tape, stage in sorted(named):
        if tape in tapes:
            _, adhesive, carrier = tapes[tape]
            known = {"tape": tape, "adhesive": adhesive, "carrier": carrier, "stage": stage}
            found.append((1.0, msgspec.structs.replace(asked, **known)))
    if len(found) == len(named) and found:
        return found
    return [*found, *((one.weight, one.question) for one in components(studio, from_sheet(studio, asked)))]


def _parts(studio: Studio, typed: str) -> dict[str, float]:
    try:
        return parts(studio, liquid=typed)
    except Unclear as unclear:
        if not any(letter.isdigit() or letter in ",;+" for letter in typed):
            raise
        try:
            return parts(studio, blend=typed)
        except Unclear:
            raise
        except DeskError:
            raise unclear from None


def _now() -> str:
    return datetime.now(UTC).astimezone().isoformat(timespec="seconds")


def _sized(studio: Studio, name: str) -> tuple[Sheet, tuple[str, ...]]:
    """The sheet with the size that any of its records states, and whence it is if not from its own."""
    sheet = sheet_record(studio, name)
    if sheet.width_mm is not None and sheet.height_mm is not None:
        return sheet, ()
    size = sheet_facts(studio, name).size
    if not size:
        return sheet, ()
    width, height = size_mm(size)
    said = f"Size {size}: from how it was put away; the sheet's own record does not state it."
    return msgspec.structs.replace(sheet, width_mm=width, height_mm=height), (said,)


def _cut(sheet: Sheet, found: Sequence[Strip]) -> tuple[Patch, ...]:
    if sheet.width_mm is None or sheet.height_mm is None:
        raise DeskError(
            f'The size of "{sheet.sheet}" is not written down, so its tape has no place. Say it: '
            f'benchleaf sheet amend "{sheet.sheet}" --size "410 x 560 mm"'
        )
    tape = [Area(strip.face, corners(strip.outline)) for strip in found if not strip.weak]
    weak = [Area(strip.face, corners(strip.outline), strip.weak.lower()) for strip in found if strip.weak]
    with in_a_sentence():
        return cut(tape, weak, sheet.width_mm, sheet.height_mm)


def _begun(studio: Studio, name: str) -> list[_Begun]:
    return [
        _Begun(row, row.body, corners(row.body.outline)) for row in kept(studio.index.conn, "patch", name)
    ]


def _of(piece: Patch, begun: Sequence[_Begun]) -> _Begun | None:
    """The record of a piece. Places decide, not numbers: a strip added later may renumber the plan."""
    from kb.science.sheet.polygons import shape

    area = None
    for item in begun:
        if item.patch.face != piece.face:
            continue
        if item.outline == piece.outline:
            return item
        area = area or shape(piece.outline)
        # One that was corrected by hand may cross itself: then it is the outline of no piece.
        with suppress(ValueError):
            other = shape(item.outline)
            if area.intersection(other).area > SAME * min(area.area, other.area):
                return item
    return None


def _freed(begun: Sequence[_Begun], width_mm: float) -> Freed:
    areas: dict[str, float] = dict.fromkeys(FACES, 0.0)
    last: _Begun | None = None
    for item in begun:
        share = {
            "done": 100.0,
            "partly": item.patch.share_percent or 0.0,
            "stopped": item.patch.share_percent or 0.0,
        }.get(item.patch.progress, 0.0)
        areas[item.patch.face] += (item.patch.area_mm2 or 0.0) * share / 100.0
        last = item if item.patch.progress != "skipped" else last
    if last is None:
        return Freed()
    x = sum(corner[0] for corner in last.outline) / len(last.outline)
    y = sum(corner[1] for corner in last.outline) / len(last.outline)
    at = (x if last.patch.face == "front" else width_mm - x, y)
    return Freed(areas["front"], areas["back"], at, last.patch.face)


def _due(patch: PatchDone) -> bool:
    """Whether the patch stops the plan: colour on the swab, or a possible change, and nothing decided."""
    return (bears_colour(patch) or patch.ink == "possible-change") and not patch.decision


def _decide(begun: Sequence[_Begun]) -> str:
    for item in begun:
        if _due(item.patch):
            seen = (
                f"colour on the swab ({item.patch.colour})"
                if bears_colour(item.patch)
                else "a possible change of ink between the photographs"
            )
            return (
                f"Patch {item.patch.patch} showed {seen}: the plan stops until it is decided how to go on. "
                f'Write it down: benchleaf patch decide "{item.patch.sheet}" --decision "..."'
            )
    return ""


def _state(patch: PatchDone) -> str:
    return "look" if _due(patch) else "now" if patch.progress == "running" else patch.progress


def _rest(piece: Patch, item: _Begun | None) -> Patch | None:
    """What is left to lift of a piece; None if nothing is."""
    if item is None:
        return piece
    share = item.patch.share_percent or 0.0
    again = item.patch.progress in {"partly", "stopped"} and share < 100.0
    # Under its own number, which a later strip may have moved on.
    return piece._replace(id=item.patch.patch, area_mm2=piece.area_mm2 * (1 - share / 100)) if again else None


def _begun_view(item: _Begun, *, weak: bool) -> PatchView:
    return PatchView(
        id=item.patch.patch,
        face=item.patch.face,
        polygon=item.outline,
        area_mm2=item.patch.area_mm2 or 0.0,
        weak=weak,
        partner="",
        state=_state(item.patch),
        record=item.row.id,
        done=item.patch,
    )


def _planned_view(piece: Patch, partner: str, item: _Begun | None, *, now: bool) -> PatchView:
    return PatchView.taken_from(
        piece,
        polygon=piece.outline,
        area_mm2=round(piece.area_mm2, 1),
        partner=partner,
        state="now" if now else _state(item.patch) if item else "todo",
        record=item.row.id if item else "",
        done=item.patch if item else None,
    )


def _worked(patch: PatchDone) -> Worked:
    minutes = None
    if patch.started_at and patch.ended_at and patch.progress == "done":
        spent = datetime.fromisoformat(patch.ended_at) - datetime.fromisoformat(patch.started_at)
        minutes = spent.total_seconds() / 60.0
    return Worked(patch.area_mm2 or 0.0, minutes, patch.volume_ml, patch.swabs)


def _warnings(metrics: Metrics, order: Sequence[Patch], ahead: Left) -> list[str]:
    found = warnings(metrics, order)
    if order and not ahead.own:
        found.append("Time, liquid and swabs rest on placeholders until five patches were timed.")
    return found
