"""Something made up: a paste, a bath, a blend."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import FinishedOn, Portion, Remarks, day
from kb.model.record import BookStruct


class Batch(BookStruct, frozen=True, kw_only=True):
    """Something made up; its record's id is the batch's name.

    ``version`` is the hash of the recipe's entry as it was used; both are empty where no recipe was
    followed. Dates are ISO 8601 and may leave out the day or the month. What was not read is left out.
    """

    recipe: Annotated[
        str, Says("recipe", "Id of the recipe; empty where none was followed.", entries=("recipe",))
    ] = ""
    version: Annotated[str, Says("version of the recipe", "Hash of the recipe's entry as it was used.")] = ""
    name: Annotated[str, Says("name", "What it is, for the label; needed where no recipe was followed.")] = ""
    weights: Annotated[
        tuple[Portion, ...],
        Says("weighed", "What went into it, as it was weighed or measured.", reads="portions"),
    ] = ()
    water: Annotated[
        str,
        Says("water", "Which water: deionised, conditioned, tap.", "which: deionised, tap, conditioned"),
    ] = ""
    made_amount: Annotated[
        float | None, Says("amount made", "How much was made, in the unit of the next column.", low=0)
    ] = None
    made_unit: Annotated[str, Says("made unit", "Unit of the amount.")] = ""
    ph: Annotated[
        float | None,
        Says("pH", "pH of what was made.", "if it was read", unit="pH", form="pH", low=0, high=14),
    ] = None
    strength: Annotated[
        str,
        Says(
            "strength",
            "For the label, with its basis: 12.5 % w/w, 2 g in 100 ml.",
            "for the label, such as 12.5 % w/w",
        ),
    ] = ""
    made_at: Annotated[
        str,
        day(
            "made on",
            "Day on which it was made up, if not when it was written down.",
            "today, if left empty",
        ),
    ] = ""
    expires: Annotated[
        str, day("use by", "Last day on which it may be used.", "by the recipe, if left empty")
    ] = ""
    hazards: Annotated[
        tuple[str, ...],
        Says(
            "hazards",
            "Hazard words of the label, with semicolons between them.",
            "words of the label, commas between",
            reads="words",
        ),
    ] = ()
    bad: Annotated[
        str,
        Says("must not be used", "Why it must not be used any more; empty while nothing speaks against it."),
    ] = ""
    finished: FinishedOn = ""
    remarks: Remarks = ""


def _check(batch: Batch) -> None:
    # Not above: whoever lists records needs the kinds, and not the making of ids with its threads.
    from kb.book.ulid import is_ulid

    if not (batch.recipe.strip() or batch.name.strip()):
        raise ValueError("The batch names neither a recipe nor what it is.")
    # A typing error in the id would cut the way from a bad batch to what was made of it.
    for portion in batch.weights:
        if portion.batch and not is_ulid(portion.batch):
            raise ValueError(
                f"{portion.batch[:40]!r}, from which {portion.name} was taken, is not the id of a batch."
            )


def _words(batch: Batch, names: Names) -> Iterator[str]:
    yield batch.name or names(("recipe",), batch.recipe)
    if batch.made_amount is not None:
        yield f"{batch.made_amount:.4g} {batch.made_unit}".rstrip()
    yield f"must not be used ({batch.bad})" if batch.bad else ""
    yield "used up" if batch.finished else ""


BATCH = Kind(
    "batch",
    "batch",
    "batches",
    Batch,
    {"name": "-", "recipe": "-"},
    # The commands of batches stand in their own file: making by a recipe is more than fields to fill in.
    command="-",
    subject="recipe",
    check=_check,
    words=_words,
    # What the form and command ask in a way of their own: amounts come from the recipe, the end by its own
    # verb.
    apart=frozenset(("recipe", "version", "name", "weights", "made_amount", "made_unit", "bad", "finished")),
    tables={"weights": ("batch_portions", "What went into each batch, as it was weighed or measured.")},
)
