"""The kinds of catalogue entry: the key of their list in YAML, their record type, their word."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from kb.model.base import Record, Source
from kb.model.guidance import Caution, Hazard, Practice, Report
from kb.model.guideline import Guideline
from kb.model.liquid import Family, Liquid
from kb.model.material import Adhesive, Carrier, Medium, Method, Paper, Polymer, Stage, Tape
from kb.model.mixing import Miscibility
from kb.model.protection import Glove, Precaution
from kb.model.recipe import Recipe
from kb.model.sign import Look
from kb.model.tissue import Tissue


class Kind(NamedTuple):
    """One kind of entry. ``key`` is the YAML list, ``word`` what a user reads."""

    key: str
    word: str
    type: type[Record]


KINDS: tuple[Kind, ...] = (
    Kind("sources", "source", Source),
    Kind("families", "family", Family),
    Kind("hazards", "hazard", Hazard),
    Kind("liquids", "liquid", Liquid),
    Kind("polymers", "polymer", Polymer),
    Kind("stages", "stage", Stage),
    Kind("adhesives", "adhesive", Adhesive),
    Kind("carriers", "carrier", Carrier),
    Kind("tapes", "tape", Tape),
    Kind("media", "medium", Medium),
    Kind("papers", "paper", Paper),
    Kind("methods", "method", Method),
    Kind("cautions", "caution", Caution),
    Kind("reports", "report", Report),
    Kind("practice", "practice", Practice),
    Kind("looks", "look", Look),
    Kind("tissues", "tissue", Tissue),
    Kind("guidelines", "guideline", Guideline),
    Kind("recipes", "recipe", Recipe),
    Kind("miscibilities", "miscibility", Miscibility),
    Kind("gloves", "glove", Glove),
    Kind("precautions", "precaution", Precaution),
)
BY_KEY: dict[str, Kind] = {kind.key: kind for kind in KINDS}
BY_WORD: dict[str, Kind] = {kind.word: kind for kind in KINDS}


@lru_cache(maxsize=8192)
def plain_id(text: str) -> str:
    """The canonical form of an id: lower case, hyphens for underscores and blanks."""
    return text.strip().lower().replace("_", "-").replace(" ", "-")
