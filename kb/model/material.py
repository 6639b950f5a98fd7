"""What liquids act on: polymers, carriers, adhesives, tapes, media and papers.

Repair tissues and papers: what they are made of, how heavy, and what they are used for.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Claim, Figure, Named, Record, Sensitivity, Sources
from kb.model.identification import HowUsual

Confidence = Literal["high", "medium", "low", "none"]
Response = Literal["usually releases", "sometimes releases", "rarely releases"]


class Sphere(Record, frozen=True, kw_only=True):
    """A Hansen sphere in MPa^0.5: liquids nearer than ``r0`` to the centre act on the polymer."""

    d: float
    p: float
    h: float
    r0: float
    kind: str = ""
    """What the author tested: dissolution, swelling, chemical resistance ..."""
    row: int | None = None
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Polymer(Named, frozen=True, kw_only=True):
    """A polymer, resin or binder."""

    roles: tuple[str, ...] = ()
    confidence: Confidence = "none"
    sphere: Sphere | None = None
    """The sphere used for ranking."""
    other_spheres: tuple[Sphere, ...] = ()
    needs_all_of: tuple[str, ...] = ()
    """Block copolymers: ids of the polymers a liquid must all reach, the rubber that binds them last."""
    crystalline: bool = False
    """Nothing dissolves it at room temperature: its sphere tells of swelling and of hot liquids only."""
    claims: tuple[Claim, ...] = ()
    solubility_parameter: tuple[Claim, ...] = ()


class Carrier(Named, frozen=True, kw_only=True):
    """What the adhesive sits on."""

    polymers: tuple[str, ...] = ()
    lets_liquid_through: Literal["film", "porous", "none"]
    """film: a barrier; porous: liquid passes; none: no carrier. Sets the carrier term of the prior."""
    in_use: tuple[Claim, ...] = ()
    signs: tuple[Claim, ...] = ()
    removal: tuple[Claim, ...] = ()
    usual_adhesives: tuple[str, ...] = ()
    sources: Sources = msgspec.field(name="from")


class Stage(Named, frozen=True, kw_only=True):
    """An ageing stage of an adhesive."""

    position: Literal[0, 1, 2]
    """0 fresh, 1 softening or oxidising, 2 cross-linked."""
    text: str
    sources: Sources = msgspec.field(name="from")


class StageSigns(Record, frozen=True, kw_only=True):
    """How one stage looks and behaves on one adhesive."""

    stage: str
    signs: tuple[Claim, ...] = ()
    effects: tuple[Claim, ...] = ()
    removal: tuple[Claim, ...] = ()


class AgentResponse(Record, frozen=True, kw_only=True):
    """What handbooks say of a class of liquids on an adhesive for which no sphere is known."""

    agent: str
    response: Response
    sources: Sources = msgspec.field(name="from")


class Adhesive(Named, frozen=True, kw_only=True):
    shared_names: tuple[str, ...] = ()
    """As of a liquid: names that another entry bears too."""
    polymers: tuple[str, ...] = ()
    """The first one with a sphere is the base that must be reached."""
    group: str
    """Chemistry group for the similarity measure: natural rubber, synthetic rubber, acrylic ..."""
    fused: bool = False
    """Fused into the fibres, as a laminate: it must dissolve, for it cannot part from the paper."""
    stages: tuple[StageSigns, ...] = ()
    responses: tuple[AgentResponse, ...] = ()
    in_use: tuple[Claim, ...] = ()
    signs: tuple[Claim, ...] = ()
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")


class Usual(Record, frozen=True, kw_only=True):
    """How usual a tape is on paper documents, prints and maps, as far as anybody says."""

    how: HowUsual
    sources: Sources = msgspec.field(name="from")


class Tape(Named, frozen=True, kw_only=True):
    """A kind of tape: a carrier with an adhesive in an era."""

    carrier: str
    adhesive: str
    era: Claim
    on_documents: Usual | None = None
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")


class AgentSensitivity(Record, frozen=True, kw_only=True):
    """How a medium or paper takes one class of liquid (or heat)."""

    agent: str
    grade: Sensitivity
    text: str = ""
    sources: Sources = msgspec.field(name="from")


class Medium(Named, frozen=True, kw_only=True):
    """An ink, paint, toner or other mark; also ``bare-paper``, where there is none."""

    shared_names: tuple[str, ...] = ()
    """As of a liquid: names that another entry bears too."""
    group: str
    kin: str = ""
    """Group for the similarity measure; empty means: like nothing else."""
    polymers: tuple[str, ...] = ()
    cured: bool = False
    """Its oil or alkyd has dried to a network: liquids swell it and dissolve it no more."""
    sensitivity: tuple[AgentSensitivity, ...] = ()
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")


class Paper(Named, frozen=True, kw_only=True):
    """A paper or other support."""

    shared_names: tuple[str, ...] = ()
    """As of a liquid: names that another entry bears too."""
    polymers: tuple[str, ...] = ()
    sensitivity: tuple[AgentSensitivity, ...] = ()
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")


class Method(Named, frozen=True, kw_only=True):
    """A way to put a liquid on."""

    contact: Literal["free", "confined"]
    """free: rubbed or spreading; confined: held in place. Sets the method terms of the prior."""
    text: str
    dwell: Claim | None = None
    amount: Claim | None = None
    risk: Claim | None = None
    residue: Claim | None = None
    """What stays in the sheet afterwards, liquid or carrier of the liquid."""
    recipes: tuple[str, ...] = ()
    """Ids of recipes, with amounts, by which the gel or poultice is made up."""
    sources: Sources = msgspec.field(name="from")


Use = Literal["mend", "infill", "facing", "lining", "hinge", "guard", "remoistenable", "heat-set"]
Opacity = Literal[
    "almost invisible", "very sheer", "sheer", "translucent", "semi-translucent", "semi-opaque", "opaque"
]


class Tissue(Named, frozen=True, kw_only=True):
    """A kind of repair paper by fibre and weight. Measure the sheet in hand: these are ranges."""

    fibre: str
    made: Literal["by hand", "by machine", "by hand or machine"]
    grammage_g_m2: Figure
    thickness_um: Figure
    opacity: Opacity
    strength: Literal["low", "medium-low", "medium", "high", "very high"]
    ph: str = ""
    """In words; the figures are from memory throughout."""
    pure: bool = True
    """Whether it is free of wood pulp, which does not belong beside a sheet for long."""
    uses: tuple[Use, ...]
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")
