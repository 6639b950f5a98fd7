"""What a studio's own entry may not take away from a shipped one: stops and hazards are only added to.

An entry of the same id arrives from a colleague's package or a shared folder as easily as from one's own
hand, and a weakened stop looks like any other answer.
"""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec

from kb.catalogue.problems import Fault, quoted
from kb.model.base import Record
from kb.model.guidance import Caution
from kb.model.liquid import Classification, Family, Liquid

T = TypeVar("T")
SIGNAL_WORDS = ("", "warning", "danger")
"""From weak to strong."""


def joined(shipped: Record, own: Record) -> tuple[Record, list[Fault]]:
    """The studio's entry with what it may not take away put back, and what to tell of that."""
    if isinstance(shipped, Caution) and isinstance(own, Caution):
        return _caution(shipped, own)
    if isinstance(shipped, Liquid) and isinstance(own, Liquid):
        return _liquid(shipped, own)
    if isinstance(shipped, Family) and isinstance(own, Family):
        return _family(shipped, own)
    return own, []


def _family(shipped: Family, own: Family) -> tuple[Record, list[Fault]]:
    if own.agent == shipped.agent:
        return own, []
    said = f"stops rest on {quoted(shipped.agent)}, the agent of the shipped entry; it stays"
    return msgspec.structs.replace(own, agent=shipped.agent), [Fault(("agent",), said)]


def _caution(shipped: Caution, own: Caution) -> tuple[Record, list[Fault]]:
    if shipped.severity != "stop" or own == shipped:
        return own, []
    said = f"{quoted(own.id)} is a stop that ships with the program; it stays and this entry does not count"
    return shipped, [Fault(("id",), said, "an id of its own for what is to be added")]


def _liquid(shipped: Liquid, own: Liquid) -> tuple[Record, list[Fault]]:
    made: dict[str, Any] = {}
    if shipped.classification is not None:
        made["classification"] = _hazards(shipped.classification, own.classification)
    if own.family != shipped.family:
        made["family"] = shipped.family
    for name in ("limits", "restrictions", "handling"):
        made[name] = _more(getattr(shipped, name), getattr(own, name))
    whole = msgspec.structs.replace(own, **made)
    changed = [name for name in made if getattr(whole, name) != getattr(own, name)]
    faults = [
        Fault((name,), f"the {name} of the shipped entry can be added to, not taken away; it stays")
        for name in changed
    ]
    return whole, faults


def _hazards(shipped: Classification, own: Classification | None) -> Classification:
    if own is None:
        return shipped
    lists = ("statements", "supplier_statements", "euh", "classes", "pictograms")
    return msgspec.structs.replace(
        own,
        signal_word=max(shipped.signal_word, own.signal_word, key=_strength),
        **{name: _more(getattr(shipped, name), getattr(own, name)) for name in lists},
    )


def _strength(word: str) -> int:
    low = word.lower()
    return SIGNAL_WORDS.index(low) if low in SIGNAL_WORDS else 0


def _more(shipped: tuple[T, ...], own: tuple[T, ...]) -> tuple[T, ...]:
    """The own ones, and behind them those of the shipped entry that are missing there."""
    return (*own, *(one for one in shipped if one not in own))
