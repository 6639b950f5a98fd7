"""What is this tape, and how old is its adhesive? A ranked answer with its reasons and the next look."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache, partial
from typing import NamedTuple

from kb.desk.errors import DeskError
from kb.desk.identify.signs import NOT_LOOKED, look_of, typed_signs
from kb.desk.materials.cited import cited_source
from kb.desk.studio import Studio
from kb.index.identify_table import Table, read_table
from kb.model import identification as model
from kb.science import identify as science
from kb.science.choose.evidence import EVEN as ABOUT
from kb.science.choose.evidence import in_words, in_words_of_several
from kb.science.numbers import chance, counted, percent

UNKNOWN = 0.05
"""Chance, before anything is looked at, that the tape is none of those listed. This project's own."""
ALIKE_FACTOR = 2.0
"""A look tells two tapes apart if some finding is more than this many times as frequent with one of them."""
LEADING = 0.05
NEAR_BEST = 0.25
"""Tapes with at least this chance, and at least this share of the best one's, are compared for likeness."""
EVEN = 0.5
"""From this chance on that the tape is not listed, the signs are said to fit none."""
LIKELY = (50 - ABOUT) / 100
"""Below this chance the best tape is called no more than the first of several."""
SAME = 1e-9
"""Chances nearer than this share a place."""
LEAST_BITS = 0.005
EASE = {
    "none": 1.0,
    "needs a loose end": 0.8,
    "needs a lamp or filter": 0.8,
    "removes a crumb": 0.5,
    "needs a laboratory": 0.3,
}
"""What a bit is worth by what the look takes: eyes come before samples. This project's own."""
MET = {"now and then": "met now and then"}
PRIOR = (
    "Before any sign a tape counts by how usual it is taken to be on documents, prints and maps: "
    + ", ".join(f"{word} {weight:g}" for word, weight in model.WEIGHTS.items())
    + ". The numbers are this project's own. "
)
PRIOR_DATED = "The year weighs the tapes too: those not known to have been on sale then start far behind. "
PRIOR_REST = f"The stages of a tape count alike; {percent(UNKNOWN)} is kept for a tape that is not listed."
SCALE = (
    "How often a tape shows a sign is a word: "
    + ", ".join(f"{word} {share:g}" for word, share in model.SHARES.items())
    + ". The numbers are this project's own; the sources say the words, or less."
)
DISCLAIMER = "This narrows the question; it is no analysis. Test the adhesive itself before you treat."


class _State(NamedTuple):
    """The numbers behind an answer; ``answered`` are look and finding numbers, without a date."""

    table: Table
    answered: dict[int, int]
    dated: dict[int, int]
    left: list[int]
    chances: list[float]
    tapes: list[float]
    """Chance of each tape, and last of one that is not listed."""


def signs(studio: Studio, texts: Iterable[str], skip: Iterable[str] = ()) -> dict[str, str]:
    """Findings by look from typed words; ``skip`` are looks that cannot be taken here."""
    table = _table(studio)
    found = typed_signs(table, texts)
    for text in skip:
        found.setdefault(look_of(table, text).id, NOT_LOOKED)
    return found


def looks(studio: Studio) -> list[model.NextLook]:
    """All looks with their findings, those that tell most at the start first within what they take."""
    state = _state(_table(studio), {})
    return sorted(_next_looks(state), key=lambda look: (-EASE.get(look.cost, 0.0), -look.bits, look.look))


def sign_words(studio: Studio, look: str, finding: str) -> str:
    """A finding in a few words: ``adhesive colour: yellow to orange``."""
    found = next(one for one in _table(studio).looks if one.id == look)
    return f"{look.replace('-', ' ')}: {next(one.words for one in found.findings if one.id == finding)}"


def identify(studio: Studio, findings: Mapping[str, str], limit: int = 5) -> model.Identification:
    """Rank all tapes by the findings (look id -> finding id; "?" for a look that cannot be taken).

    ``limit`` bounds the next looks. Raises DeskError for a look or finding that is not in the catalogue.
    """
    state = _state(_table(studio), findings)
    table = state.table
    best = max(range(len(table.hypotheses)), key=lambda place: state.chances[place])
    fit = science.fit({look: table.likelihoods[look][best] for look in state.answered}, state.answered)
    alike = _alike(state)
    ranked = _ranked(studio, state)
    fits = fit.explained and state.tapes[-1] < EVEN
    bits = science.entropy(state.tapes)
    # Held against what was thought before any sign: how usual tapes are is no news of this one.
    before = science.marginal(_prior(table, {}), table.groups, len(state.tapes))
    flat = bits >= science.FLAT * science.entropy(before)
    odd = [table.looks[look].findings[state.answered[look]].words for look in fit.odd]
    told = sorted((state.answered | state.dated).items())
    seen = ((table.looks[look], table.looks[look].findings[found]) for look, found in told)
    return model.Identification(
        findings=tuple(
            model.Seen(look=look.id, question=look.name, finding=one.id, words=one.words)
            for look, one in seen
        ),
        ranked=ranked,
        unknown=state.tapes[-1],
        unknown_words=_in_words(state, state.tapes[-1]),
        stages=_stages_overall(state),
        fits=fits,
        flat=flat,
        entropy_bits=bits,
        evenness=science.evenness(state.tapes),
        verdict=_verdict(ranked, fits, flat, odd, alike) + _resting(ranked[0]),
        next_looks=tuple(look for look in _next_looks(state) if look.bits >= LEAST_BITS)[: max(0, limit)],
        alike=alike,
        prior=f"{PRIOR}{PRIOR_DATED if state.dated else ''}{PRIOR_REST}",
        scale=SCALE,
        disclaimer=DISCLAIMER,
    )


def adhesive_mix(found: model.Identification, least: float = 0.01) -> list[tuple[str, str, str, float]]:
    """What the adhesive may be: (adhesive, stage, carrier, weight), the weightiest first.

    Weights sum to 1. Empty text stands for what is not listed. Entries below ``least`` are left out and
    their weight is shared by the others in proportion, so that an average costs little.
    """
    weights: dict[tuple[str, str, str], float] = {("", "", ""): found.unknown}
    for tape in found.ranked:
        for stage in tape.stages:
            key = (tape.adhesive, stage.stage, tape.carrier)
            weights[key] = weights.get(key, 0.0) + tape.p * stage.p
    most = max(weights.values())
    kept = {key: weight for key, weight in weights.items() if weight >= min(least, most)}
    total = sum(kept.values())
    mix = [(*key, weight / total) for key, weight in kept.items()]
    return sorted(mix, key=lambda one: (-one[3], one[:3]))


def _table(studio: Studio) -> Table:
    table = read_table(studio.index.conn)
    if table is None or not table.tapes or not table.looks:
        raise DeskError("The table of looks is missing from the index; derive the index anew.")
    return table


def _state(table: Table, findings: Mapping[str, str]) -> _State:
    """Take in the findings and weigh the hypotheses."""
    places = {look.id: place for place, look in enumerate(table.looks)}
    answered: dict[int, int] = {}
    for look_id, finding_id in findings.items():
        if look_id not in places:
            raise DeskError(f'There is no look "{look_id}"; choose one from the list of looks.')
        look = table.looks[places[look_id]]
        known = [one.id for one in look.findings]
        if finding_id != NOT_LOOKED and finding_id not in known:
            raise DeskError(f'The look "{look_id}" has no finding "{finding_id}"; known: {", ".join(known)}.')
        if finding_id != NOT_LOOKED:
            answered[places[look_id]] = known.index(finding_id)
    dated = {look: found for look, found in answered.items() if table.looks[look].dated}
    undated = {look: found for look, found in answered.items() if look not in dated}
    chances = science.posterior(_prior(table, dated), table.likelihoods, undated)
    left = [place for place, look in enumerate(table.looks) if look.id not in findings]
    tapes = science.marginal(chances, table.groups, len(table.tapes) + 1)
    return _State(table, undated, dated, left, chances, tapes)


def _prior(table: Table, dated: Mapping[int, int]) -> list[float]:
    """A tape by how usual it is on documents, its stages alike; a known year weighs it by its sale then."""
    made = table.tapes
    weights = [model.WEIGHTS[made[tape].usual] / len(made[tape].stages) for tape, _ in table.hypotheses]
    for look, found in dated.items():
        rows = table.likelihoods[look]
        weights = [weight * rows[place][found] / max(rows[place]) for place, weight in enumerate(weights)]
    total = sum(weights)
    return [*(weight / total * (1.0 - UNKNOWN) for weight in weights), UNKNOWN]


def _ranked(studio: Studio, state: _State) -> tuple[model.RankedTape, ...]:
    """All tapes, the likeliest first, with stages and reasons."""
    table = state.table
    order = sorted(range(len(table.tapes)), key=lambda tape: (-round(state.tapes[tape], 12), tape))
    even = _prior(table, {})
    marks = lru_cache(None)(partial(_mark, studio))
    ranked = []
    for tape in order:
        p = state.tapes[tape]
        made = table.tapes[tape]
        ranked.append(
            model.RankedTape.taken_from(
                made,
                rank=1 + sum(other > p + SAME for other in state.tapes[:-1]),
                tape=made.id,
                p=p,
                words=_in_words(state, p),
                stages=_stages(state, tape),
                on_documents=model.OnDocuments(
                    how=made.usual,
                    weight=model.WEIGHTS[made.usual],
                    sources=made.usual_sources,
                    mark=marks(made.usual_sources),
                    text=f"taken as {MET.get(made.usual, made.usual)} on documents",
                ),
                reasons=_reasons(state, tape, even, marks),
            )
        )
    return tuple(ranked)


def _in_words(state: _State, p: float) -> str:
    """Of one tape among several, once something was seen that a listed one fits best."""
    *listed, unknown = state.tapes
    most = max(listed)
    if unknown > most or not (state.answered or state.dated):
        return in_words(min(1.0, p))
    return in_words_of_several(min(1.0, p), min(1.0, most - SAME))


def _members(state: _State, tape: int) -> list[int]:
    return [place for place, (one, _) in enumerate(state.table.hypotheses) if one == tape]


def _stages(state: _State, tape: int) -> tuple[model.StageChance, ...]:
    """Stages of one tape, if it is that tape, in order of age."""
    members = _members(state, tape)
    total = sum(state.chances[place] for place in members)
    each = [state.chances[place] / total if total > 0 else 1.0 / len(members) for place in members]
    named = [state.table.hypotheses[place][1] for place in members]
    return tuple(_chance_of(state, stage, p) for stage, p in zip(named, each, strict=True))


def _stages_overall(state: _State) -> tuple[model.StageChance, ...]:
    """Stages over all listed tapes, the likeliest first; they sum to the chance that the tape is listed."""
    sums: dict[str, float] = {}
    for (_, stage), each in zip(state.table.hypotheses, state.chances, strict=False):
        sums[stage] = sums.get(stage, 0.0) + each
    order = sorted(sums, key=lambda stage: (-sums[stage], stage))
    return tuple(_chance_of(state, stage, sums[stage]) for stage in order)


def _chance_of(state: _State, stage: str, p: float) -> model.StageChance:
    return model.StageChance(stage=stage, name=state.table.stage_names.get(stage, ""), p=p)


def _mark(studio: Studio, sources: Sequence[str]) -> str:
    """The first source's word if none of them was read; empty if one was."""
    words = [cited_source(studio, one).mark for one in sources]
    return "" if "read" in words else next(iter(words), "not tabulated")


def _reasons(
    state: _State, tape: int, even: Sequence[float], marks: Callable[[Sequence[str]], str]
) -> tuple[model.Reason, ...]:
    """What each finding says of a tape, the weightiest first. ``even`` are the chances before any sign."""
    members, stages = _members(state, tape), _stages(state, tape)
    likeliest = max(range(len(members)), key=lambda place: stages[place].p)
    reasons = []
    for place, found in (state.answered | state.dated).items():
        look, rows = state.table.looks[place], state.table.likelihoods[place]
        shares = [row[found] / max(row) if look.dated else row[found] for row in rows]
        here = sum(stage.p * shares[member] for stage, member in zip(stages, members, strict=True))
        factor = here / sum(chance * share for chance, share in zip(even, shares, strict=True))
        sources = look.rows[look.of[members[likeliest]]].sources
        told = f'{look.name.rstrip("?")}: "{look.findings[found].words}"'
        reasons.append(
            model.Reason(
                look=look.id,
                finding=look.findings[found].id,
                factor=factor,
                sources=sources,
                mark=marks(sources),
                text=f"{told} {_speaks(factor)}",
            )
        )
    return tuple(sorted(reasons, key=lambda one: (-max(one.factor, 1 / one.factor), one.look)))


def _speaks(factor: float) -> str:
    if 0.8 <= factor <= 1.25:
        return "speaks neither for nor against it"
    times = f"{max(factor, 1 / factor):.1f} times as {'often' if factor > 1 else 'seldom'} as over all tapes"
    return f"speaks {'for' if factor > 1 else 'against'} it ({times})"


def _next_looks(state: _State) -> list[model.NextLook]:
    """Looks not yet taken, those that tell most for what they take first."""
    table, found = state.table, []
    count = len(table.tapes) + 1
    for place in state.left:
        look, rows = table.looks[place], table.likelihoods[place]
        by_tape = science.collapsed(state.chances, rows, table.groups, count)
        found.append(
            model.NextLook(
                look=look.id,
                question=look.name,
                how=look.how,
                cost=look.cost,
                bits=science.expected_information(state.chances, rows),
                tape_bits=science.expected_information(state.tapes, by_tape),
                findings=tuple(model.Option(id=one.id, words=one.words) for one in look.findings),
            )
        )
    return sorted(found, key=lambda one: (-one.bits * EASE.get(one.cost, 0.3), one.look))


def _alike(state: _State) -> tuple[model.Alike, ...]:
    """Leading tapes that no look left tells apart."""
    table = state.table
    least = max(LEADING, NEAR_BEST * max(state.tapes[:-1]))
    leading = [tape for tape in range(len(table.tapes)) if state.tapes[tape] >= least]
    count = len(table.tapes) + 1
    left = [
        science.collapsed(state.chances, table.likelihoods[place], table.groups, count)
        for place in state.left
        if len(leading) > 1 and not table.looks[place].dated
    ]
    pairs = science.indistinguishable(left, leading, ALIKE_FACTOR)
    apart = ((table.tapes[a], table.tapes[b]) for a, b in pairs)
    said = "No look left tells these apart"
    return tuple(model.Alike(tapes=(a.id, b.id), text=f"{said}: {a.name}; {b.name}.") for a, b in apart)


def _verdict(
    ranked: Sequence[model.RankedTape],
    fits: bool,
    flat: bool,
    odd: Sequence[str],
    alike: Sequence[model.Alike],
) -> str:
    """The answer in a sentence."""
    best = ranked[0]
    if not best.reasons:
        return "Nothing has been looked at yet: the order is only how usual each tape is on documents."
    if not fits:
        why = f" The nearest, {best.name}, hardly ever shows: {'; '.join(odd)}." if odd else ""
        return f"These signs fit no listed tape.{why} Look again, or treat it as unknown."
    if flat:
        return "These signs do not tell the tapes apart: the answer is flat. Look further."
    pair = next((one for one in alike if best.tape in one.tapes), None)
    if pair is not None:
        names = [tape.name for tape in ranked if tape.tape in pair.tapes]
        return f"{names[0]} or {names[1]}: no look left tells them apart."
    if best.p < LIKELY:
        equal = [tape.name for tape in ranked if tape.rank == 1]
        each = " each" if len(equal) > 1 else ""
        return f"No tape stands out yet. First, with {chance(best.p)}{each}: {'; '.join(equal)}."
    stage = max(best.stages, key=lambda one: one.p)
    how_old = f"; stage if so: {stage.name}, {chance(stage.p)}" if stage.name and stage.p >= 0.5 else ""
    return f"{best.name}: {best.words}, {chance(best.p)}{how_old}."


def _resting(best: model.RankedTape) -> str:
    """On what the answer rests: how many of its findings are from texts that were read."""
    if not best.reasons:
        return ""
    read = sum(1 for one in best.reasons if not one.mark)
    rest = len(best.reasons) - read
    weaker = f" and {rest} from memory or not tabulated, which weigh less" if rest else ""
    return f" Rests on {counted(read, 'finding')} from texts that were read{weaker}."
