"""The shelf of this studio: liquids held and forbidden, and bottles with what is due."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import NamedTuple

import msgspec
from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.widgets import Static

from kb.book.kinds.bottle import BOTTLE, Bottle
from kb.book.kinds.kind import plain_of
from kb.desk.errors import DeskError
from kb.desk.materials.resolve import liquids, resolve
from kb.desk.shelf import bottles, shelf
from kb.desk.shelf.bottles import BottleView, Due
from kb.desk.shelf.shelf import OnShelf, Prohibition, ShelfView
from kb.desk.studio import Studio
from kb.model.studio import RULE_WORDS
from kb.science.numbers import counted
from kb.tui.actions import FRESH, Act, bindings, keys_in_words
from kb.tui.day import today
from kb.tui.screens.ask_why import AskWhy, stores, withdraw
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.few_lines import Asked, FewLines, lines_of
from kb.tui.text import line
from kb.tui.widgets.choice_row import One
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.table import Table

SHELF = (
    Act("next_part", "tab", "Part", "Go to the next of the three parts"),
    Act("hold", "space", "Hold", "List this liquid as held, or take it off the list"),
    Act("forbid", "x", "Forbid", "Forbid this liquid, and say why and whose rule it is"),
    Act("allow", "a", "Allow", "Take back what forbids this liquid, or this prohibition"),
    Act("new_bottle", "n", "New bottle", "Write down a bottle"),
    Act("tested", "p", "Peroxides", "Write down a test of this bottle for peroxides"),
    Act("finished", "e", "Finished", "This bottle was used up or thrown away"),
    Act("withdraw", "w", "Withdraw", "This bottle was written down by mistake; say why"),
    Act("stock", "k", "Stock", "Papers, tissues, starches and boards by lot", foot=False),
    Act("others", "o", "Others", "Counts of tests that other studios gave", foot=False),
    FRESH,
    Act("dismiss", "escape", "Back", "Back to the materials"),
)
LISTS = ("shelf-liquids", "shelf-forbids", "shelf-bottles")
COLUMNS = (
    (Column("name", "Liquid"), Column("held", "Held", whole=True), Column("rule", "Rule", whole=True)),
    (Column("why", "Rule and why"), Column("what", "Takes out")),
    (
        Column("name", "Bottle"),
        Column("due", "To do", whole=True),
        Column("opened", "Opened", whole=True, spare=True),
        Column("expires", "Expires", whole=True, spare=True),
        Column("tested", "Peroxides tested", spare=True),
        Column("lot", "Lot", spare=True),
    ),
)
DATES = "A date is written 2026-05-31, 2026-05 or today."
RULES = tuple(One(rule[0], rule, words, f"{rule[0].upper()} {rule}") for rule, words in RULE_WORDS.items())
WHY = (Asked("why", "Why", "a few words"), Asked("rule", "Whose rule", choices=RULES))
NEW_BOTTLE = lines_of(BOTTLE, {"opened": "today"})
TESTED = (
    Asked("on", "Tested on", value="today"),
    Asked("result", "Result", "below 1 mg/l, or what was seen"),
)
FINISHED = (Asked("on", "Last day", value="today"),)
ON_A_BOTTLE = {"tested", "finished", "withdraw"}
FIRST = (
    "Nothing is listed as held yet, so every liquid counts as held. If {name} is listed, only what is listed "
    "counts from then on."
)
NOTHING = (
    "The catalogue holds no liquid.",
    "Nothing is forbidden here. X on a liquid forbids it.",
    "No bottle is written down. N writes one down.",
)


class ShelfScreen(DeskScreen[None]):
    """Three lists, and below them the row under the cursor in full."""

    TITLE_WORDS = "Shelf"
    HELP = (
        "What this studio holds, what it forbids and why, and its bottles. The ranking leaves out what is "
        "forbidden or not held, and says so.\n"
        "With nothing listed as held, every liquid counts as held.\n\n"
        "What is due stands in capitals behind a '!': a bottle past its date, one that is about to be, one "
        "without any date, and a peroxide former (EUH019) that was neither opened nor tested lately. How "
        "often to test is common practice without a source; shelf.yaml sets it. What a result means, the "
        "data sheet and the test kit say.\n\n"
        "A whole family, or a statement on labels, is forbidden in the file shelf.yaml of the studio.\n"
        f"{DATES}\n\n{keys_in_words(SHELF)}"
    )
    BINDINGS = bindings(SHELF)
    CSS = """
    ShelfScreen #shelf-body { height: 1fr; layout: vertical; }
    ShelfScreen .part { height: 3fr; }
    ShelfScreen #part-forbids { height: 2fr; }
    ShelfScreen .part > Table { height: 1fr; padding: 0 0 0 1; }
    ShelfScreen #shelf-said { height: 3; padding: 0 1; border-top: solid $secondary; }
    ShelfScreen.-wide #shelf-body { layout: grid; grid-size: 2 2; grid-columns: 2fr 3fr; grid-rows: 2fr 3fr; }
    ShelfScreen.-wide .part { height: 100%; }
    ShelfScreen.-wide #part-liquids { row-span: 2; }
    ShelfScreen.-high #shelf-said { height: 5; }
    """

    stock: Stock | None = None

    def body(self) -> ComposeResult:
        with Container(id="shelf-body"):
            for name, columns, nothing in zip(LISTS, COLUMNS, NOTHING, strict=True):
                with Vertical(id=f"part-{name.removeprefix('shelf-')}", classes="part"):
                    yield Static("", id=f"head-{name}", classes="heading", markup=False)
                    yield Table(columns, id=name, nothing=nothing, opens=False)
        yield Static("Reading the shelf ...", id="shelf-said", markup=False)

    def listed(self, name: str) -> Table:
        return self.query_one(f"#{name}", Table)

    def on_mount(self) -> None:
        self.listed(LISTS[0]).focus()

    def action_fresh(self) -> None:
        self.ask(stock, self._show, group="stock", failed=self._tell)

    # -- showing ----------------------------------------------------------------------------------

    def _show(self, stock: Stock) -> None:
        self.stock = stock
        view = stock.view
        held = sum(one.held for one in view.liquids)
        counted = f"{held} of {len(view.liquids)} listed as held"
        if not view.listed:
            counted = f"none listed, so all {len(view.liquids)} count as held"
        due = sum(map(len, stock.due.values()))
        heads = (
            f"Liquids: {counted}",
            f"Forbidden: {len(view.forbids) or 'nothing'}",
            f"Bottles: {len(stock.bottles) or 'none'}{f'; {due} due' if due else ''}",
        )
        rows = (
            [TableRow(one.id, (one.name, *state(stock, one))) for one in view.liquids],
            [TableRow(repr(one), forbidden_cells(stock, one)) for one in view.forbids],
            # What is due first: on a small screen the rest lies below the edge.
            [
                TableRow(one.id, bottle_cells(stock, one))
                for one in sorted(stock.bottles, key=lambda one: not stock.due.get(one.id))
            ],
        )
        for name, head, found in zip(LISTS, heads, rows, strict=True):
            self.query_one(f"#head-{name}", Static).update(line(head))
            self.listed(name).show(found)
        self._tell_row()
        self.refresh_bindings()

    @property
    def here(self) -> OnShelf | Prohibition | BottleView | None:
        """What the cursor is on in the list that has the focus."""
        if self.stock is None or not isinstance(self.focused, Table):
            return None
        rows: dict[str, dict[str, OnShelf | Prohibition | BottleView]] = {
            LISTS[0]: {one.id: one for one in self.stock.view.liquids},
            LISTS[1]: {repr(one): one for one in self.stock.view.forbids},
            LISTS[2]: {one.id: one for one in self.stock.bottles},
        }
        return rows.get(self.focused.id or "", {}).get(self.focused.key_here)

    @property
    def liquid(self) -> OnShelf | None:
        """The liquid of the row, which may be that of a bottle."""
        here = self.here
        wanted = here.liquid if isinstance(here, BottleView) else getattr(here, "id", "")
        return (
            next((one for one in self.stock.view.liquids if one.id == wanted), None) if self.stock else None
        )

    @property
    def bottle(self) -> BottleView | None:
        here = self.here
        return here if isinstance(here, BottleView) else None

    @on(Table.RowHighlighted)
    def _tell_row(self) -> None:
        """The row in full, below the lists; what is wrong in the shelf's file comes first."""
        if self.stock is None:
            return
        here, words = self.here, ""
        if isinstance(here, OnShelf):
            words = liquid_said(self.stock, here)
        elif isinstance(here, Prohibition):
            words = forbidden_words(self.stock, here)
        elif here is not None:
            words = bottle_said(self.stock, here)
        self._tell(" ".join((*self.stock.view.problems, words)))

    def _tell(self, words: str) -> None:
        self.query_one("#shelf-said", Static).update(line(words))

    def on_descendant_focus(self) -> None:
        self._tell_row()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action in ON_A_BOTTLE:
            return self.bottle is not None
        if action in {"hold", "forbid"}:
            return self.liquid is not None and self.bottle is None
        if action == "allow":
            return self.here is not None and (self.liquid is None or not self.liquid.allowed)
        return True

    def action_next_part(self) -> None:
        at = LISTS.index(self.focused.id) if self.focused and self.focused.id in LISTS else -1
        self.listed(LISTS[(at + 1) % len(LISTS)]).focus()

    def action_others(self) -> None:
        from kb.tui.screens.pool.pool import PoolScreen

        self.app.push_screen(PoolScreen())

    def action_stock(self) -> None:
        """What lies beside the bottles; the palette has the form that writes a lot down."""
        self.ask(stock_words, partial(self.note, "Stock beside the bottles"), group="stock")

    # -- changing ---------------------------------------------------------------------------------

    def action_hold(self) -> None:
        """List it or take it off; ask before the first one, since that changes what all others count as."""
        one, stock = self.liquid, self.stock
        if one is None or stock is None:
            return
        if stock.view.listed:
            self._hold(one, held=one.held)
            return
        answers = (("n", "no", "Leave it"), ("y", "yes", f"List {one.name} as held"))
        says = FIRST.format(name=one.name)
        self.sure("The first liquid on the list", says, answers, partial(self._hold, one, held=False))

    def _hold(self, one: OnShelf, *, held: bool) -> None:
        self.ask(partial(hold, liquid=one.id, held=held), self.tell_done, group="change")

    def action_forbid(self) -> None:
        if one := self.liquid:
            says = f"{one.name} is left out of every ranking here, with your reason beside it."
            store = partial(forbid, liquid=one.id)
            self.app.push_screen(FewLines(f"Forbid {one.name}", WHY, store, says=says), self.tell_done)

    def action_allow(self) -> None:
        """Ask once more, since the reason goes with the prohibition."""
        here, stock = self.here, self.stock
        if here is None or stock is None:
            return
        if isinstance(here, Prohibition):
            verb = partial(allow, liquids=here.liquids, families=here.families, hazards=here.hazards)
            text = forbidden_words(stock, here)
        elif one := self.liquid:
            verb = partial(allow, liquids=(one.id,), families=(), hazards=())
            text = one.why
        else:
            return
        answers = (
            ("k", "keep", "Keep it forbidden"),
            ("delete", "take", "Take it back; the reason goes with it"),
        )
        self.sure("Allow again", text, answers, partial(self.ask, verb, self.tell_done, group="change"))

    def action_new_bottle(self) -> None:
        """The form, with the liquid of the row filled in; the first is where one stands without a choice."""
        one = self.liquid
        before = {"liquid": one.name} if one and self.stock and one is not self.stock.view.liquids[0] else {}
        form = FewLines("New bottle", NEW_BOTTLE, new_bottle, before, says=DATES)
        self.app.push_screen(form, self.tell_done)

    def action_tested(self) -> None:
        if one := self.bottle:
            store = partial(tested, bottle=one.id)
            says = f"{bottle_name(one)}, {bottle_days(one)}."
            self.app.push_screen(FewLines("Tested for peroxides", TESTED, store, says=says), self.tell_done)

    def action_finished(self) -> None:
        if one := self.bottle:
            store = partial(finished, bottle=one.id)
            says = f"{bottle_name(one)}, {bottle_days(one)}, was used up or thrown away."
            self.app.push_screen(FewLines("Bottle finished", FINISHED, store, says=says), self.tell_done)

    def action_withdraw(self) -> None:
        if one := self.bottle:
            says = f"{bottle_name(one)}, {bottle_days(one)}. Its record stays readable."
            asked = AskWhy("A bottle written down by mistake", says, "Withdraw it", partial(withdraw, one.id))
            done = "The bottle is off the list; its record stays in the book."
            self.app.push_screen(asked, lambda written: self.tell_done(done if written else None))


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
