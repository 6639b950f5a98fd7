"""The full record of a liquid from the index."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from kb.index.queries import entry
from kb.model.liquid import Liquid

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def liquid_of(studio: Studio, liquid_id: str) -> Liquid | None:
    """The full record of a liquid."""
    row = entry(studio.index.conn, "liquid", liquid_id)
    return msgspec.json.decode(row.body, type=Liquid) if row else None
