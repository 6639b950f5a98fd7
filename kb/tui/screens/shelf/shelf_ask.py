"""What the shelf screen asks of the desk, and its rows in words. Asking runs in a thread."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from kb.desk.errors import DeskError
from kb.desk.shelf import bottles, shelf
from kb.model.studio import RULE_WORDS
from kb.science.numbers import counted
from kb.tui.day import today
from kb.tui.screens.ask_why import stores

if TYPE_CHECKING:
    from kb.desk.shelf.bottles import BottleView, Due
    from kb.desk.shelf.shelf import OnShelf, Prohibition, ShelfView
    from kb.desk.studio import Studio

DUE: dict[str, str] = {
    "expired": "EXPIRED",
    "expires soon": "EXPIRES SOON",
    "peroxide test": "PEROXIDE TEST DUE",
    "undated": "NO DATE KNOWN",
}
NAMED = 12
"""Liquids of one prohibition that are named in its row; more are counted."""


class Stock(NamedTuple):
    """The shelf on one day. ``due`` holds what is due by bottle."""

    view: ShelfView
    bottles: list[BottleView]
    due: Mapping[str, list[Due]]
    today: date

    def name(self, liquid: str) -> str:
        """The name of a liquid; its id if the catalogue does not know it."""
        return next((one.name for one in self.view.liquids if one.id == liquid), liquid)


def stock(studio: Studio) -> Stock:
    """The shelf as it stands now, with what other programs wrote."""
    studio.refresh()
    day = today()
    late: dict[str, list[Due]] = {}
    for one in bottles.due(studio, day):
        late.setdefault(one.bottle, []).append(one)
    view = shelf.shelf(studio)
    # What is held is looked for most; without a list all are alike.
    liquids = tuple(sorted(view.liquids, key=lambda one: not one.held))
    return Stock(msgspec.structs.replace(view, liquids=liquids), bottles.all_bottles(studio), late, day)


# -- rows in words ---------------------------------------------------------------------------------


def state(stock: Stock, one: OnShelf) -> tuple[str, str]:
    """``held`` or ``not held``, empty while nothing is listed; and whether it is forbidden."""
    held = ("held" if one.held else "not held") if stock.view.listed else ""
    return held, "" if one.allowed else "FORBIDDEN"


def liquid_said(stock: Stock, one: OnShelf) -> str:
    """What stands below the lists while the cursor is on a liquid."""
    if one.why:
        return f"{one.why}."
    held = "is listed as held" if stock.view.listed else "counts as held, since nothing is listed"
    return f"{one.name} {held}. Nothing stands against it here."


def forbidden_words(stock: Stock, one: Prohibition) -> str:
    """Whose rule, why, and what it takes out: ``Health: carcinogenic - Benzene (H350)``."""
    return " - ".join(forbidden_cells(stock, one))


def forbidden_cells(stock: Stock, one: Prohibition) -> tuple[str, str]:
    """Whose rule and why, and what it takes out."""
    rule = RULE_WORDS[one.rule]
    meant = [
        *(f"family {family}" for family in one.families),
        *(f"label with {code}" for code in one.hazards),
    ]
    covered = [stock.name(liquid) for liquid in one.covers]
    more = f" and {len(covered) - NAMED} more" if len(covered) > NAMED else ""
    told = f"{', '.join(covered[:NAMED])}{more}" or "no liquid of the catalogue"
    by = f" ({'; '.join(meant)})" if meant else ""
    return f"{rule[:1].upper()}{rule[1:]}: {one.why}", f"{told}{by}"


def bottle_name(one: BottleView) -> str:
    """``Diethyl ether (by the window)``."""
    return f"{one.name} ({one.label})" if one.label else one.name


def bottle_days(one: BottleView) -> str:
    """When it was opened, expires and was tested."""
    tested = " ".join(filter(None, (one.peroxide_tested, one.peroxide_result)))
    parts = (
        f"opened {one.opened or 'not known'}",
        f"expires {one.expires}" if one.expires else "no expiry known",
        f"peroxides tested {tested}" if tested else "",
        f"lot {one.lot}" if one.lot else "",
    )
    return ", ".join(filter(None, parts))


def bottle_cells(stock: Stock, one: BottleView) -> tuple[str, ...]:
    """Name, what is due, and its days; what was never written down is empty."""
    tested = " ".join(filter(None, (one.peroxide_tested, one.peroxide_result)))
    return bottle_name(one), due_words(stock, one), one.opened, one.expires, tested, one.lot


def due_words(stock: Stock, one: BottleView) -> str:
    """``! PEROXIDE TEST DUE, 40 days late``; empty if nothing is due."""
    return "; ".join(f"! {_due(thing)}" for thing in stock.due.get(one.id, ()))


def _due(thing: Due) -> str:
    """One thing to do, in capitals, and how far its day is away."""
    word = DUE[thing.what]
    if thing.days is None or thing.what == "undated":
        return word
    days = counted(abs(thing.days), "day")
    if thing.what == "expires soon":
        return f"{word}, {days} to go" if thing.days else f"{word}, today"
    return f"{word}, {days} {'ago' if thing.what == 'expired' else 'late'}"


def bottle_said(stock: Stock, one: BottleView) -> str:
    """What stands below the lists while the cursor is on a bottle."""
    things = [f"{due.text}{f' ({due.mark})' if due.mark else ''}" for due in stock.due.get(one.id, ())]
    told = " ".join(things) or "Nothing is due."
    return f"{bottle_name(one)}, {bottle_days(one)}. {told} Written down by {one.who}."


# -- changes ---------------------------------------------------------------------------------------


def hold(studio: Studio, *, liquid: str, held: bool) -> str:
    """List a liquid as held, or take it off the list; what that did in words."""
    return (shelf.unhold if held else shelf.hold)(studio, [liquid]).text


@stores
def forbid(studio: Studio, values: Mapping[str, str], *, liquid: str) -> str:
    rule = next((one for one in ("local", "building", "health", "other") if one == values["rule"]), None)
    if rule is None:
        raise DeskError("Say whose rule it is.")
    return shelf.forbid(studio, liquids=[liquid], why=values["why"], rule=rule).text


def allow(
    studio: Studio, *, liquids: tuple[str, ...], families: tuple[str, ...], hazards: tuple[str, ...]
) -> str:
    return shelf.allow(studio, liquids=liquids, families=families, hazards=hazards).text


def day(text: str) -> str:
    """A date as typed; "today" is today's, "unknown" is none."""
    word = text.strip().lower()
    return (
        today().isoformat() if word == "today" else "" if word in {"unknown", "not known", "?", "-"} else word
    )


@stores
def new_bottle(studio: Studio, values: Mapping[str, str]) -> str:
    from kb.book.kinds.bottle import BOTTLE, Bottle
    from kb.book.kinds.kind import plain_of
    from kb.desk.materials.resolve import liquids, resolve

    liquid = resolve(studio, "liquid", values["liquid"])
    written = {
        field.name: day(values[key]) if field.says.reads == "day" else values[key].strip()
        for key, (field, *_) in plain_of(BOTTLE).items()
        if key in values
    }
    bottles.open_bottle(studio, Bottle(**{**written, "liquid": liquid}), today())
    against = shelf.allowed(studio, {liquid: 1.0}).why
    said = f"The bottle is written down: {liquids(studio, {liquid: 1.0})}."
    return said + (f" Mind: {against}." if against else "")


@stores
def tested(studio: Studio, values: Mapping[str, str], *, bottle: str) -> str:
    bottles.peroxide_tested(studio, bottle, on=day(values["on"]), result=values["result"], today=today())
    return "The test is written down; earlier ones stay in the book."


@stores
def finished(studio: Studio, values: Mapping[str, str], *, bottle: str) -> str:
    bottles.finish(studio, bottle, on=day(values["on"]), today=today())
    return "The bottle is off the list; its record stays in the book."


def stock_words(studio: Studio) -> str:
    """Every lot of paper, tissue, starch and board that is not used up, by sort."""
    lots = shelf.in_stock(studio, today())
    said = [f"{lot.sort}: {lot.text}{' - PAST ITS DAY' if lot.past else ''}" for lot in lots]
    return "\n".join(said) or "Nothing is written down. Ctrl+P, then Stock, writes a lot down."
