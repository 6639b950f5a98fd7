"""Ids of the catalogue in the words that a person reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def parts_words(parts: Mapping[str, float], names: Mapping[str, str]) -> str:
    """``Acetone`` or ``Acetone 50 % + n-Heptane 50 %``."""
    if len(parts) == 1:
        only = next(iter(parts))
        return names.get(only, only)
    return " + ".join(f"{names.get(one, one)} {share * 100:.4g} %" for one, share in parts.items())


class Names:
    """Names of what a spot test is made of. An id that is not known stays as it is."""

    def __init__(self, studio: Studio) -> None:
        compiled = studio.compiled
        self._names: dict[str, Mapping[str, str]] = {
            "liquid": {one.id: one.name for one in compiled.liquids},
            "adhesive": {key: one.name for key, one in compiled.adhesives.items()},
            "medium": {key: one.name for key, one in compiled.media.items()},
            "paper": {key: one.name for key, one in compiled.papers.items()},
            "tape": {key: one[0] for key, one in compiled.tapes.items()},
            "stage": compiled.stage_names,
            "carrier": compiled.carrier_names,
            "method": compiled.method_names,
        }

    def of(self, kind: str, entry_id: str) -> str:
        return self._names[kind].get(entry_id, entry_id)

    def parts(self, parts: Mapping[str, float]) -> str:
        return parts_words(parts, self._names["liquid"])

    def blend(self, text: str) -> str:
        """The same from the text that names a blend in a list: ``acetone 50 + n-heptane 50``."""
        pieces = [piece.rsplit(" ", 1) for piece in text.split(" + ")]
        if len(pieces) == 1:
            return self.of("liquid", text)
        return " + ".join(f"{self.of('liquid', one[0])} {one[-1]} %" for one in pieces)
