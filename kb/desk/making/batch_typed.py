"""From typed words to the weights of a batch and to changes of one."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from kb.book.kinds.parts import Portion
from kb.desk.amounts import amount, portion
from kb.desk.errors import DeskError
from kb.desk.making.batches import batch_id, portions
from kb.desk.making.recipe import make
from kb.desk.records.typed_fields import changes_from_words
from kb.desk.studio import Studio


def weights(
    studio: Studio, recipe_id: str, by: str, density_g_ml: float | None, weighed: list[str], taken: list[str]
) -> tuple[Portion, ...]:
    """What went in: the recipe's amounts if ``by`` is given, each replaced by what was really weighed.

    ``taken`` says from which batch an ingredient came, as INGREDIENT=BATCH. Raises DeskError for words that
    are no amount, and Unclear for a batch that is not clear.
    """
    found: dict[str, Portion] = {}
    if by.strip():
        if not recipe_id:
            raise DeskError("An amount to make needs a recipe: name one.")
        found = {one.name: one for one in portions(make(studio, recipe_id, by, density_g_ml=density_g_ml))}
    for text in weighed:
        one = portion(text)
        name = _name(one.name, found)
        found[name] = replace(one, name=name)
    for text in taken:
        name, sign, start = text.partition("=")
        meant = _name(name.strip(), found)
        if not sign or meant not in found:
            raise DeskError(f'"{text}" is not INGREDIENT=BATCH of an ingredient that was weighed.')
        found[meant] = replace(found[meant], batch=batch_id(studio, start))
    return tuple(found.values())


def _name(text: str, known: dict[str, Portion]) -> str:
    """The ingredient of the recipe that is meant, if only one holds all the words; else the words."""
    words = text.casefold().split()
    near = [name for name in known if all(word in name.casefold() for word in words)]
    exact = [name for name in known if name.casefold() == text.casefold()]
    return (exact or near)[0] if len(exact or near) == 1 else text


def changes(studio: Studio, texts: list[str]) -> dict[str, Any]:
    """``["expires=2026-12-01", "made=118 g"]`` -> fields of a batch; what was made is one."""
    found: dict[str, Any] = {}
    for text in texts:
        field, _, typed = text.partition("=")
        if field.strip() == "weights":
            # All of them would give way to those typed, and the stock that one came from would be lost.
            raise DeskError("Weights are not amended this way: withdraw the batch and write it down again.")
        if field.strip() == "made":
            found["made_amount"], found["made_unit"] = amount(typed)
        else:
            found |= changes_from_words(studio, "batch", [text])
    return found
