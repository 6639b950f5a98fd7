"""The catalogue boiled down to the numbers that ranking needs, kept as one blob in the index.

Reading it costs well under a millisecond, so a question never parses YAML.
"""

from array import array
from collections.abc import Callable, Hashable, Iterable, Mapping
from functools import cached_property
from itertools import combinations
from typing import Any, NamedTuple, TypeVar, cast

import msgspec

from kb.index.rows import BARE_PAPER
from kb.index.schema import little
from kb.model.base import UNSTATED
from kb.model.guidance import Caution
from kb.model.studio import Settings, Shelf
from kb.science.choose.acting import (
    acting_red,
    any_harm,
    blend_volume,
    dissolves,
    medium_harm,
    paper_harm,
    parting,
    sized_red,
    water_release,
)
from kb.science.choose.evidence import CARRIER_TERMS, liquid_weight, mean_release, release_prior
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import Hsp, red

T = TypeVar("T")
SPHERE = tuple[float, float, float, float]
"""Centre (d, p, h) and radius in MPa^0.5."""
ByStage = tuple[float, float, float]
"""A chance at each position of ageing, from fresh to cross-linked."""
RESPONSE_LOGITS: dict[str, float] = {
    "usually releases": 2.5,
    "sometimes releases": 0.5,
    "rarely releases": -2.0,
}
"""Offsets of the release prior where no sphere is known. This project's own figures."""
MIN_SHARE = 0.05
"""A part below 5 % by volume does not make a blend count as that liquid in a caution."""


def key_of(*names: str) -> str:
    """The key under which chances are kept that depend on these."""
    return "|".join(names)


def doubles(stored: bytes) -> "array[float]":
    """Numbers from the bytes that :func:`as_stored` made of them."""
    return little(array("d", stored))


def as_stored(numbers: Iterable[float]) -> bytes:
    """Numbers as bytes, the same on every machine."""
    found = array("d", numbers)
    return little(found).tobytes()


def alike(one: "Named", other: "Named") -> float:
    """Likeness of two different liquids or blends, 0 to 1."""
    family = bool(one.related) and one.related == other.related
    return liquid_weight(one.hansen, other.hansen, family, False)


class Named(msgspec.Struct, frozen=True, array_like=True):
    """A liquid or blend as candidate: parts are shares by volume."""

    id: str
    name: str
    parts: dict[str, float]
    hansen: tuple[float, float, float] | None
    related: str
    hazard: float
    volume: float | None = None
    """Molar volume, cm3/mol."""
    lingers: bool = False
    """So little volatile that it stays in the sheet and must be cleared."""
    barred: bool = False
    """Long-term effects, forms peroxides or is gone at once: never leads where a milder liquid acts."""
    named: float = 0.0
    """How many reports in print name it, or a cut alike in all but name; for a blend see
    ``Compiled.reported``."""


class CLiquid(Named, frozen=True, array_like=True):
    """A pure liquid as ranking sees it."""

    family: str = ""
    agent: str = ""
    statements: tuple[str, ...] = ()
    meets: frozenset[str] = frozenset()
    """Ids of cautions whose condition about the liquid this one meets."""


class CAdhesive(msgspec.Struct, frozen=True, array_like=True):
    """An adhesive: its group, its sphere or spheres (all must be reached), its responses by agent."""

    id: str
    name: str
    group: str
    spheres: tuple[SPHERE, ...]
    responses: dict[str, float]
    fused: bool = False
    """Fused into the fibres: it must dissolve, parting from the paper does not lift it."""
    warmth: str = ""
    """What warmth does to it, where the catalogue says so."""


class CMedium(msgspec.Struct, frozen=True, array_like=True):
    """A medium or paper: spheres (any one reached is harm) and handbook grades by agent."""

    id: str
    name: str
    kin: str
    spheres: tuple[SPHERE, ...]
    grades: dict[str, str]
    named: float = 1.0
    """How common it is: one more than the reports that name it."""
    cured: bool = False
    """Its binder has dried to a network, which its sphere does not know of."""


class CPrint(msgspec.Struct, frozen=True, array_like=True):
    """One outcome reported in print. Empty text: the report does not state it."""

    report: str
    adhesive: str
    stage: str
    carrier: str
    medium: str
    paper: str
    method: str
    liquid: str
    parts: dict[str, float]
    tests: float
    release: bool | None
    harm: bool | None


class Foreseen(msgspec.Struct, frozen=True, array_like=True):
    """What chemistry alone says of the catalogue's liquids, in their order, each chance as one double.

    It hangs on the catalogue alone, so it is worked out with it (:mod:`kb.index.compile`) and not asked anew
    by each question.
    """

    release: dict[str, bytes] = {}
    """By adhesive, what the carrier lets through and contact, :func:`key_of`: of each liquid one a stage."""
    harm: dict[str, bytes] = {}
    """By medium and contact: one of each liquid."""
    paper: dict[str, bytes] = {}
    """By paper: one of each liquid."""
    alike: bytes = b""
    """Likeness of every two liquids, row by row."""


class Acting(NamedTuple):
    """How a liquid acts on an adhesive, whatever the carrier and the method."""

    offset: float
    """Logits that a handbook's response is worth."""
    disperses: bool | None
    """Of water where handbooks speak of it: whether the adhesive is made to disperse. Else None."""
    reds: tuple[tuple[float, ...], ...]
    """Distances to the adhesive at each stage; empty where no sphere is known."""

    def by_stage(self, through: str, contact: str) -> ByStage:
        """Chance of release at each stage; an unknown carrier (empty) is averaged over."""
        carriers = (through,) if through else tuple(CARRIER_TERMS)
        if self.disperses is not None:
            a, b, c = [water_release(self.offset, at, disperses=self.disperses) for at in range(3)]
        elif self.reds:
            a, b, c = [
                mean_release(reds, at, carriers, contact, self.offset) for at, reds in enumerate(self.reds)
            ]
        else:
            # Without a sphere stage and carrier have nothing to act on.
            unknown = release_prior(None, 0, carriers[0], contact, self.offset)
            a = b = c = sum([unknown] * len(carriers)) / len(carriers)
        return a, b, c


def _each(known: dict[str, T], make: Callable[[Named], T]) -> Callable[[Named], T]:
    """What ``make`` gives for a liquid, worked out once for each."""

    def each(what: Named) -> T:
        found = known.get(what.id)
        if found is None:
            found = known[what.id] = make(what)
        return found

    return each


def _reds(made_of: CAdhesive | CMedium | None, hansen: Hsp | None) -> list[float]:
    """Relative distances to the spheres of an adhesive or medium; empty where there is nothing to measure."""
    if made_of is None or hansen is None:
        return []
    return [red(hansen, (d, p, h), r0) for d, p, h, r0 in made_of.spheres]


class Compiled(msgspec.Struct, frozen=True, dict=True):
    """Everything a question needs besides the counts."""

    liquids: tuple[CLiquid, ...]
    adhesives: dict[str, CAdhesive]
    stages: dict[str, int]
    stage_names: dict[str, str]
    carriers: dict[str, str]
    carrier_names: dict[str, str]
    tapes: dict[str, tuple[str, str, str]]
    """id -> (name, adhesive, carrier)"""
    media: dict[str, CMedium]
    papers: dict[str, CMedium]
    methods: dict[str, str]
    method_names: dict[str, str]
    cautions: tuple[Caution, ...]
    printed: tuple[CPrint, ...]
    settings: Settings
    shelf: Shelf = msgspec.field(default_factory=Shelf)
    reported: dict[str, float] = msgspec.field(default_factory=dict)
    """Reports by ``blend|adhesive``: a blend is known only where that very blend was used."""
    carrier_spheres: dict[str, tuple[SPHERE, ...]] = msgspec.field(default_factory=dict)
    """Of films: what dissolves the carrier."""
    foreseen: Foreseen = Foreseen()
    apart: dict[str, str] = msgspec.field(default_factory=dict)
    """Why two liquids must never be in one vessel, by their ids in order with a blank between."""

    def must_not_meet(self, parts: Iterable[str]) -> tuple[tuple[str, str], str] | None:
        """The first two of these parts that make no blend, and why; None if nothing is known against it."""
        pairs = combinations(sorted(parts), 2)
        return next(((two, why) for two in pairs if (why := self.apart.get(" ".join(two)))), None)

    @cached_property
    def _kept(self) -> dict[str, dict[Hashable, object]]:
        return {}

    def kept(self, name: str, key: Hashable, make: Callable[[], T], most: int = 1) -> T:
        """What ``make`` gives, kept under ``name`` for the ``most`` keys that were asked for last."""
        known = self._kept.setdefault(name, {})
        # Taken out and put in again, so that the key that rested longest stands first.
        found = known.pop(key, None)
        if found is None:
            found = make()
            if len(known) >= most:
                del known[next(iter(known))]
        known[key] = found
        return cast("T", found)

    @cached_property
    def by_id(self) -> dict[str, CLiquid]:
        return {liquid.id: liquid for liquid in self.liquids}

    @cached_property
    def _context_places(self) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
        """Places of adhesives, stages and carriers; the empty text (not known) has the last one."""
        return (
            {name: place for place, name in enumerate((*self.adhesives, ""))},
            # What the catalogue of today no longer lists has no bit, but its cell still counts.
            {name: place for place, name in enumerate((*self.stages, ""))},
            {name: place for place, name in enumerate((*self.carriers, ""))},
        )

    @property
    def context_bytes(self) -> int:
        """Bytes that hold one bit per (adhesive, stage, carrier)."""
        adhesives, stages, carriers = self._context_places
        return (len(adhesives) * len(stages) * len(carriers) + 7) // 8

    def context_bit(self, adhesive: str, stage: str, carrier: str) -> int:
        """The bit of one (adhesive, stage, carrier); 0 for ids that are not in the catalogue."""
        return self.contexts((adhesive,), (stage,), (carrier,))

    def contexts(self, adhesives: Iterable[str], stages: Iterable[str], carriers: Iterable[str]) -> int:
        """The bits of these adhesives, each at these stages, each on these carriers."""
        found, step = 1, 1
        # The places are digits of one number, the carrier's the last: so the product holds every combination.
        for known, some in zip(self._context_places[::-1], (carriers, stages, adhesives), strict=True):
            found *= sum([1 << step * known[one] for one in some if one in known])
            step *= len(known)
        return found

    def candidate(self, liquid_id: str, parts: Mapping[str, float]) -> Named:
        """The liquid or blend with these parts; Hansen parameters are None if a part's are unknown."""
        known = [self.by_id[part] for part in parts if part in self.by_id]
        # A pure liquid has its own figures; mixing one part would only cost time.
        if len(parts) == 1 and known:
            return known[0]
        hansens = [liquid.hansen for liquid in known]
        mixed: Hsp | None = None
        # A part without parameters may be the one that acts: a mean over the rest would be a guess.
        if len(known) == len(parts) and all(hansen is not None for hansen in hansens):
            mixed = mix_hansen([hansen for hansen in hansens if hansen is not None], list(parts.values()))
        # A blend stands for the family of its largest part when lines are spread over families.
        largest = max(parts, key=lambda part: parts[part])
        related = self.by_id[largest].related if largest in self.by_id else ""
        # A part that nobody lists has no known hazard, which is not the same as none.
        hazard = max((liquid.hazard for liquid in known), default=1.0)
        names = [self.by_id[part].name if part in self.by_id else part for part in parts]
        # Shares first: a name cut short then still shows that it is a blend.
        name = " + ".join(f"{share * 100:.4g} % {n}" for n, share in zip(names, parts.values(), strict=True))
        volumes = [liquid.volume for liquid in known if liquid.volume is not None]
        whole = len(volumes) == len(parts)
        # A trace of a harmful liquid is for the cautions of whoever mixes it, not for the choice.
        present = [liquid for liquid in known if parts[liquid.id] >= MIN_SHARE]
        return Named(
            liquid_id,
            name,
            dict(parts),
            mixed,
            related,
            hazard,
            blend_volume(volumes, list(parts.values())) if whole else None,
            any(liquid.lingers for liquid in present),
            any(liquid.barred for liquid in present),
        )

    def agents(self, parts: Mapping[str, float]) -> list[str]:
        """Agents (columns of a sensitivity table) that the parts of at least 5 % stand for."""
        return [
            self.by_id[part].agent
            for part, share in parts.items()
            if share >= MIN_SHARE and part in self.by_id
        ]

    def red_adhesive(self, adhesive: str, hansen: Hsp | None) -> float | None:
        """Relative distance to the adhesive; of a block copolymer, to the block farthest away."""
        return max(_reds(self.adhesives.get(adhesive), hansen), default=None)

    def red_medium(self, medium: str, hansen: Hsp | None) -> float | None:
        """Relative distance to the medium's most easily reached binder."""
        return min(_reds(self.media.get(medium), hansen), default=None)

    def response(self, adhesive: str, parts: Mapping[str, float]) -> float:
        """Release offset in logits: share-weighted over the parts, 0 where nothing is said.

        A family that no column speaks for is taken as the mean of the organic ones.
        """
        made_of = self.adhesives.get(adhesive)
        if made_of is None or not made_of.responses:
            return 0.0
        other = self._organic[adhesive]
        total = 0.0
        for part, share in parts.items():
            liquid = self.by_id.get(part)
            total += share * (made_of.responses.get(liquid.agent, other) if liquid else 0.0)
        return total

    @cached_property
    def _organic(self) -> dict[str, float]:
        """The mean response of each adhesive to organic liquids, for those that no column speaks for."""
        found = {}
        for one in self.adhesives.values():
            # Water acts by another way than solvents do and would pull the mean of what is not tabulated.
            organic = [offset for agent, offset in one.responses.items() if agent != "water"]
            found[one.id] = sum(organic) / len(organic) if organic else 0.0
        return found

    def handbook_denies(self, adhesive: str) -> Callable[[Named], bool]:
        """What says whether a handbook's "rarely releases" is all that is known of a liquid there; kept."""
        made_of = self.adhesives.get(adhesive)
        if made_of is None or made_of.spheres:
            return lambda _: False
        known = self._chances.setdefault(("denied", adhesive), {})
        return _each(known, lambda what: self.response(adhesive, what.parts) < 0.0)

    def named(self, adhesive: str, what: Named) -> float:
        # A report that names a blend says nothing of its parts, and the other way round.
        """How many reports name a liquid; of a blend, that very blend on this adhesive."""
        return self.reported.get(f"{what.id}|{adhesive}", 0.0) if len(what.parts) > 1 else what.named

    def release_p0(self, adhesive: str, stage: str, carrier: str, method: str, what: Named) -> float:
        """Chance of release by chemistry alone. An unknown stage or carrier is averaged over."""
        # Averaged evenly, since how often each stage is met depends on the studio.
        positions = (self.stages[stage],) if stage in self.stages else (0, 1, 2)
        chances = self.stage_chances(adhesive, carrier, method)(what)
        return sum(chances[position] for position in positions) / len(positions)

    def acting(self, adhesive: str, what: Named) -> Acting:
        """How a liquid acts on an adhesive, before carrier and method are known."""
        made_of = self.adhesives.get(adhesive)
        offset = self.response(adhesive, what.parts)
        water = self._is_water(what)
        if made_of is not None and water and "water" in made_of.responses:
            # What has no sphere is dispersed by water or not at all; the handbook's response says which.
            return Acting(offset, bool(made_of.spheres), ())
        if made_of is None or what.hansen is None or not made_of.spheres:
            return Acting(offset, None, ())
        # Water's molecule is tiny, which would make it reach everything; it does not behave so.
        volume = None if water else what.volume
        distances = [sized_red(red(what.hansen, (d, p, h), r0), volume) for d, p, h, r0 in made_of.spheres]
        # Of a block copolymer all blocks must be reached to dissolve it; swelling the rubber, which comes
        # last and holds it together, also lets it go. The mean of the two counts.
        reds = tuple(dict.fromkeys((max(distances), distances[-1])))
        nearest = self._parting(made_of, what)
        by_stage = [tuple([acting_red(red, nearest, position) for red in reds]) for position in range(3)]
        return Acting(offset, None, tuple(by_stage))

    @cached_property
    def _chances(self) -> dict[tuple[str, str], dict[str, Any]]:
        """Chances by chemistry alone as far as they were asked for: of what and on what, then by liquid."""
        return {}

    def _foreseen(self, of: str, key: str) -> dict[str, Any]:
        """Chances of release, harm or paper under a key, to begin with those of the catalogue's liquids."""
        known = self._chances.get((of, key))
        if known is None:
            each: Iterable[Any] = doubles(getattr(self.foreseen, of).get(key, b""))
            if of == "release":
                each = zip(*[iter(each)] * 3, strict=True)
            known = self._chances[of, key] = dict(zip(self.by_id, each, strict=False))
        return known

    def stage_chances(self, adhesive: str, carrier: str, method: str) -> Callable[[Named], ByStage]:
        """What gives the same at each of the three ageing stages; kept."""
        through = self.carriers.get(carrier, "")
        # A method that is not listed counts as free liquid, as a drop or a swab gives it.
        contact = self.methods.get(method, "free")
        known = self._foreseen("release", key_of(adhesive, through, contact))
        return _each(known, lambda what: self.acting(adhesive, what).by_stage(through, contact))

    def medium_chance(self, medium: str, method: str) -> Callable[[Named], float]:
        """What gives the chance of harm to a medium by chemistry and handbook grades alone; kept."""
        known = self._foreseen("harm", key_of(medium, self.methods.get(method, "free")))
        return _each(known, lambda what: self.medium_p0(medium, method, what))

    def paper_chance(self, paper: str) -> Callable[[Named], float]:
        """What gives the chance of harm to a paper by handbook grades alone; kept."""
        return _each(self._foreseen("paper", paper), lambda what: self.paper_p0(paper, what))

    def _is_water(self, what: Named) -> bool:
        # A function of its own, so that scripts/effects.py can take water for a liquid like any other.
        return all(self.by_id[part].agent == "water" for part in what.parts if part in self.by_id)

    def _parting(self, made_of: CAdhesive | None, what: Named) -> float | None:
        """Parting from the paper, at the block nearest to the liquid."""
        if made_of is None or what.hansen is None or made_of.fused or not made_of.spheres:
            return None
        return min(parting(what.hansen, (d, p, h)) for d, p, h, _ in made_of.spheres)

    def harm_p0(self, medium: str, paper: str, method: str, what: Named) -> float:
        """Chance of harm to medium or paper by chemistry and handbook grades alone."""
        return any_harm((self.medium_chance(medium, method)(what), self.paper_chance(paper)(what)))

    def medium_p0(self, medium: str, method: str, what: Named) -> float:
        """Chance of harm to a medium; bare paper has none, an unknown one is averaged over all listed."""
        # Bare paper has nothing to bleed; what happens to the paper itself is asked apart.
        if medium == BARE_PAPER:
            return 0.0
        contact = self.methods.get(method, "free")
        known = self.media.get(medium)
        # Common media weigh more, or one rare sensitive ink would bar liquids everywhere.
        asked = [known] if known else [one for one in self.media.values() if one.id != BARE_PAPER]
        agents = self.agents(what.parts)
        weight = harm = 0.0
        for one in asked:
            # A medium without any grades is left to its sphere; "unstated" would count as a warning.
            grades = [one.grades.get(agent, UNSTATED) for agent in agents if agent and one.grades]
            weight += one.named
            red_to = self.red_medium(one.id, what.hansen)
            harm += one.named * medium_harm(red_to, grades, contact, cured=one.cured)
        return harm / weight if weight else 0.0

    def paper_p0(self, paper: str, what: Named) -> float:
        """Chance of harm to a paper; an unknown one is averaged over all listed."""
        known = self.papers.get(paper)
        agents = self.agents(what.parts)
        weight = harm = 0.0
        for one in [known] if known else self.papers.values():
            weight += one.named
            harm += one.named * paper_harm(one.grades[agent] for agent in agents if agent in one.grades)
        return harm / weight if weight else paper_harm(())

    def cautions_met(self, parts: tuple[str, ...]) -> frozenset[str]:
        """Ids of cautions whose condition about the liquid any of these meets."""
        if len(parts) == 1:
            return self.by_id[parts[0]].meets if parts[0] in self.by_id else frozenset()
        return frozenset().union(*(self.by_id[part].meets for part in parts if part in self.by_id))

    def carrier_share(self, carrier: str) -> Callable[[Named], float]:
        """What gives the share in which a liquid counts as dissolving a carrier film, 0 to 1; kept."""
        spheres = self.carrier_spheres.get(carrier, ())

        def share(what: Named) -> float:
            hsp = what.hansen
            shares = [dissolves(red(hsp, (d, p, h), r0)) for d, p, h, r0 in spheres if hsp]
            return max(shares, default=0.0)

        return _each(self._chances.setdefault(("carrier", carrier), {}), share)
