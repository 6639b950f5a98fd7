"""What a picker offers for the words typed so far. Runs in a thread, under the desk's lock."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from kb.tui.screens.choose.asked import BY_NAME, Filled

if TYPE_CHECKING:
    from kb.desk.studio import Studio

SHOWN = 40
"""Finds shown for what is typed."""
LISTED = 300
"""Entries listed while nothing is typed; a longer list is read by nobody and slow to draw."""
NOTHING: Mapping[str, Filled] = {}


class Offer(NamedTuple):
    """One line of a picker. ``what`` None empties the blank; ``brings`` fills other blanks with it."""

    what: Filled | None
    name: str
    words: str
    brings: Mapping[str, Filled] = NOTHING
    stays: bool = False
    """Only a word to the reader: taking it does nothing."""
    near: bool = False
    """Only its spelling is like what was typed: taken where a person goes to it, never of itself."""


def offers(studio: Studio, blank: str, text: str) -> list[Offer]:
    """Likeliest first; everything that fits while nothing is typed. "Not known" is always the first."""
    if blank == "sheet":
        return _sheets(studio, text)
    from kb.desk.materials import lookup

    kinds = BY_NAME[blank].kinds if blank in BY_NAME else (blank,)
    if text.strip():
        rows = [
            (one.kind, one.id, one.name, _also(one.name, one.matched), one.near)
            for one in lookup.find(studio, text, kinds, SHOWN)
        ]
    else:
        rows = [(kind, *row, "", False) for kind in kinds for row in lookup.names(studio, kind)]
    first = [Offer(None, "not known", "leave the blank empty")] if blank != "liquid" else []
    listed = [_offer(studio, blank, *row) for row in rows[:LISTED]]
    if len(rows) > LISTED:
        listed.append(Offer(None, f"... and {len(rows) - LISTED:,} more", "type part of a name", stays=True))
    return first + listed


def _also(name: str, matched: str) -> str:
    """The other name that was met, where the name itself does not show why it is listed."""
    return f", also {matched}" if matched and matched.lower() not in name.lower() else ""


def _offer(studio: Studio, blank: str, kind: str, entry_id: str, name: str, also: str, near: bool) -> Offer:
    brings = NOTHING
    if blank == "tape" and kind == "tape":
        _, _, carrier = studio.compiled.tapes.get(entry_id, ("", "", ""))
        if carrier:
            carrier_name = studio.compiled.carrier_names.get(carrier, carrier)
            brings = {"carrier": Filled("carrier", carrier, carrier_name)}
    return Offer(Filled(kind, entry_id, name), name, f"{kind}{also}", brings, near=near)


def _sheets(studio: Studio, text: str) -> list[Offer]:
    """Sheets by any part of what they are called, then what is near in spelling; founding one is the last."""
    from kb.desk.records import record
    from kb.desk.sheet.sheets import sheets_like

    typed = text.strip()
    counts = dict(record.sheet_names(studio))
    borne, near = sheets_like(studio, typed)
    made = [Offer(None, "none", "no sheet named")]
    for name, alike in (*((name, False) for name in borne), *((name, True) for name in near)):
        count = counts.get(name, 0)
        tests = "1 test" if count == 1 else f"{count} tests" if count else "no test yet"
        made.append(Offer(Filled("sheet", name, name), name, tests, near=alike))
    made = made[: SHOWN + 1]
    if typed and typed.casefold() not in {name.casefold() for name in borne}:
        # Where there is anything like it, a new sheet is founded only by going to its line.
        new = Offer(Filled("sheet", typed, typed), typed, "a new sheet", near=len(made) > 1)
        made.append(new)
    return made
