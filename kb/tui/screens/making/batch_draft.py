"""A batch that is being written down. No widgets, no I/O."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from kb.book.kinds.batch import Batch
    from kb.book.kinds.parts import Portion
    from kb.desk.making.recipe import Made
    from kb.desk.studio import Studio

FROM = " from "


@dataclass
class BatchDraft:
    """What the form holds, as typed. An ingredient with nothing typed was not weighed."""

    recipe: str
    name: str
    weights: dict[str, str] = field(default_factory=dict)
    """Amounts by ingredient: ``14.3 g``, or ``30 ml from 01ABC`` for one taken from another batch."""
    wanted: dict[str, str] = field(default_factory=dict)
    """What the recipe asks for, in the amount that was chosen."""
    made: str = ""
    plain: dict[str, str] = field(default_factory=dict)
    """What else the kind declares, by the word of the field, as typed."""
    use_by: str = ""
    """What the last day is, where nobody types one."""
    dirty: bool = False

    @classmethod
    def begin(cls, recipe_id: str, name: str, made: Made | None) -> BatchDraft:
        """A form for a recipe. Nothing counts as weighed until it is typed or taken over."""
        draft = cls(recipe_id, name)
        for part in made.parts if made else ():
            draft.wanted[part.name] = part.words
            draft.weights[part.name] = ""
        if made is not None and made.by:
            # What was planned is no yield, but the record would else not say how much was meant to be made.
            draft.plain["remarks"] = f"planned: {made.by}"
        return draft

    def take_over(self) -> None:
        """What the recipe asks for was what was weighed, where nothing else is typed."""
        for name, words in self.wanted.items():
            self.weights[name] = self.weights[name] or _one(words)

    @property
    def nothing_weighed(self) -> bool:
        """Whether the recipe names what goes in, and neither that nor the yield was written down."""
        return bool(self.weights) and not self.made.strip() and not any(map(str.strip, self.weights.values()))

    def batch(self, studio: Studio) -> Batch:
        """The record. Raises DeskError for words that are no amount, no number or no batch."""
        from kb.book.kinds.batch import BATCH, Batch
        from kb.desk.amounts import amount
        from kb.desk.records.typed_fields import plain_from_words

        made = amount(self.made) if self.made.strip() else (None, "")
        return Batch(
            recipe=self.recipe,
            name="" if self.recipe else self.name,
            weights=tuple(
                _portion(studio, name, text) for name, text in self.weights.items() if text.strip()
            ),
            made_amount=made[0],
            made_unit=made[1],
            **plain_from_words(studio, BATCH, self.plain),
        )


def _one(words: str) -> str:
    """An amount that can be taken over: a range or parts cannot, for nobody weighs those."""
    from kb.desk.amounts import amount

    try:
        amount(words)
    except DeskError:
        return ""
    return words


def _portion(studio: Studio, name: str, text: str) -> Portion:
    from kb.book.kinds.parts import Portion
    from kb.desk.amounts import amount
    from kb.desk.making.batches import batch_id

    weighed, _, start = text.strip().partition(FROM)
    try:
        value, unit = amount(weighed)
    except DeskError as error:
        raise DeskError(f"{name}: {error}") from error
    taken = batch_id(studio, start) if start.strip() else ""
    return Portion(name=name, amount=value, unit=unit, batch=taken)
