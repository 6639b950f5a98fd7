"""What lies on the shelf beside the bottles: paper, tissue, starch, board, by lot and amount."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Remarks
from kb.model.record import BookStruct

Sort = Literal["paper", "tissue", "starch", "cellulose ether", "protein", "board", "blotter", "film", "other"]


class Stock(BookStruct, frozen=True, kw_only=True):
    """One lot of a material. Counting it again or using it up is an amendment, so its history is kept."""

    material: Annotated[
        str,
        Says(
            "material",
            meaning="Id of the tissue, paper or recipe in the catalogue, or words where it has none.",
            hint="kozo-5, or what is written on the packet",
            needed=True,
            # A carrier too: film and cloth lie in drawers as well.
            entries=("tissue", "paper", "carrier"),
        ),
    ]
    sort: Annotated[Sort, Says("sort", meaning="What it is, for lists.")] = "other"
    amount: Annotated[
        str, Says("amount", meaning="How much is there, with its unit.", hint="3 sheets of 60 x 90 cm; 500 g")
    ] = ""
    lot: Annotated[str, Says("lot", meaning="Lot on the label.")] = ""
    bought: Annotated[
        str,
        Says(
            "bought on", meaning="Day, ISO 8601, perhaps without day or month.", asked="bought", reads="day"
        ),
    ] = ""
    expires: Annotated[
        str,
        Says("use by", meaning="Last day on its label, ISO 8601.", asked="expires", reads="day"),
    ] = ""
    place: Annotated[str, Says("place", meaning="Drawer, cabinet, refrigerator.")] = ""
    finished: Annotated[
        str,
        Says("used up on", meaning="Day on which nothing was left.", asked="finished", reads="day"),
    ] = ""
    remarks: Remarks = ""


def _words(stock: Stock, names: Names) -> Iterator[str]:
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
    words=_words,
)
