"""Blends from the shelf: inside the adhesive's sphere, clear of what lies near, and what they gain."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence, Set
from typing import NamedTuple

from kb.desk.choose.rule import applying, bearing, meets
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.liquids.drying import drying_path
from kb.desk.liquids.spheres import adhesive_spheres, by_record, carrier_spheres, spheres_in_reach
from kb.desk.materials.limits import NONE_KNOWN, UNVERIFIED, Limit, chosen_authority, limit_of
from kb.desk.materials.mixing import danger_words, kept_apart, mixing_table
from kb.desk.materials.names import Names
from kb.desk.materials.physical import USUAL_TEMP_C, Physical, all_records, figures_of
from kb.desk.materials.safety import DEFER, flash_of, flash_words
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.index.queries import cells, records
from kb.model.liquid import Family
from kb.model.question import LeftOut, Plain, Question
from kb.science.liquids import blend_finder as finder
from kb.science.liquids.blends import blend_id
from kb.science.liquids.miscibility import Mixing, mixing_by, parts_company
from kb.science.liquids.solubility import Sphere, red


class Gains(Plain, frozen=True, kw_only=True):
    """The pure liquid that a blend could stand in for, and by how much it is better or worse.

    ``margin``: RED gained; ``hazard``: change on this project's scale of 0 to 1, negative is a gain;
    ``vapour_ratio``: vapour hazard of the blend over that of the liquid, below 1 is a gain.
    """

    replaces: str
    name: str
    distance: float
    margin: float | None
    hazard: float
    flash_c: float | None
    vapour_ratio: float | None
    text: str


class BlendFound(Plain, frozen=True, kw_only=True):
    """One blend: what it is, how it clears what lies within reach, and what to know of it."""

    rank: int
    name: str
    parts_pct: dict[str, int]
    hansen: tuple[float, float, float]
    red_into: dict[str, float]
    red_out_of: dict[str, float]
    margin: float | None
    nearest: str
    hazard: float
    flash: str
    flash_c: float | None
    exposure: str
    vapour_ratio: float | None
    """Saturated vapour over the limits of the studio's authority, summed; None if one is not known."""
    limits_verified: bool
    drying: tuple[str, ...]
    last: str
    mixing: str
    gain: Gains | None
    alone_does: str
    """A part that alone clears as well and is no worse; empty if the blend is worth mixing."""


class Alone(Plain, frozen=True, kw_only=True):
    """A pure liquid that does by itself what the blends do."""

    liquid: str
    name: str
    margin: float | None
    hazard: float


class LeftOutPair(Plain, frozen=True, kw_only=True):
    """Two liquids that are never combined, and why."""

    liquids: tuple[str, str]
    names: tuple[str, str]
    why: str


class Blends(Plain, frozen=True, kw_only=True):
    """What the finder proposes for testing, what it left out, and what its figures rest on."""

    question: Question
    blends: tuple[BlendFound, ...]
    alone: tuple[Alone, ...]
    instead_of: str
    parted: tuple[LeftOutPair, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    unit: str
    model: str
    source: str
    objective: str
    defer: str


class _Shelf(NamedTuple):
    """What may go into a blend, what may not and why, and all liquids as rivals."""

    usable: list[finder.Candidate]
    left_out: list[LeftOut]
    rivals: list[finder.Candidate]
    known: dict[str, Physical]
    limits: dict[str, Limit]
    mixing: Mixing
    usual: frozenset[str]
    """Liquids that a report, an own test or the shelf names, and that may lead a line of the ranking."""


class Judging(NamedTuple):
    """What a blend is described against."""

    studio: Studio
    into: Sequence[Sphere]
    out_of: Sequence[Sphere]
    shelf: _Shelf
    target: finder.Candidate | None


def described(
    judging: Judging, rank: int, blend: finder.Blend, beaten: str = "", *, in_full: bool = True
) -> BlendFound:
    """One blend; ``beaten`` is the id of a part that does as well alone.

    Not ``in_full``: its figures, and nothing of how it dries, if its parts mix and what it stands in for.
    """
    liquids = [judging.shelf.known[name] for name, _ in blend.parts]
    shares = _shares(blend)
    flash = flash_of(liquids, shares)
    exposure, verified = _exposure(judging, blend, liquids)
    drying, last = _drying(judging, shares) if in_full else ((), "")
    return BlendFound.taken_from(
        blend,
        rank=rank,
        name=Names(judging.studio).parts(shares),
        parts_pct=dict(blend.parts),
        red_into={s.name: red(blend.hansen, s.centre, s.r0) for s in judging.into},
        red_out_of={s.name: red(blend.hansen, s.centre, s.r0) for s in judging.out_of},
        flash=flash_words(flash, judging.shelf.known),
        flash_c=flash.flash_c,
        exposure=exposure,
        vapour_ratio=blend.vapour_index,
        limits_verified=verified,
        drying=drying,
        last=last,
        mixing=_mixing(judging, shares) if in_full else "",
        gain=_gain(judging, blend) if in_full else None,
        alone_does=judging.shelf.known[beaten].name if beaten else "",
    )


def _exposure(judging: Judging, blend: finder.Blend, liquids: Sequence[Physical]) -> tuple[str, bool]:
    authority = chosen_authority(judging.studio)
    if not authority:
        return "not compared with limits: no authority is chosen", False
    limits = [judging.shelf.limits[one.id] for one in liquids]
    unknown = [one.name for one in limits if one.twa_ppm is None]
    doubtful = [one.name for one in limits if one.twa_ppm is not None and not one.verified]
    if unknown:
        return f"{authority}: {NONE_KNOWN} for {', '.join(unknown)}", False
    if blend.vapour_index is None:
        missing = [one.name for one in liquids if one.vapour_pressure_kpa is None]
        return f"vapour pressure not known here: {', '.join(missing)}", False
    said = f"saturated vapour is {blend.vapour_index:.3g} times the {authority} limits together (Raoult)"
    if doubtful:
        said += f"; limit of {', '.join(doubtful)} {UNVERIFIED}"
    return said, not doubtful


def _drying(judging: Judging, shares: dict[str, float]) -> tuple[tuple[str, ...], str]:
    try:
        path = drying_path(judging.studio, shares, USUAL_TEMP_C, judging.into, judging.out_of)
    except DeskError as error:
        return (str(error),), ""
    order = "leaves in this order: " + ", ".join(path.names[one] for one in path.order)
    last = " and ".join(path.names[one] for one in path.last)
    strong = [one for one in path.warnings if not one.startswith("It is not known here whether")]
    return (order + (f"; last on the sheet {last}" if last else "; the parts dry together"), *strong), last


def _mixing(judging: Judging, shares: dict[str, float]) -> str:
    """Whether the parts mix; a pair that must not meet is said before anything else."""
    table = mixing_table(judging.studio)
    unsure = [
        f"{judging.shelf.known[one].name} with {judging.shelf.known[two].name}"
        for one, two in itertools.combinations(shares, 2)
        if parts_company(table, one, two, shares[one], shares[two]) is None
    ]
    said = f"not known here whether they mix: {'; '.join(unsure)}. Shake a little in a tube first."
    said = said if unsure else "the parts mix at these shares, by what is known here"
    return " ".join((*danger_words(judging.studio, shares), said))


def _gain(judging: Judging, blend: finder.Blend) -> Gains | None:
    rivals = [judging.target] if judging.target else judging.shelf.rivals
    found = finder.gain(blend, rivals, judging.into, judging.out_of)
    if found is None:
        return None
    name = judging.shelf.known[found.replaces].name
    said = _gain_words(found, name, judging.into[0].name)
    return Gains.taken_from(found, name=name, vapour_ratio=found.vapour_index_ratio, text=said)


def _gain_words(found: finder.Gain, name: str, adhesive: str) -> str:
    gains, losses = [], []
    if found.hazard < -1e-9:
        gains.append(f"hazard {-found.hazard:.2f} lower (scale 0 to 1, this project's own)")
    elif found.hazard > 1e-9:
        losses.append(f"hazard {found.hazard:.2f} higher")
    if found.margin is not None and abs(found.margin) >= 0.005:
        (gains if found.margin > 0 else losses).append(f"clearance {found.margin:+.2f} RED")
    if found.flash_c is not None and abs(found.flash_c) >= 0.5:
        (gains if found.flash_c > 0 else losses).append(f"flash point {found.flash_c:+.0f} °C")
    if found.vapour_index_ratio is not None and abs(found.vapour_index_ratio - 1) >= 0.05:
        better = found.vapour_index_ratio < 1
        (gains if better else losses).append(
            f"vapour against limits {found.vapour_index_ratio:.2g} times as much"
        )
    kind = "a less hazardous equivalent of" if found.hazard < -1e-9 else "in place of"
    said = f"{kind} {name} for {adhesive}, {found.distance:.1f} MPa^0.5 from it"
    if gains:
        said += f"; gained: {', '.join(gains)}"
    if losses:
        said += f"; lost: {', '.join(losses)}"
    return said


OBJECTIVE = (
    "Order: blends of liquids that a report, a test or the shelf names, none of which does lasting harm to "
    "people, before all others; then widest clearance of media and carrier (in steps of 0.01 RED, up to RED "
    "3), then lower hazard, then fewer liquids, then deeper inside the adhesive. Grid of 5 % by volume, "
    "every composition judged."
)
MODEL = "Hansen spheres; parameters of a blend are the averages by volume"
SOURCE = (
    "C. M. Hansen, Hansen Solubility Parameters: A User's Handbook, CRC Press, 2007; "
    "order: this project's own"
)
HAIR = 1e-9
SAME_MARGIN, MORE_VAPOUR = 0.01, 1.25
"""A blend is not worth mixing if one of its parts alone clears as well (RED), is no more hazardous, flashes
no lower, and gives off no more than this many times the vapour. Choices of this project."""
ALONE_SHOWN = 5
MORE = 4
"""How many times as many blends are looked at as are shown."""


def find_blends(
    studio: Studio,
    question: Question,
    limit: int = 8,
    carrier_too: bool = False,
    max_hazard: float | None = None,
    min_flash_c: float | None = None,
    parts: int = 3,
    instead_of: str | None = None,
    *,
    idle_in_full: bool = True,
) -> Blends:
    """The best blends of two to ``parts`` liquids held and allowed, best first, one per set of liquids.

    ``carrier_too``: the carrier must be reached as well, instead of kept clear of. ``instead_of`` is the id
    of a pure liquid that is to be replaced by something less hazardous. ``max_hazard`` is 0 to 1 (this
    project's own scale); ``min_flash_c`` holds for every part. ``idle_in_full``: all is told also of what a
    part does as well alone. Raises DeskError if the adhesive has no sphere, or a rule cannot be kept.
    """
    into = list(adhesive_spheres(studio, question.adhesive))
    if carrier_too:
        into += _carrier_to_go(studio, question)
    out_of, silent = spheres_in_reach(studio, question, with_carrier=not carrier_too)
    shelf = _spared(studio, question, _shelf(studio, by_record(studio, question)[0]))
    target = _target(shelf, instead_of)
    if target is not None and max_hazard is None:
        max_hazard = target.hazard - HAIR
    rules = finder.Rules(
        forbid=frozenset({instead_of} if instead_of else ()),
        max_hazard=max_hazard,
        min_flash_c=min_flash_c,
        max_parts=parts,
    )
    limit = max(limit, 1)
    with in_a_sentence():
        # Of unknown liquids the finder has the spheres and the hazard and nobody's word.
        found = finder.find(shelf.usable, into, out_of, rules, shelf.mixing, MORE * limit, shelf.usual)
    pure = {
        one.id: finder.judge([(one, 100)], into, out_of) for one in shelf.usable if one.hansen is not None
    }
    barred = _harmed_here(studio, question, [_shares(one) for one in found.blends])
    free = [one for one, why in zip(found.blends, barred, strict=True) if not why]
    kept = _worth_mixing(shelf, free, pure)[:limit]
    judging = Judging(studio, into, out_of, shelf, target)
    names = {key: one.name for key, one in shelf.known.items()}
    refused = [one for one in found.refused if len(one.ids) == 1 and one.ids[0] != instead_of]
    apart = kept_apart(studio)
    pairs = [
        ((a, b), f"STOP: {apart[a, b]}" if (a, b) in apart else one.why)
        for one in found.refused
        if len(one.ids) == 2
        for a, b in [one.ids]
    ]
    return Blends(
        question=question,
        blends=tuple(
            described(judging, rank, one, beaten, in_full=idle_in_full or not beaten)
            for rank, (one, beaten) in enumerate(kept, start=1)
        ),
        alone=_alone(shelf, pure, {one.ids[0] for one in found.refused if len(one.ids) == 1}),
        instead_of=names.get(instead_of or "", ""),
        parted=tuple(
            LeftOutPair(liquids=(a, b), names=(names[a], names[b]), why=why) for (a, b), why in pairs
        ),
        left_out=(
            *shelf.left_out,
            *(LeftOut(liquid=one.ids[0], name=names[one.ids[0]], why=one.why) for one in refused),
            *(
                LeftOut(liquid=blend_id(_shares(one)), name=Names(studio).parts(_shares(one)), why=why)
                for one, why in zip(found.blends, barred, strict=True)
                if why
            ),
        ),
        notes=_notes(studio, silent, kept == [], judging),
        unit="% by volume; RED has no unit; margin is RED less 1",
        model=MODEL,
        source=SOURCE,
        objective=OBJECTIVE,
        defer=DEFER,
    )


def _worth_mixing(
    shelf: _Shelf, blends: Sequence[finder.Blend], pure: Mapping[str, finder.Blend]
) -> list[tuple[finder.Blend, str]]:
    """Blends of liquids that one knows first, and of them those that gain something over each of their parts.

    With each comes the part that does as well alone, if one does.
    """
    by_id = {one.id: one for one in shelf.usable}
    judged = [
        (blend, next((name for name, _ in blend.parts if _does_as_well(pure[name], blend, by_id)), ""))
        for blend in blends
    ]
    unknown = [any(name not in shelf.usual for name, _ in blend.parts) for blend in blends]
    # Stable, so that the finder's order stands within each part.
    ranked = sorted(zip(judged, unknown, strict=True), key=lambda pair: (bool(pair[0][1]), pair[1]))
    return [one for one, _ in ranked]


def _does_as_well(pure: finder.Blend, blend: finder.Blend, by_id: dict[str, finder.Candidate]) -> bool:
    if any(inside > 1 for inside in pure.inside) or pure.hazard > blend.hazard:
        return False
    if blend.margin is not None and (pure.margin or 0.0) < min(blend.margin, finder.MARGIN_CAP) - SAME_MARGIN:
        return False
    if blend.flash_c is not None and pure.flash_c is not None and pure.flash_c < blend.flash_c:
        return False
    one, all_of = _pressure(pure, by_id), _pressure(blend, by_id)
    return one is None or all_of is None or one <= MORE_VAPOUR * all_of


def _pressure(blend: finder.Blend, by_id: dict[str, finder.Candidate]) -> float | None:
    """Vapour pressure over the whole, kPa (Raoult); None if a figure is missing."""
    partial = finder.vapour_kpa(
        [by_id[name] for name, _ in blend.parts], [percent for _, percent in blend.parts]
    )
    return None if partial is None else sum(partial)


def _alone(shelf: _Shelf, pure: Mapping[str, finder.Blend], refused: Set[str]) -> tuple[Alone, ...]:
    """Pure liquids that go inside by themselves and keep the rules, the widest clearance first."""
    found = [
        Alone(liquid=name, name=shelf.known[name].name, margin=one.margin, hazard=one.hazard)
        for name, one in pure.items()
        if name not in refused and all(inside <= 1 for inside in one.inside)
    ]
    return tuple(sorted(found, key=lambda one: (-(one.margin or 0.0), one.hazard, one.liquid))[:ALONE_SHOWN])


def _carrier_to_go(studio: Studio, question: Question) -> Sequence[Sphere]:
    spheres = carrier_spheres(studio, question.carrier)
    if not spheres:
        raise DeskError(
            "The carrier is to go too, but no Hansen sphere is known here for it; name another carrier, or "
            "leave it and take it off by hand."
        )
    return spheres


def _target(shelf: _Shelf, instead_of: str | None) -> finder.Candidate | None:
    if not instead_of:
        return None
    target = next((one for one in shelf.rivals if one.id == instead_of), None)
    if target is None:
        raise DeskError(f'There is no liquid "{instead_of}" to be replaced.')
    return target


def _mixing_or_apart(studio: Studio) -> Mixing:
    """Which two are never combined: what parts company, and what must not meet, whatever it dissolves."""
    mixing, apart = mixing_by(mixing_table(studio)), kept_apart(studio)

    def ask(one: str, two: str, share_one: float, share_two: float) -> bool | None:
        return True if (one, two) in apart else mixing(one, two, share_one, share_two)

    return ask


NOT_LISTED = "it keeps other liquids off more than it lifts; it is combined where the shelf lists it as held"
"""Common practice, no source. By its hazard alone, which is least, such a family led every list."""


def _shelf(studio: Studio, question: Question) -> _Shelf:
    """Every liquid as a candidate, those of the studio apart, each refusal with its reason."""
    compiled, authority = studio.compiled, chosen_authority(studio)
    cautions = bearing(compiled, [(1.0, question)])
    conn = studio.index.conn
    masks = {one.id for one in records(conn, "family", Family) if one.masks}
    keeps_off = {one.id for one in compiled.liquids if one.family in masks}
    tested = {ids[-1] for ids, _ in cells(conn, "release_cell")}
    usual = frozenset(
        one.id
        for one in compiled.liquids
        if not one.barred and (one.named >= 1 or one.id in compiled.shelf.holds or one.id in tested)
    )
    shelf = _Shelf([], [], [], {}, {}, _mixing_or_apart(studio), usual)
    for record in all_records(studio):
        one = figures_of(studio, record, USUAL_TEMP_C)
        limit = limit_of(one, authority) if authority else None
        shelf.known[one.id] = one
        if limit is not None:
            shelf.limits[one.id] = limit
        figures = [getattr(one, name) for name in finder.Candidate._fields[:-1]]
        candidate = finder.Candidate(*figures)._replace(limit_ppm=limit.twa_ppm if limit else None)
        shelf.rivals.append(candidate)
        verdict = allowed(compiled, {one.id: 1.0})
        met = applying(cautions, meets(compiled, {one.id: 1.0}))
        stops = [rule for rule in met if rule.severity == "stop"]
        why = "" if verdict.allowed and verdict.held else verdict.why
        why = why or (f"vetoed by the caution {stops[0].id}: {stops[0].text}" if stops else "")
        why = why or (NOT_LISTED if one.id in keeps_off and one.id not in compiled.shelf.holds else "")
        if why:
            shelf.left_out.append(LeftOut(liquid=one.id, name=one.name, why=why))
        else:
            shelf.usable.append(candidate)
    return shelf


def _spared(studio: Studio, question: Question, shelf: _Shelf) -> _Shelf:
    """Without the liquids that harm seen on the sheet bars: in a blend they are the same liquids."""
    barred = _harmed_here(studio, question, [{one.id: 1.0} for one in shelf.usable])
    out = [
        LeftOut(liquid=one.id, name=shelf.known[one.id].name, why=why)
        for one, why in zip(shelf.usable, barred, strict=True)
        if why
    ]
    lost = {one.liquid for one in out}
    return shelf._replace(
        usable=[one for one in shelf.usable if one.id not in lost], left_out=[*shelf.left_out, *out]
    )


def _harmed_here(studio: Studio, question: Question, liquids: Sequence[Mapping[str, float]]) -> list[str]:
    """Of each, why harm seen on the sheet bars it, as it bars what to test next; empty: it does not."""
    # Most blends are asked for without a sheet, and what weighs its spots is long to load.
    if not question.sheet:
        return [""] * len(liquids)
    from kb.desk.choose.after import harm_against
    from kb.desk.choose.weigh import HARMED_HERE

    return [HARMED_HERE if rows else "" for rows in harm_against(studio, question, liquids)]


def _shares(blend: finder.Blend) -> dict[str, float]:
    return {name: percent / 100.0 for name, percent in blend.parts}


def _notes(studio: Studio, silent: Sequence[str], nothing: bool, judging: Judging) -> tuple[str, ...]:
    said = list(silent)
    if nothing:
        said.append("No blend of what is held and allowed here keeps all the rules.")
    authority = chosen_authority(studio)
    if not authority:
        said.append(
            "No authority is chosen (authority in studio.yaml), so vapour is not compared with limits here."
        )
    elif any(limit.twa_mg_m3 is not None and not limit.verified for limit in judging.shelf.limits.values()):
        said.append(f"Many {authority} limits used here are {UNVERIFIED}.")
    foresees = "A sphere foresees what is worth testing, not what is safe: "
    return (*said, f"{foresees}test the blend on the object like any liquid.")
