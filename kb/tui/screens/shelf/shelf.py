"""The shelf of this studio: liquids held and forbidden, and bottles with what is due."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.widgets import Static

from kb.book.kinds.bottle import BOTTLE
from kb.model.studio import RULE_WORDS
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.screens.ask_why import AskWhy, withdraw
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.few_lines import Asked, FewLines, lines_of
from kb.tui.screens.shelf import shelf_ask as desk
from kb.tui.screens.shelf.shelf_ask import Stock
from kb.tui.text import line
from kb.tui.widgets.choice_row import One
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.table import Table

if TYPE_CHECKING:
    from kb.desk.shelf.bottles import BottleView
    from kb.desk.shelf.shelf import OnShelf, Prohibition

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
    Act("fresh", "f9", "Fresh", "Take in what other programs wrote", foot=False),
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

    def __init__(self) -> None:
        super().__init__()
        self.stock: Stock | None = None

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

    def on_screen_resume(self) -> None:
        """The shelf may have changed while another screen was shown."""
        self.action_fresh()

    def action_fresh(self) -> None:
        self.ask(desk.stock, self._show, group="stock", failed=self._tell)

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
            [TableRow(one.id, (one.name, *desk.state(stock, one))) for one in view.liquids],
            [TableRow(repr(one), desk.forbidden_cells(stock, one)) for one in view.forbids],
            # What is due first: on a small screen the rest lies below the edge.
            [
                TableRow(one.id, desk.bottle_cells(stock, one))
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
        from kb.desk.shelf.bottles import BottleView

        here = self.here
        wanted = here.liquid if isinstance(here, BottleView) else getattr(here, "id", "")
        return (
            next((one for one in self.stock.view.liquids if one.id == wanted), None) if self.stock else None
        )

    @property
    def bottle(self) -> BottleView | None:
        from kb.desk.shelf.bottles import BottleView

        here = self.here
        return here if isinstance(here, BottleView) else None

    @on(Table.RowHighlighted)
    def _tell_row(self) -> None:
        """The row in full, below the lists; what is wrong in the shelf's file comes first."""
        if self.stock is None:
            return
        from kb.desk.shelf.shelf import OnShelf, Prohibition

        here, words = self.here, ""
        if isinstance(here, OnShelf):
            words = desk.liquid_said(self.stock, here)
        elif isinstance(here, Prohibition):
            words = desk.forbidden_words(self.stock, here)
        elif here is not None:
            words = desk.bottle_said(self.stock, here)
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
        self.ask(desk.stock_words, partial(self.note, "Stock beside the bottles"), group="stock")

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
        self.ask(partial(desk.hold, liquid=one.id, held=held), self.tell_done, group="change")

    def action_forbid(self) -> None:
        if one := self.liquid:
            says = f"{one.name} is left out of every ranking here, with your reason beside it."
            store = partial(desk.forbid, liquid=one.id)
            self.app.push_screen(FewLines(f"Forbid {one.name}", WHY, store, says=says), self.tell_done)

    def action_allow(self) -> None:
        """Ask once more, since the reason goes with the prohibition."""
        from kb.desk.shelf.shelf import Prohibition

        here, stock = self.here, self.stock
        if here is None or stock is None:
            return
        if isinstance(here, Prohibition):
            verb = partial(desk.allow, liquids=here.liquids, families=here.families, hazards=here.hazards)
            text = desk.forbidden_words(stock, here)
        elif one := self.liquid:
            verb = partial(desk.allow, liquids=(one.id,), families=(), hazards=())
            text = one.why
        else:
            return
        answers = (
            ("k", "keep", "Keep it forbidden"),
            ("delete", "take", "Take it back; the reason goes with it"),
        )
        allow = partial(self.ask, verb, self.tell_done, group="change")
        self.sure("Allow again", text, answers, allow)

    def action_new_bottle(self) -> None:
        """The form, with the liquid of the row filled in; the first is where one stands without a choice."""
        one = self.liquid
        before = {"liquid": one.name} if one and self.stock and one is not self.stock.view.liquids[0] else {}
        form = FewLines("New bottle", NEW_BOTTLE, desk.new_bottle, before, says=DATES)
        self.app.push_screen(form, self.tell_done)

    def action_tested(self) -> None:
        if one := self.bottle:
            store = partial(desk.tested, bottle=one.id)
            says = f"{desk.bottle_name(one)}, {desk.bottle_days(one)}."
            self.app.push_screen(FewLines("Tested for peroxides", TESTED, store, says=says), self.tell_done)

    def action_finished(self) -> None:
        if one := self.bottle:
            store = partial(desk.finished, bottle=one.id)
            says = f"{desk.bottle_name(one)}, {desk.bottle_days(one)}, was used up or thrown away."
            self.app.push_screen(FewLines("Bottle finished", FINISHED, store, says=says), self.tell_done)

    def action_withdraw(self) -> None:
        if one := self.bottle:
            says = f"{desk.bottle_name(one)}, {desk.bottle_days(one)}. Its record stays readable."
            asked = AskWhy("A bottle written down by mistake", says, "Withdraw it", partial(withdraw, one.id))
            done = "The bottle is off the list; its record stays in the book."
            self.app.push_screen(asked, lambda written: self.tell_done(done if written else None))
