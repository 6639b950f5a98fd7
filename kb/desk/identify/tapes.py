"""Count the distinct tapes behind a suggestion."""

from __future__ import annotations

from kb.desk.choose.gather import Gathered
from kb.desk.choose.sums import PARTS_KEPT
from kb.index.compiled import Compiled
from kb.model.question import Question
from kb.science.choose.pooling import SHOWN_FROM
from kb.science.choose.similarity import adhesive_weight, carrier_weight, stage_weight


class Tapes:
    """Counts the distinct (adhesive, stage, carrier) behind a suggestion."""

    def __init__(self, compiled: Compiled, gathered: Gathered, groups: list[tuple[float, int]]) -> None:
        self.compiled = compiled
        self._kernel = gathered.kernel
        self._groups = groups
        self._masks = [gathered.masks.get(one.id, 0) for one in gathered.candidates]

    def count(self, place: int) -> int:
        """Contexts of weight 0.25 or more, over all liquids like this one."""
        seen = 0
        for other, likeness in self._kernel.shown(place):
            mask = self._masks[other]
            if mask:
                for weight, contexts in self._groups:
                    if weight * likeness < SHOWN_FROM:
                        break
                    seen |= mask & contexts
        return seen.bit_count()


def tapes_behind(compiled: Compiled, question: Question, gathered: Gathered) -> Tapes:
    """Contexts grouped by their weight, the heaviest first; only those that can count are kept."""
    asked = (question.adhesive, question.stage, question.carrier)
    groups = compiled.kept("contexts", asked, lambda: _by_weight(compiled, question), PARTS_KEPT)
    return Tapes(compiled, gathered, groups)


def _by_weight(compiled: Compiled, question: Question) -> list[tuple[float, int]]:
    groups: dict[float, int] = {}
    asked = compiled.adhesives.get(question.adhesive)
    position = compiled.stages.get(question.stage)
    carriers: dict[float, int] = {}
    for carrier in (*compiled.carriers, ""):
        c = carrier_weight(question.carrier, carrier)
        carriers[c] = carriers.get(c, 0) | compiled.carrier_bit(carrier)
    for adhesive in (*compiled.adhesives, ""):
        found = compiled.adhesives.get(adhesive)
        a = adhesive_weight(
            question.adhesive, asked.group if asked else "", adhesive, found.group if found else " "
        )
        for stage in (*compiled.stages, ""):
            other = compiled.stages.get(stage)
            s = 0.6 if position is None or other is None else stage_weight(position, other)
            if a * s < SHOWN_FROM:
                continue
            for c, bits in carriers.items():
                weight = round(a * s * c, 12)
                groups[weight] = groups.get(weight, 0) | compiled.contexts_with(adhesive, stage, bits)
    return sorted(groups.items(), reverse=True)
