"""How the composition of a blend moves while it dries, and where that takes it in Hansen space.

Open evaporation: each part leaves in proportion to its partial vapour pressure, x Psat (Raoult), and volumes
add up. Into still air all parts are taken to diffuse alike. Nothing comes back from the air, and the sheet
takes nothing up: in paper the last part is held longer than this says. The equations are those of open
(Rayleigh) distillation, from memory.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import Hsp, red
from kb.science.numbers import above_zero, zero_or_more

LOSSES = (0.0, 0.5, 0.8, 0.95)
"""Shares of the volume at which a path is usually told."""
CURVE = tuple(step / 50 for step in range(50))
"""Enough steps to draw the path, up to 98 % loss."""
LAST_SHARE = 0.5
"""From this share on at the end of the path a part is called the last. A choice of this project."""


class DryingPart(NamedTuple):
    """One part of a blend: its share by volume and what decides its drying.

    ``vapour_pressure_kpa`` of all parts at one temperature, None if not known.
    """

    name: str
    share: float
    vapour_pressure_kpa: float | None
    molar_volume_cm3_mol: float | None
    hansen: Hsp | None = None


class DryingStep(NamedTuple):
    """What is left once ``lost`` of the volume is gone.

    ``shares`` are by volume of the rest; ``left`` is the share that remains of each part's first amount.
    """

    lost: float
    shares: Mapping[str, float]
    left: Mapping[str, float]
    mole_fractions: Mapping[str, float]
    hansen: Hsp | None


class Approach(NamedTuple):
    """How near the drying blend comes to one sphere: RED at the start, at the end, and where it is lowest."""

    sphere: str
    red_at_start: float
    red_at_end: float
    lowest_red: float

    @property
    def strong_at_the_end(self) -> bool:
        """Whether what stays last lies inside the sphere and deeper than the fresh blend did."""
        return self.red_at_end < 1 and self.red_at_end < self.red_at_start


class _Mixture(NamedTuple):
    """What the equations need, in the order of the parts."""

    moles: tuple[float, ...]
    volumes: tuple[float, ...]
    pulls: tuple[float, ...]


def drying_path(parts: Sequence[DryingPart], losses: Sequence[float] = LOSSES) -> tuple[DryingStep, ...]:
    """The state of a drying blend at each loss of volume, in the order given; exact.

    Raises ValueError naming every part whose vapour pressure or molar volume is missing, and for losses
    outside 0 to below 1.
    """
    kept = _checked(parts)
    if any(not 0 <= lost < 1 for lost in losses):
        raise ValueError(f"a loss must be from 0 to below 1: {list(losses)}")
    mixture = _mixture(kept)
    wanted = sorted(set(losses))
    found = dict(zip(wanted, _raoult(mixture, wanted), strict=True))
    # In the order asked for, each worked out once.
    return tuple(_step(kept, mixture, lost, found[lost]) for lost in losses)


def last_on_the_sheet(path: Sequence[DryingStep]) -> tuple[str, ...]:
    """The parts that make up at least LAST_SHARE of what is left at the end, largest first.

    Empty if the parts dry together, so that none stands out. Raises ValueError for a path of no steps.
    """
    end = _end(path)
    first = next(step for step in path if step.lost == min(one.lost for one in path))
    # A part that dries with the others keeps its share; only one that gains stays behind.
    strong = [
        name for name, share in end.shares.items() if share >= LAST_SHARE and share > first.shares[name]
    ]
    return tuple(sorted(strong, key=lambda name: (-end.shares[name], name)))


def approaches(path: Sequence[DryingStep], spheres: Mapping[str, tuple[Hsp, float]]) -> tuple[Approach, ...]:
    """How near the drying blend comes to each sphere (centre and radius) within the steps of the path.

    Draw the path finely (CURVE) for this. Raises ValueError if a part has no Hansen parameters.
    """
    _end(path)
    found = []
    for name, (centre, r0) in spheres.items():
        reds = [one for _, one in sorted((step.lost, red(_place(step), centre, r0)) for step in path)]
        found.append(Approach(name, reds[0], reds[-1], min(reds)))
    return tuple(found)


def _checked(parts: Sequence[DryingPart]) -> list[DryingPart]:
    """The parts that are there, every figure known."""
    # A part of nothing needs no vapour pressure.
    kept = [part for part in parts if zero_or_more(part.share, f"the share of {part.name}") > 0]
    if not kept:
        raise ValueError("a blend needs at least one part with a share above zero")
    if len({part.name for part in kept}) < len(kept):
        raise ValueError("a liquid is named twice in the blend")
    missing = [
        f"the {what} of {part.name}"
        for what, known in (
            ("vapour pressure", "vapour_pressure_kpa"),
            ("molar volume", "molar_volume_cm3_mol"),
        )
        for part in kept
        if getattr(part, known) is None
    ]
    if missing:
        raise ValueError(f"the drying path cannot be told without {' and '.join(missing)}: not known here")
    return kept


def _mixture(parts: Sequence[DryingPart]) -> _Mixture:
    total = math.fsum(part.share for part in parts)
    volumes = [above_zero(p.molar_volume_cm3_mol or 0.0, f"the molar volume of {p.name}") for p in parts]
    pulls = [above_zero(p.vapour_pressure_kpa or 0.0, f"the vapour pressure of {p.name}") for p in parts]
    moles = [part.share / total / volume for part, volume in zip(parts, volumes, strict=True)]
    return _Mixture(tuple(moles), tuple(volumes), tuple(pulls))


def _raoult(mixture: _Mixture, losses: Sequence[float]) -> list[tuple[float, ...]]:
    """Logarithm of what is left of each part, from n = n0 exp(-pull s), which is exact for Raoult's law."""
    initial = [n * v for n, v in zip(mixture.moles, mixture.volumes, strict=True)]
    parts = list(zip(initial, mixture.pulls, strict=True))

    def volume(at: float) -> float:
        return math.fsum([v * math.exp(-p * at) for v, p in parts])

    states = []
    at = 0.0
    for lost in losses:
        rest = 1.0 - lost
        # Newton from below: the volume falls and bends upwards, so no step goes beyond the crossing.
        while lost and (over := volume(at) - rest) > 0:
            before, at = at, at + over / math.fsum([p * v * math.exp(-p * at) for v, p in parts])
            if at - before <= 1e-14 * at:
                break
        # Then halved until no number lies between: exact to the last digit without a tolerance to choose.
        width = 1e-14
        low = high = at
        while at > 0 and not volume(low) > rest >= volume(high):
            low, high, width = at * (1.0 - width), at * (1.0 + width), 4.0 * width
        while low < (middle := 0.5 * (low + high)) < high:
            low, high = (middle, high) if volume(middle) > rest else (low, middle)
        at = high
        states.append(tuple(-pull * high for pull in mixture.pulls))
    return states


def _step(parts: Sequence[DryingPart], mixture: _Mixture, lost: float, logs: Sequence[float]) -> DryingStep:
    moles = [n * math.exp(log) for n, log in zip(mixture.moles, logs, strict=True)]
    volumes = [n * v for n, v in zip(moles, mixture.volumes, strict=True)]
    names = [part.name for part in parts]
    volume, amount = math.fsum(volumes), math.fsum(moles)
    shares = [one / volume for one in volumes]
    hansens = [part.hansen for part in parts if part.hansen is not None]
    return DryingStep(
        lost=lost,
        shares=dict(zip(names, shares, strict=True)),
        left=dict(zip(names, (math.exp(log) for log in logs), strict=True)),
        mole_fractions=dict(zip(names, (n / amount for n in moles), strict=True)),
        # One part without parameters leaves the blend without a place.
        hansen=mix_hansen(hansens, shares) if len(hansens) == len(parts) else None,
    )


def _place(step: DryingStep) -> Hsp:
    if step.hansen is None:
        raise ValueError("a part of the blend has no Hansen parameters: its path cannot be placed")
    return step.hansen


def _end(path: Sequence[DryingStep]) -> DryingStep:
    if not path:
        raise ValueError("a drying path needs at least one step")
    return max(path, key=lambda step: step.lost)
