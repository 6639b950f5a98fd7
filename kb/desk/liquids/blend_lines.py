"""One blend of the finder in full: clearance, exposure, fire, mixing, drying, and what it gains."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from kb.desk.errors import DeskError
from kb.desk.liquids.drying import drying_path
from kb.desk.materials.flash import flash_of, flash_words
from kb.desk.materials.limits import NONE_KNOWN, UNVERIFIED, Limit, chosen_authority
from kb.desk.materials.mixing import danger_words, mixing_table
from kb.desk.materials.names import Names
from kb.desk.materials.physical import Physical
from kb.desk.studio import Studio
from kb.model.question import LeftOut, Plain, Question
from kb.science.liquids.blend_finder import Blend, Candidate, Gain, gain
from kb.science.liquids.miscibility import parts_company
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


class Judging(NamedTuple):
    """What a blend is described against."""

    studio: Studio
    into: Sequence[Sphere]
    out_of: Sequence[Sphere]
    known: dict[str, Physical]
    limits: dict[str, Limit]
    rivals: list[Candidate]
    target: Candidate | None
    temp_c: float


def described(judging: Judging, rank: int, blend: Blend, beaten: str = "") -> BlendFound:
    """One blend in full; ``beaten`` is the id of a part that does as well alone."""
    liquids = [judging.known[name] for name, _ in blend.parts]
    shares = {name: percent / 100.0 for name, percent in blend.parts}
    flash = flash_of(liquids, shares)
    exposure, verified = _exposure(judging, blend, liquids)
    drying, last = _drying(judging, shares)
    return BlendFound(
        rank=rank,
        name=Names(judging.studio).parts(shares),
        parts_pct=dict(blend.parts),
        hansen=blend.hansen,
        red_into={s.name: red(blend.hansen, s.centre, s.r0) for s in judging.into},
        red_out_of={s.name: red(blend.hansen, s.centre, s.r0) for s in judging.out_of},
        margin=blend.margin,
        nearest=blend.nearest,
        hazard=blend.hazard,
        flash=flash_words(flash, judging.known),
        flash_c=flash.flash_c,
        exposure=exposure,
        vapour_ratio=blend.vapour_index,
        limits_verified=verified,
        drying=drying,
        last=last,
        mixing=_mixing(judging, shares),
        gain=_gain(judging, blend),
        alone_does=judging.known[beaten].name if beaten else "",
    )


def _exposure(judging: Judging, blend: Blend, liquids: Sequence[Physical]) -> tuple[str, bool]:
    authority = chosen_authority(judging.studio)
    if not authority:
        return "not compared with limits: no authority is chosen", False
    limits = [judging.limits[one.id] for one in liquids]
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
        path = drying_path(judging.studio, shares, judging.temp_c, judging.into, judging.out_of)
    except DeskError as error:
        return (str(error),), ""
    order = "leaves in this order: " + ", ".join(path.names[one] for one in path.order)
    last = " and ".join(path.names[one] for one in path.last)
    strong = [one for one in path.warnings if not one.startswith("It is not known here whether")]
    return (order + (f"; last on the sheet {last}" if last else "; the parts dry together"), *strong), last


def _mixing(judging: Judging, shares: dict[str, float]) -> str:
    """Whether the parts mix; a pair that must not meet is said before anything else."""
    return " ".join((*danger_words(judging.studio, shares), _whether_mixing(judging, shares)))


def _whether_mixing(judging: Judging, shares: dict[str, float]) -> str:
    table = mixing_table(judging.studio)
    unsure = [
        f"{judging.known[one].name} with {judging.known[two].name}"
        for one, two in itertools.combinations(shares, 2)
        if parts_company(table, one, two, shares[one], shares[two]) is None
    ]
    if unsure:
        return f"not known here whether they mix: {'; '.join(unsure)}. Shake a little in a tube first."
    return "the parts mix at these shares, by what is known here"


def _gain(judging: Judging, blend: Blend) -> Gains | None:
    rivals = [judging.target] if judging.target else judging.rivals
    found = gain(blend, rivals, judging.into, judging.out_of)
    if found is None:
        return None
    name = judging.known[found.replaces].name
    adhesive = judging.into[0].name
    return Gains(
        replaces=found.replaces,
        name=name,
        distance=found.distance,
        margin=found.margin,
        hazard=found.hazard,
        flash_c=found.flash_c,
        vapour_ratio=found.vapour_index_ratio,
        text=_gain_words(found, name, adhesive),
    )


def _gain_words(found: Gain, name: str, adhesive: str) -> str:
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
