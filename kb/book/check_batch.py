"""What may be in the record of a batch."""

from __future__ import annotations

import math
import re
from datetime import date

from kb.book.ulid import is_ulid
from kb.model.record import Batch

DAYS = ("made_at", "expires", "finished")
_YEARS = range(1900, 3000)
_DATE = re.compile(r"\d{4}(-\d\d(-\d\d)?)?", re.ASCII)


def check_batch(batch: Batch) -> Batch:
    """The same batch, if it says what it is and its figures and days can be. ValueError in a sentence."""
    if not (batch.recipe.strip() or batch.name.strip()):
        raise ValueError("The batch names neither a recipe nor what it is.")
    for one in batch.weights:
        if not one.name.strip():
            raise ValueError("An ingredient of the batch has no name.")
        if not (math.isfinite(one.amount) and one.amount >= 0):
            raise ValueError(f"The amount of {one.name} is not an amount: {one.amount}.")
        if one.batch and not is_ulid(one.batch):
            raise ValueError(
                f"{one.batch[:40]!r}, from which {one.name} was taken, is not the id of a batch."
            )
    if batch.made_amount is not None and not (math.isfinite(batch.made_amount) and batch.made_amount >= 0):
        raise ValueError(f"What was made is not an amount: {batch.made_amount}.")
    if batch.ph is not None and not (math.isfinite(batch.ph) and 0 <= batch.ph <= 14):
        raise ValueError(f"{batch.ph:g} is not a pH; it lies from 0 to 14.")
    for name in DAYS:
        day = getattr(batch, name)
        if day and not _is_day(day):
            raise ValueError(
                f"{day!r} ({name.replace('_', ' ')}) is not a date; write 2024-05-31 or 2024-05."
            )
    return batch


def _is_day(text: str) -> bool:
    if not _DATE.fullmatch(text):
        return False
    try:
        return date.fromisoformat(f"{text}-01-01"[:10]).year in _YEARS
    except ValueError:
        return False
