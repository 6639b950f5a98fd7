"""The kinds of catalogue entry: the key of their list in YAML, their record type, their word."""

from __future__ import annotations

from functools import lru_cache
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from kb.model.base import Record


class Kind(NamedTuple):
    """One kind of entry. ``key`` is the YAML list, ``word`` what a user reads, ``record`` file and type."""

    key: str
    word: str
    record: str

    @property
    def type(self) -> type[Record]:
        """Its record type, loaded when it is asked for: an answer about one kind needs no other."""
        file, name = self.record.split(".")
        found: type[Record] = getattr(import_module(f"kb.model.{file}"), name)
        return found


KINDS: tuple[Kind, ...] = (
    Kind("sources", "source", "base.Source"),
    Kind("families", "family", "liquid.Family"),
    Kind("hazards", "hazard", "guidance.Hazard"),
    Kind("liquids", "liquid", "liquid.Liquid"),
    Kind("polymers", "polymer", "material.Polymer"),
    Kind("stages", "stage", "material.Stage"),
    Kind("adhesives", "adhesive", "material.Adhesive"),
    Kind("carriers", "carrier", "material.Carrier"),
    Kind("tapes", "tape", "material.Tape"),
    Kind("media", "medium", "material.Medium"),
    Kind("papers", "paper", "material.Paper"),
    Kind("methods", "method", "material.Method"),
    Kind("cautions", "caution", "guidance.Caution"),
    Kind("reports", "report", "guidance.Report"),
    Kind("practice", "practice", "guidance.Practice"),
    Kind("looks", "look", "identification.Look"),
    Kind("tissues", "tissue", "material.Tissue"),
    Kind("guidelines", "guideline", "guidance.Guideline"),
    Kind("recipes", "recipe", "recipe.Recipe"),
    Kind("authorities", "authority", "protection.Authority"),
    Kind("pairs", "pair", "liquid.Pair"),
    Kind("miscibilities", "miscibility", "liquid.Miscibility"),
    Kind("gloves", "glove", "protection.Glove"),
    Kind("precautions", "precaution", "protection.Precaution"),
)
BY_KEY: dict[str, Kind] = {kind.key: kind for kind in KINDS}
BY_WORD: dict[str, Kind] = {kind.word: kind for kind in KINDS}


@lru_cache(maxsize=8192)
def plain_id(text: str) -> str:
    """The canonical form of an id: lower case, hyphens for underscores and blanks."""
    return text.strip().lower().replace("_", "-").replace(" ", "-")
