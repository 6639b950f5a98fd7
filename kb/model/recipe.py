"""Recipes: what goes into something made up at the bench, in what order, and how long it keeps."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Claim, Figure, Named, Record, Sources

RecipeBasis = Literal[
    "w/w",
    "w/v final",
    "w/v added",
    "parts by weight",
    "parts by volume",
    "parts by volume of dry powder",
    "parts, not stated",
    "by volume",
    "saturated",
    "as listed",
]
"""What the amounts mean.

w/w: grams in 100 g of mix. w/v final: grams made up to a volume. w/v added: grams to a volume of liquid that
is added. Parts by volume of dry powder: loose powder measured with a spoon, which does not say its weight.
Parts, not stated: the source does not say whether by weight or volume. By volume: liquids measured by
volume. Saturated: an excess of solid, of which part dissolves. As listed: things that do not mix into one.
"""

Role = Literal["solid", "liquid", "make up to", "mix", "support", "gas", "additive"]
"""``make up to``: the amount is the volume of the whole, not what is added. ``mix``: itself made up first."""

Category = Literal[
    "starch paste",
    "cellulose ether",
    "protein",
    "mixture",
    "coated tissue",
    "rigid gel",
    "alkaline bath",
    "washing water",
    "ink treatment",
    "solvent gel",
    "thickened liquid",
    "emulsion",
    "poultice",
    "infill pulp",
    "old record",
    "thinning guide",
]

HowOften = Literal["everyday", "sometimes", "seldom"]
"""How often a bench makes it: what is made every day leads a list, what is kept for old records ends it."""

Read = Literal["read", "partly read", "from memory", "common practice"]
"""How far the amounts were read in a source."""


class Ingredient(Record, frozen=True, kw_only=True):
    """One ingredient. Without ``amount`` it is taken as ``until`` says ("until clear").

    A range runs from ``amount`` to ``amount_high``. A liquid that the catalogue knows is named in ``liquid``
    and has its density there; without one, a volume is not turned into a weight.
    """

    name: str
    role: Role
    amount: float | None = None
    amount_high: float | None = None
    unit: str = ""
    until: str = ""
    liquid: str = ""
    recipe: str = ""
    """Id of the recipe by which this ingredient is made."""
    note: str = ""


class RecipeStep(Record, frozen=True, kw_only=True):
    """One step. Times and temperatures are ranges where the second figure is given."""

    text: str
    minutes: float | None = None
    minutes_high: float | None = None
    temp_c: float | None = None
    temp_high_c: float | None = None
    hold: bool = False
    """A point where the work may rest, or must wait until a person has looked."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Yield(Record, frozen=True, kw_only=True):
    """What the recipe makes, as the source or arithmetic has it."""

    amount: float
    unit: str
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class ShelfLife(Record, frozen=True, kw_only=True):
    """How long it keeps, in days; an upper limit, since smell, mould or colour end it sooner."""

    days: float | None = None
    days_high: float | None = None
    text: str = ""
    sources: Sources = msgspec.field(name="from")


class Consistency(Record, frozen=True, kw_only=True):
    """A working consistency: parts of water by weight added to one part of what was made."""

    name: str
    add_low: float
    add_high: float
    use: str
    sources: Sources = msgspec.field(name="from")


class Variant(Record, frozen=True, kw_only=True):
    """Another way or figure, kept because sources or houses differ."""

    name: str
    text: str
    percent: float | None = None
    percent_high: float | None = None
    sources: Sources = msgspec.field(name="from")


class Coverage(Record, frozen=True, kw_only=True):
    """How thickly the mix goes on, so that it can be made by area."""

    wet_film_um: float
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Recipe(Named, frozen=True, kw_only=True):
    """Something made up at the bench. Amounts scale together; times do not."""

    shared_names: tuple[str, ...] = ()
    """As of a liquid: names that another entry bears too."""
    category: Category
    made: HowOften = "sometimes"
    basis: RecipeBasis
    read_as: RecipeBasis | None = None
    """Where the source does not say what its parts are: how they are taken here, told with each answer."""
    basis_note: str = ""
    ingredients: tuple[Ingredient, ...] = ()
    makes: Yield | None = None
    density_g_ml: Figure | None = None
    """Of the mix, for turning millilitres into grams."""
    strength_percent_ww: Figure | None = None
    strength_note: str = ""
    steps: tuple[RecipeStep, ...] = ()
    consistency: tuple[Consistency, ...] = ()
    thinned_by: str = ""
    """Id of the guide to its working consistencies."""
    coverage: Coverage | None = None
    shelf_life: tuple[ShelfLife, ...] = ()
    storage: str = ""
    uses: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    """Words for the label: caustic, flammable."""
    cautions: tuple[Claim, ...] = ()
    variants: tuple[Variant, ...] = ()
    read: Read
    sources: Sources = msgspec.field(name="from")
