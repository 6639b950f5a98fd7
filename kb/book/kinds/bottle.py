"""What stands on the shelf: an opened bottle; and paper, tissue, starch, board, by lot and amount."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import FinishedOn, Remarks, day
from kb.model.record import BookStruct


class Bottle(BookStruct, frozen=True, kw_only=True):
    """An opened bottle on the shelf; its record's id is the bottle's name.

    Dates are ISO 8601 and may leave out the day or the month, as labels do; empty means not known. A
    test for peroxides and the last day of the bottle are amendments, so their history is kept.
    """

    liquid: Annotated[
        str,
        Says(
            "liquid",
            "Id of the liquid in the catalogue.",
            "any of its names",
            needed=True,
            entries=("liquid",),
        ),
    ]
    label: Annotated[
        str,
        Says(
            "label",
            "What is written on it, as far as it helps to find it: hazard words, shelf, own number.",
            "what helps to find it",
        ),
    ] = ""
    opened: Annotated[
        str,
        day(
            "opened on",
            "Day on which it was opened, ISO 8601, perhaps without day or month.",
            "today, a date, or unknown",
            "Opened",
        ),
    ] = ""
    expires: Annotated[
        str,
        day(
            "use by",
            "Last day on its label, ISO 8601, perhaps without day or month.",
            "as on the label; may be empty",
        ),
    ] = ""
    peroxide_tested: Annotated[str, day("peroxide tested", "Day of the last test for peroxides.")] = ""
    peroxide_result: Annotated[str, Says("peroxide result", "What the last test for peroxides showed.")] = ""
    finished: FinishedOn = ""
    lot: Annotated[str, Says("lot", "Lot on the label.", "may be empty")] = ""
    grade: Annotated[str, Says("grade", "Grade of purity on the label.", "may be empty")] = ""
    remarks: Remarks = ""


def _words(bottle: Bottle, names: Names) -> Iterator[str]:
    yield names(("liquid",), bottle.liquid)
    yield bottle.label
    yield f"opened {bottle.opened}" if bottle.opened else ""
    yield f"use by {bottle.expires}" if bottle.expires else ""
    yield "used up" if bottle.finished else ""


BOTTLE = Kind(
    "bottle",
    "bottle",
    "bottles",
    Bottle,
    {"liquid": "water"},
    command="-",
    subject="liquid",
    words=_words,
    # These come later, by amendment, and their history is what counts.
    apart=frozenset(("peroxide_tested", "peroxide_result", "finished")),
)


Sort = Literal["paper", "tissue", "starch", "cellulose ether", "protein", "board", "blotter", "film", "other"]


class Stock(BookStruct, frozen=True, kw_only=True):
    """One lot of a material. Counting it again or using it up is an amendment, so its history is kept."""

    material: Annotated[
        str,
        Says(
            "material",
            "Id of the tissue, paper or recipe in the catalogue, or words where it has none.",
            "kozo-5, or what is written on the packet",
            needed=True,
            # A carrier too: film and cloth lie in drawers as well.
            entries=("tissue", "paper", "carrier"),
        ),
    ]
    sort: Annotated[Sort, Says("sort", "What it is, for lists.")] = "other"
    amount: Annotated[
        str, Says("amount", "How much is there, with its unit.", "3 sheets of 60 x 90 cm; 500 g")
    ] = ""
    lot: Annotated[str, Says("lot", "Lot on the label.")] = ""
    bought: Annotated[str, day("bought on", "Day, ISO 8601, perhaps without day or month.")] = ""
    expires: Annotated[str, day("use by", "Last day on its label, ISO 8601.")] = ""
    place: Annotated[str, Says("place", "Drawer, cabinet, refrigerator.")] = ""
    finished: Annotated[str, day("used up on", "Day on which nothing was left.")] = ""
    remarks: Remarks = ""


def _stock_words(stock: Stock, names: Names) -> Iterator[str]:
    yield names(("tissue", "paper", "carrier"), stock.material)
    yield stock.amount
    yield f"lot {stock.lot}" if stock.lot else ""
    yield stock.place
    yield f"use by {stock.expires}" if stock.expires else ""
    yield f"used up {stock.finished}" if stock.finished else ""


STOCK = Kind(
    "stock",
    "stock",
    "stock",
    Stock,
    {"material": "paper"},
    summary="paper, tissue, starch, board on the shelf",
    about="Lots and amounts of what is not a bottle, so that a treatment can name the very sheet or packet.",
    subject="material",
    words=_stock_words,
)
