"""What typed words were taken for, said back wherever something is stored or a danger is told."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

from kb.desk.studio import Studio
from kb.index.queries import entry

KINDS = ("tape", "adhesive", "stage", "carrier", "medium", "paper", "method", "recipe", "tissue")
"""Fields of records that hold the id of an entry of the kind they are named after."""


def liquids(studio: Studio, parts: Mapping[str, float]) -> str:
    """``Benzene [benzene, CAS 71-43-2]``; of a blend every part with its share by volume."""
    said = []
    for liquid, share in parts.items():
        row = entry(studio.index.conn, "liquid", liquid)
        cas = _cas(row.body) if row else ""
        named = f"{row.name if row else liquid} [{liquid}{f', CAS {cas}' if cas else ', no CAS number'}]"
        said.append(named if len(parts) == 1 else f"{share * 100:.4g} % {named}")
    return " + ".join(said)


def understood(studio: Studio, body: Any) -> tuple[str, ...]:
    """One line for each entry of the catalogue that a record names: ``medium: Iron gall ink [iron-gall]``."""
    said = []
    parts = getattr(body, "parts", None)
    single = getattr(body, "liquid", "")
    if parts or single:
        said.append(f"liquid: {liquids(studio, parts or {single: 1.0})}")
    for kind in KINDS:
        named = getattr(body, kind, "")
        # A mend is made with a paste, which is a recipe, or with an adhesive of the catalogue.
        for word in ("recipe", kind) if named and kind == "adhesive" else (kind,) if named else ():
            if row := entry(studio.index.conn, word, named):
                said.append(f"{kind}: {row.name} [{row.id}]")
                break
    return tuple(said)


def understood_of(studio: Studio, changes: Mapping[str, Any]) -> tuple[str, ...]:
    """The same for an amendment: only what it names anew."""
    return understood(studio, SimpleNamespace(**changes))


def _cas(body: bytes) -> str:
    from msgspec import json

    return str(json.decode(body).get("cas", ""))
