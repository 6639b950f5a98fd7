"""The catalogue boiled down to the numbers that ranking needs, kept as one blob in the index.

Reading it costs well under a millisecond, so a question never parses YAML.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import TypeVar, cast

import msgspec

from kb.model.guidance import Caution
from kb.model.settings import Settings
from kb.model.shelf import Shelf
from kb.science.choose.evidence import harm_prior, release_prior
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import Hsp, red

T = TypeVar("T")
SPHERE = tuple[float, float, float, float]
"""Centre (d, p, h) and radius in MPa^0.5."""
SENSITIVITY_LOGITS: dict[str, float] = {
    "stable": -1.5,
    "test with care": 0.0,
    "usually bleeds": 2.5,
    "unknown": 0.0,
}
"""Offsets of the harm prior by handbook grade. This project's own figures, not measurements."""
RESPONSE_LOGITS: dict[str, float] = {
    "usually releases": 2.5,
    "sometimes releases": 0.5,
    "rarely releases": -2.0,
}
"""Offsets of the release prior where no sphere is known. This project's own figures."""
MIN_SHARE = 0.05
"""A part below 5 % by volume does not make a blend count as that liquid in a caution."""


class CLiquid(msgspec.Struct, frozen=True, array_like=True):
    """A pure liquid as ranking sees it."""

    id: str
    name: str
    family: str
    related: str
    agent: str
    hansen: tuple[float, float, float] | None
    hazard: float
    statements: tuple[str, ...]
    meets: frozenset[str] = frozenset()
    """Ids of cautions whose condition about the liquid this one meets."""


class CAdhesive(msgspec.Struct, frozen=True, array_like=True):
    """An adhesive: its group, its sphere or spheres (all must be reached), its responses by agent."""

    id: str
    name: str
    group: str
    spheres: tuple[SPHERE, ...]
    responses: dict[str, float]


class CMedium(msgspec.Struct, frozen=True, array_like=True):
    """A medium or paper: spheres (any one reached is harm) and harm offsets by agent."""

    id: str
    name: str
    kin: str
    spheres: tuple[SPHERE, ...]
    offsets: dict[str, float]


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


class Named(msgspec.Struct, frozen=True, array_like=True):
    """A liquid or blend as candidate: parts are shares by volume."""

    id: str
    name: str
    parts: dict[str, float]
    hansen: tuple[float, float, float] | None
    related: str
    hazard: float


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

    @cached_property
    def _kept(self) -> dict[str, tuple[object, object]]:
        return {}

    def kept(self, name: str, key: object, make: Callable[[], T]) -> T:
        """What ``make`` gives, kept under ``name`` until it is asked for with another ``key``."""
        known = self._kept.get(name)
        if known is not None and known[0] == key:
            return cast("T", known[1])
        made = make()
        self._kept[name] = (key, made)
        return made

    @cached_property
    def by_id(self) -> dict[str, CLiquid]:
        """Pure liquids by id."""
        return {liquid.id: liquid for liquid in self.liquids}

    @cached_property
    def _context_places(self) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
        """Places of adhesives, stages and carriers; the empty text (not known) has the last one."""
        return (
            {name: place for place, name in enumerate((*self.adhesives, ""))},
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
        return self.contexts_with(adhesive, stage, self.carrier_bit(carrier))

    def carrier_bit(self, carrier: str) -> int:
        """The bit of one carrier among all carriers; 0 for an id that is not in the catalogue."""
        place = self._context_places[2].get(carrier)
        return 0 if place is None else 1 << place

    def contexts_with(self, adhesive: str, stage: str, carriers: int) -> int:
        """The bits of an adhesive and stage with each carrier of which the bit is set."""
        adhesives, stages, all_carriers = self._context_places
        if adhesive not in adhesives or stage not in stages:
            return 0
        row = adhesives[adhesive] * len(stages) + stages[stage]
        return carriers << row * len(all_carriers)

    def candidate(self, liquid_id: str, parts: Mapping[str, float]) -> Named:
        """The liquid or blend with these parts; Hansen parameters are None if a part's are unknown."""
        known = [self.by_id[part] for part in parts if part in self.by_id]
        if len(parts) == 1 and known:
            one = known[0]
            return Named(one.id, one.name, dict(parts), one.hansen, one.related, one.hazard)
        hansens = [liquid.hansen for liquid in known]
        mixed: Hsp | None = None
        if len(known) == len(parts) and all(hansen is not None for hansen in hansens):
            mixed = mix_hansen([hansen for hansen in hansens if hansen is not None], list(parts.values()))
        largest = max(parts, key=lambda part: parts[part])
        related = self.by_id[largest].related if largest in self.by_id else ""
        hazard = max((liquid.hazard for liquid in known), default=1.0)
        names = [self.by_id[part].name if part in self.by_id else part for part in parts]
        # Shares first: a name cut short then still shows that it is a blend.
        name = " + ".join(f"{share * 100:.4g} % {n}" for n, share in zip(names, parts.values(), strict=True))
        return Named(liquid_id, name, dict(parts), mixed, related, hazard)

    def agents(self, parts: Mapping[str, float]) -> list[str]:
        """Agents (columns of a sensitivity table) that the parts of at least 5 % stand for."""
        return [
            self.by_id[part].agent
            for part, share in parts.items()
            if share >= MIN_SHARE and part in self.by_id
        ]

    def red_adhesive(self, adhesive: str, hansen: Hsp | None) -> float | None:
        """Relative distance to the adhesive; of a block copolymer, to the block farthest away."""
        made_of = self.adhesives.get(adhesive)
        if hansen is None or made_of is None or not made_of.spheres:
            return None
        return max(red(hansen, (d, p, h), r0) for d, p, h, r0 in made_of.spheres)

    def red_medium(self, medium: str, hansen: Hsp | None) -> float | None:
        """Relative distance to the medium's most easily reached binder."""
        made_of = self.media.get(medium)
        if hansen is None or made_of is None or not made_of.spheres:
            return None
        return min(red(hansen, (d, p, h), r0) for d, p, h, r0 in made_of.spheres)

    def response(self, adhesive: str, parts: Mapping[str, float]) -> float:
        """Release offset in logits: share-weighted over the parts, 0 where nothing is said.

        A family that no column speaks for is taken as the mean of the organic ones.
        """
        made_of = self.adhesives.get(adhesive)
        if made_of is None or not made_of.responses:
            return 0.0
        organic = [offset for agent, offset in made_of.responses.items() if agent != "water"]
        other = sum(organic) / len(organic) if organic else 0.0
        total = 0.0
        for part, share in parts.items():
            liquid = self.by_id.get(part)
            total += share * (made_of.responses.get(liquid.agent, other) if liquid else 0.0)
        return total

    def sensitivity(self, medium: str, paper: str, parts: Mapping[str, float]) -> float:
        """Harm offset in logits: the worse of medium and paper, the worst of the parts."""
        worst: float | None = None
        agents = self.agents(parts)
        for table in (self.media.get(medium), self.papers.get(paper)):
            if table is None:
                continue
            for agent in agents:
                offset = table.offsets.get(agent)
                if offset is not None and (worst is None or offset > worst):
                    worst = offset
        return 0.0 if worst is None else worst

    def release_p0(self, adhesive: str, stage: str, carrier: str, method: str, what: Named) -> float:
        """Chance of release by chemistry alone. An unknown stage or carrier is averaged over."""
        distance = self.red_adhesive(adhesive, what.hansen)
        offset = self.response(adhesive, what.parts)
        positions = (self.stages[stage],) if stage in self.stages else (0, 1, 2)
        through = (self.carriers[carrier],) if carrier in self.carriers else ("film", "porous", "none")
        contact = self.methods.get(method, "free")
        chances = [release_prior(distance, p, t, contact, offset) for p in positions for t in through]
        return sum(chances) / len(chances)

    def harm_p0(self, medium: str, paper: str, method: str, what: Named) -> float:
        """Chance of harm by chemistry and handbook grades alone."""
        offset = self.sensitivity(medium, paper, what.parts)
        contact = self.methods.get(method, "free")
        return harm_prior(self.red_medium(medium, what.hansen), offset, contact)
