"""Weigh every candidate: both chances, the decision, the cautions, and why it may be refused."""

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.desk.choose.gather import Gathered
from kb.desk.choose.may_be import Component
from kb.desk.choose.rule import bearing
from kb.desk.choose.spots import HarmSeen, Look, Spots
from kb.desk.choose.sums import Harm, OfReach, OfTape, Pools, Released
from kb.index.compiled import MIN_SHARE, Compiled, Named
from kb.index.rows import BARE_PAPER
from kb.index.rows import DISSOLVED as DISSOLVED_KINDS
from kb.model.guidance import Caution
from kb.model.question import Dials, Question
from kb.science.choose.acting import CARRIER_HARM, any_harm
from kb.science.choose.beta import Exceeding, quantile
from kb.science.choose.evidence import (
    KEEP_FROM,
    MEAN_LIMITS,
    Posterior,
    further_cost,
    index,
    mixture,
    on_object,
    safe_release,
    with_part,
    with_spots,
)
from kb.science.choose.groups import Alike, polarity
from kb.science.choose.learnt import NAMED_STAGE, UNKNOWN_STAGE, moved, reweighed, shifted
from kb.science.choose.pooling import Kernel
from kb.science.numbers import percent

# One-sided: what is asked is whether harm may be higher than one can bear.
UPPER = 0.95
ROUNDING = 1e-9
"""More than rounding can move a chance or a decision."""
DISSOLVED = 0.5
"""From this share on a liquid is said to dissolve the carrier. This project's own."""
ALREADY = "already tried on this sheet"
WATER = "water"
"""By its id in the catalogue."""
HARMED_HERE = "harm by it, its like or a milder one was seen on this sheet"
DID_HARM = "it did harm on this sheet"
ABOVE = "above your ceiling"


class Weighed(NamedTuple):
    """One candidate with everything that decides on it."""

    what: Named
    place: int
    release: Posterior
    release_here: Posterior
    harms: tuple[Harm, ...]
    """Of every medium within reach, the worst first."""
    decision: float
    release_p0: float
    cautions: tuple[Caution, ...]
    refused: str
    """Why it is shown but not proposed, in short; empty if it may be proposed."""
    harm: float
    """On this object: the worst medium, the paper and the carrier together."""
    carrier: float
    """Share in which it dissolves the carrier."""
    named: float
    """Reports and tests that know the liquid."""
    taught: float
    """Logits by which the book moved the prior of release; that of harm stands with each medium."""
    denied: bool
    """Handbooks say that it rarely releases this adhesive, and no sphere is known."""
    safe: float
    """Chance of a release that harms nothing."""
    worked: bool
    """It released without harm on this sheet."""
    order: tuple[float, float, str]
    """Best first."""

    def why_refused(self, ceiling: float, did: str) -> str:
        """Why it is not proposed, with what lies above the ``ceiling``, or the harm that it ``did`` here."""
        if did and self.refused in (ALREADY, HARMED_HERE):
            return f"{ALREADY}, where it did harm: {did}" if self.refused == ALREADY else f"{DID_HARM}: {did}"
        # Where the ceiling lies is asked of each, where the bound lies only of those of which it is said.
        if self.refused != ABOVE:
            return self.refused
        upper = max(quantile(UPPER, *harm.here) for harm in self.harms)
        return f"harm could be as high as {percent(upper, 1)}, {ABOVE} of {percent(ceiling)}"


class Outlook(NamedTuple):
    """What decides on a candidate as some spots leave it; ``refused`` as of :class:`Weighed`."""

    release: float
    harm: float
    decision: float
    safe: float
    refused: str


ReleasedBy = Callable[[int], Released]
"""What gives the release of a candidate, by its place, apart from this sheet's spots."""


def _releases(compiled: Compiled, candidates: Sequence[Named], asked: Question, tape: OfTape) -> ReleasedBy:
    """Release from one thing that the tape may be."""
    at, known = compiled.stages.get(asked.stage), tape.known
    stages_of = compiled.stage_chances(asked.adhesive, asked.carrier, asked.method)
    denies, share_of = compiled.handbook_denies(asked.adhesive), compiled.carrier_share(asked.carrier)

    def released(place: int) -> Released:
        found = known.get(place)
        if found is None:
            what = candidates[place]
            stages = stages_of(what)
            # An unknown stage is the mean of the three.
            prior = sum(stages) / 3 if at is None else stages[at]
            move = tape.taught[what.related]
            # What rubber taught is no news of glue: a hydrocarbon does nothing to it, however kind the book.
            denied = denies(what)
            if denied:
                move = min(move, 0.0)
            posterior = tape.sums.posterior(place, prior, shifted(prior, move))
            named = compiled.named(asked.adhesive, what) + tape.tests[place]
            more = further_cost(named, lingers=what.lingers)
            found = known[place] = Released(
                prior, stages, posterior, move, denied, share_of(what), named, more
            )
        return found

    return released


def _together(each: Sequence[tuple[float, ReleasedBy]]) -> ReleasedBy:
    """Release over all that the tape may be, each with its weight, the likeliest first."""
    # What is known to be one thing is that thing.
    if len(each) == 1:
        return each[0][1]
    known: dict[int, Released] = {}

    def released(place: int) -> Released:
        found = known.get(place)
        if found is None:
            parts = [(weight, by(place)) for weight, by in each]
            p0, carrier, taught_here = 0.0, 0.0, 0.0
            for weight, one in parts:
                p0 += weight * one.p0
                taught_here += weight * one.taught
                carrier += weight * one.carrier
            found = known[place] = parts[0][1]._replace(
                p0=p0,
                posterior=mixture([(weight, one.posterior) for weight, one in parts]),
                taught=taught_here,
                denied=all(one.denied for _, one in parts),
                carrier=carrier,
            )
        return found

    return released


class After(NamedTuple):
    """What the releases seen on a sheet leave: of the stages, and of each thing that the tape may be."""

    stages: list[tuple[float, ...]]
    weights: list[float]
    releases: dict[int, Posterior]
    """By place, as far as they were asked for."""


Harshness = tuple[float, float]
"""Harm as chemistry foresees it, then, where one grade stands for all liquids, polarity: the ladder of the
trade."""
HarmsOf = tuple[str, list[int], dict[bool, Harshness], list[int], dict[bool, Harshness]]
"""A medium that was harmed here; by place what is blamed for it; the mildest of what harmed by what it
dissolves, what holds water apart; what was clean, and the harshest of that, what holds water apart."""


class Sheet(NamedTuple):
    """What makes a question's candidates into lines: the dials, and how stages and likeness carry spots."""

    dials: Dials
    candidates: Sequence[Named]
    stages: tuple[tuple[float, ...], ...]
    """How sure the stage of each thing the tape may be is before any spot."""
    each: Sequence[tuple[float, ReleasedBy]]
    """Each thing that the tape may be: its weight, and what it makes of a candidate."""
    released: ReleasedBy
    """Over all of them; stages, named and more are those of the likeliest."""
    harmed: Callable[[int], tuple[Harm, ...]]
    """Harm by a candidate to all within reach, before any spot; as all chances, worked out when asked for: a
    fifth of the shelf may be barred from a sheet, and of those nobody asks."""
    cautions: list[tuple[Caution, ...]]
    """By place, the most severe first."""
    kernel: Kernel
    alike: Sequence[Alike]
    """By place, those with which a candidate may stand in one line."""
    known: dict[tuple[tuple[int, bool], ...], After]
    """By the releases seen: a series asks again and again after the same spots."""
    too_harmful: Exceeding
    """Whether harm may lie above the ceiling."""
    harms: dict[tuple[HarmSeen, ...], list[HarmsOf]]
    """By what was seen, as ``known``."""

    def weighed(self, places: Iterable[int], spots: Spots) -> list[Weighed]:
        """The chosen candidates as these spots leave them."""
        return [self._one(place, spots) for place in places]

    def hopeless(self, one: Weighed) -> bool:
        """Whether it would be held back even if paper were surely not harmed, so that no look can free it."""
        dials, least = self.dials, MEAN_LIMITS[0]
        for harm in one.harms:
            # Bare paper is what the looks are at: they may take all of it.
            if harm.medium == BARE_PAPER:
                continue
            (a, b), paper = harm.here, harm.paper
            mean = a / (a + b)
            # Of what is not harmed at all only the least of a chance is left.
            if paper < mean:
                least = max(least, 1.0 - (1.0 - mean) / (1.0 - paper))
        least = _with_carrier(least, one.carrier)
        release = one.release_here.mean
        if safe_release(release, least) > KEEP_FROM - ROUNDING:
            return False
        more = self.released(one.place).more
        return index(release, least, one.what.hazard, dials.harm_aversion, dials.worth, more) < -ROUNDING

    def outlook(self, place: int, spots: Spots, looks: int = 0) -> Outlook:
        """What decides on one candidate after these spots and so many clean looks at a margin more.

        A series asks this of many that it then passes by, and nothing is said of them.
        """
        harms = self.harmed(place)
        heres = [harm.here for harm in harms]
        if spots.looks or looks:
            heres = self._looked_at(place, harms, spots, looks)
            # As _worst_first() would put them.
            if len(heres) > 1:
                heres = [here for here, _ in sorted(zip(heres, harms, strict=True), key=_worst)]
        known = self.released(place)
        return Outlook._make(
            self._judged(place, known, self._release(place, known, spots, looks), heres, spots)
        )

    def spares(self, place: int, spots: Spots, unlooked: Container[str], looks: int) -> bool:
        """Whether a candidate that wetted too much may be put on in another way.

        It may not where a caution bars it, where its like dissolved something here, or where so many clean
        ``looks`` at a margin would not free it for a medium on which its harm was not looked at.
        """
        dry = (one.without_ring for one in spots.seen if one.harmed or not one.wet)
        if self.stopped(place) or self.harm_bars(place, tuple(one for one in dry if one is not None)):
            return False
        # As if it were asked for a sheet without spots: a ring is no news of what it does to an ink.
        none, known = Spots(), self.released(place)
        release = self._release(place, known, none, looks)
        harms = [one for one in self.harmed(place) if one.medium in unlooked]
        heres = self._looked_at(place, harms, none, looks)
        return all(self._judged(place, known, release, [here], none)[-1] != ABOVE for here in heres)

    def stopped(self, place: int) -> bool:
        """Whether a caution bars a candidate whatever the chances."""
        cautions = self.cautions[place]
        return bool(cautions) and cautions[0].severity == "stop"

    def _after(self, seen: tuple[tuple[int, bool], ...]) -> After:
        found = self.known.get(seen)
        if found is None:
            stages = [
                reweighed(before, [(released(p).stages, hit) for p, hit in seen])
                # Each thing that the tape may be has stages of its own, and a spot speaks about all of them.
                for before, (_, released) in zip(self.stages, self.each, strict=True)
            ]
            found = self.known[seen] = After(stages, _weights(self.each, seen), {})
        return found

    def _release(self, place: int, known: Released, spots: Spots, looks: int = 0) -> Posterior:
        """Release on this object."""
        if not spots.release:
            # With spots on this sheet, all evidence from elsewhere is held down in the same way.
            held = spots.tried or any(one.of is None for one in spots.looks) or looks
            return on_object(known.posterior, ()) if held else known.posterior
        after = self._after(spots.release)
        found = after.releases.get(place)
        if found is None:
            parts = []
            for weight, (_, released), was, now in zip(
                after.weights, self.each, self.stages, after.stages, strict=True
            ):
                one = released(place)
                parts.append((weight, moved(one.posterior, one.stages, was, now)))
            row = self.kernel[place]
            # What spots say of unlike liquids goes through the stage; likeness carries the rest.
            found = on_object(mixture(parts), [(row[p], hit) for p, hit in spots.release], least=0.0)
            after.releases[place] = found
        return found

    def _looked_at(self, place: int, harms: Iterable[Harm], spots: Spots, looks: int = 0) -> list[Posterior]:
        """Harm to each medium after the spots here and so many clean looks at a margin.

        What tells of the paper alone moves the paper's share of the harm to an ink.
        """
        row = self.kernel[place]
        return [_after_looks(harm, row, spots.looks, [(row[place], False)] * looks) for harm in harms]

    def harm_bars(self, place: int, seen: tuple[HarmSeen, ...]) -> bool:
        """Whether what was harmed here would take this one ill too.

        It does so where the nearest of its line did harm, or of a part's, and where a milder one did by what
        it dissolves; unless a nearer one, or one as harsh, was clean on the same.
        """
        found = self.harms.get(seen)
        if found is None:
            found = self.harms[seen] = self._harms_of(seen)
        row, kin = self.kernel[place], dict(self.alike[place]) if found else {}
        for medium, blamed, mildest, clean, cleared in found:
            most = max([kin.get(one, 0.0) for one in blamed])
            if most and most >= max([row[one] for one in clean], default=0.0):
                return True
            if self._part_barred(place, blamed, clean):
                return True
            # What water does to fibres and gum is no measure of what a solvent does to resin.
            mild = mildest.get(self._aqueous(place))
            if mild and self._harshness(place, medium) > max(mild, cleared.get(self._aqueous(place), mild)):
                return True
        return False

    def _harshness(self, place: int, medium: str) -> Harshness:
        # Rounded: what differs by rounding alone is foreseen alike.
        return round(self._foreseen(place, medium), 9), polarity(self.candidates[place].hansen)

    def _harms_of(self, seen: Iterable[HarmSeen]) -> list[HarmsOf]:
        """What was seen, by medium that was harmed and kind of harm.

        Of a blend that harmed, what chemistry holds to be the harshest of its parts is blamed too: pure it
        harms more. Not where that was clean: then the parts did it together.
        """
        found = []
        seen = tuple(seen)
        # Kind by kind: a ring that stayed away is no news of an ink that ran, nor gloss of a ring.
        ways = [
            (one.medium, kind) for one in seen if one.harmed for kind in sorted(one.kinds or DISSOLVED_KINDS)
        ]
        for medium, kind in dict.fromkeys(ways):
            of_medium = [one for one in seen if one.medium == medium]
            did = [one.place for one in of_medium if one.did(kind)]
            clean = [one.place for one in of_medium if one.spared(kind)]
            # What is only too much of a liquid blames no part of it, and no milder one did it.
            dissolved = did if kind in DISSOLVED_KINDS else []
            blamed = did + self._blamed_parts(dissolved, medium, clean)
            mildest, cleared = self._harsh(dissolved, medium, min), self._harsh(clean, medium, max)
            found.append((medium, blamed, mildest, clean, cleared))
        return found

    def _blamed_parts(self, did: Iterable[int], medium: str, clean: Container[int]) -> list[int]:
        # A liquid by itself is its only part.
        blends = [parts for at in did if len(parts := self._parts(at)) > 1]
        pure = ([at for at, what in enumerate(self.candidates) if what.id in parts] for parts in blends)
        worst = [max(one, key=lambda at: self._harshness(at, medium)) for one in pure if one]
        return [at for at in worst if at not in clean]

    def _harsh(
        self, places: Iterable[int], medium: str, pick: Callable[..., Harshness]
    ) -> dict[bool, Harshness]:
        """The mildest or harshest of them, what holds water apart."""
        found: dict[bool, Harshness] = {}
        for at in places:
            aqueous, harsh = self._aqueous(at), self._harshness(at, medium)
            found[aqueous] = pick(harsh, found.get(aqueous, harsh))
        return found

    def _part_barred(self, place: int, blamed: Sequence[int], clean: Sequence[int]) -> bool:
        """Whether a part of this blend acts like what harmed; unless the part, or one nearer to it or to the
        blend, was clean, or a blend that holds as much of it."""
        parts = self._parts(place)
        if len(parts) == 1:
            return False
        nearest = max([self.kernel[place][one] for one in clean], default=0.0)
        # What harmed as well as not clears nothing.
        held = [self.candidates[one].parts for one in clean if one not in blamed]
        return any(
            (most := self._like(part, blamed)) and most >= max(self._like(part, clean), nearest)
            for part, share in parts.items()
            if not any(one.get(part, 0.0) >= share for one in held)
        )

    def _parts(self, place: int) -> dict[str, float]:
        """What it is made of, with the shares; traces left out."""
        parts = self.candidates[place].parts
        return {id: share for id, share in parts.items() if share >= MIN_SHARE}

    def _like(self, part: str, places: Iterable[int]) -> float:
        """How like the most alike of them is to a liquid of its line; nought if none is of it."""
        alike = (like for one in places for at, like in self.alike[one] if self.candidates[at].id == part)
        return max(alike, default=0.0)

    def _aqueous(self, place: int) -> bool:
        return WATER in self.candidates[place].parts

    def _foreseen(self, place: int, medium: str) -> float:
        """Harm to that medium as chemistry foresees it; to the worst of what is within reach if not named."""
        harms = self.harmed(place)
        if medium == BARE_PAPER:
            return harms[0].paper
        # By chemistry: which of them is the worst once tests have spoken differs from liquid to liquid.
        inks = {one.medium: one.p0 for one in harms if one.medium != BARE_PAPER}
        return inks.get(medium, max(inks.values(), default=harms[0].p0))

    def _judged(
        self, place: int, known: Released, release: Posterior, heres: Sequence[Posterior], spots: Spots
    ) -> tuple[float, float, float, float, str]:
        """The fields of an :class:`Outlook`; ``heres`` is harm to each medium, the worst first."""
        dials, what = self.dials, self.candidates[place]
        a, b = release
        chance = a / (a + b)
        a, b = heres[0]
        harm = _with_carrier(a / (a + b), known.carrier)
        value = index(chance, harm, what.hazard, dials.harm_aversion, dials.worth, known.more)
        safe = safe_release(chance, harm)
        # What is likelier than not to release safely is never given up, unless its like did harm here: one
        # ink, and one paper, takes the liquids of one line alike.
        if what.id in spots.tried:
            refused = ALREADY
        elif spots.seen and self.harm_bars(place, spots.seen):
            refused = HARMED_HERE
        elif safe > KEEP_FROM:
            refused = ""
        # Of any, since of the likeliest to be harmed more may be known.
        elif dials.ceiling < 1 and any(self.too_harmful(*here) for here in heres):
            refused = ABOVE
        elif value > 0:
            refused = ""
        # At the edge of a sphere nobody knows: cyclohexane was said to dissolve rigid PVC.
        elif known.carrier >= DISSOLVED:
            refused = "dissolves the carrier: lift the carrier first, then ask again"
        else:
            refused = "not worth its risk here"
        return chance, harm, value, safe, refused

    def _one(self, place: int, spots: Spots) -> Weighed:
        what, known, harms = self.candidates[place], self.released(place), self.harmed(place)
        if spots.looks:
            heres = self._looked_at(place, harms, spots)
            harms = _worst_first([harm._replace(here=here) for harm, here in zip(harms, heres, strict=True)])
        release = self._release(place, known, spots)
        heres = [harm.here for harm in harms]
        _, harm, decision, safe, refused = self._judged(place, known, release, heres, spots)
        return Weighed(
            what,
            place,
            known.posterior,
            release,
            harms,
            decision,
            known.p0,
            self.cautions[place],
            refused,
            harm,
            known.carrier,
            known.named,
            known.taught,
            known.denied,
            safe,
            what.id in spots.worked,
            # Rounded: two decisions that differ in rounding alone fall to hazard and name.
            (-round(decision, 9), what.hazard, what.name.casefold()),
        )


def _after_looks(
    harm: Harm, likeness: Sequence[float], looks: Iterable[Look], share: list[tuple[float, bool]]
) -> Posterior:
    """Harm to one medium after looks here; ``share`` holds those at a margin already."""
    whole = list[tuple[float, bool]]()
    for place, of, harmed, paper in looks:
        if of in ("", harm.medium) and harm.medium != BARE_PAPER:
            whole.append((likeness[place], harmed))
        elif paper is not None:
            share.append((likeness[place], paper))
    # Of bare paper the share of the paper is all.
    if harm.medium == BARE_PAPER:
        whole, share = share, []
    return with_part(with_spots(harm.here, whole), harm.paper, share)


def _weights(each: Sequence[tuple[float, ReleasedBy]], seen: Iterable[tuple[int, bool]]) -> list[float]:
    """What the spots leave of each thing the tape may be."""
    if len(each) == 1:
        return [1.0]
    found = [weight for weight, _ in each]
    for place, hit in seen:
        chances = [released(place).posterior.mean for _, released in each]
        found = [w * (p if hit else 1.0 - p) for w, p in zip(found, chances, strict=True)]
    total = sum(found)
    # A spot that no component could explain leaves the weights as they were.
    return [weight / total for weight in found] if total else found


def sheet_of(
    compiled: Compiled,
    question: Question,
    dials: Dials,
    gathered: Gathered,
    may_be: Sequence[Component],
    pools: Pools,
) -> Sheet:
    """All candidates of a question, ready to be weighed for any spots."""
    stages = []
    for one in may_be:
        at = compiled.stages.get(one.question.stage)
        stages.append(UNKNOWN_STAGE if at is None else NAMED_STAGE[at])
    candidates = gathered.candidates
    each = [
        (weight, _releases(compiled, candidates, one, tape))
        for (weight, one), tape in zip(may_be, pools.release, strict=True)
    ]
    met = bearing(compiled, may_be)
    # Of one day most questions meet the same.
    cautions = compiled.kept("applying", (gathered.state, *met), lambda: _by_place(met, gathered), 8)
    too_harmful = compiled.kept("ceiling", dials.ceiling, lambda: Exceeding(dials.ceiling, UPPER))
    return Sheet(
        dials,
        candidates,
        tuple(stages),
        each,
        _together(each),
        _harms(compiled, candidates, question, pools.harm),
        cautions,
        gathered.kernel,
        gathered.alike,
        {},
        too_harmful,
        {},
    )


def _by_place(met: Mapping[str, Caution], gathered: Gathered) -> list[tuple[Caution, ...]]:
    """The cautions that each candidate has to mind, the most severe first."""
    found: list[list[Caution]] = [[] for _ in gathered.candidates]
    # Caution by caution, for each is minded by a few liquids.
    for name, caution in met.items():
        for place in gathered.minding.get(name, ()):
            found[place].append(caution)
    return list(map(tuple, found))


def _with_carrier(harm: float, carrier: float) -> float:
    """Harm together with what a dissolved carrier counts."""
    # any_harm() of the two, written out: it is asked of every candidate.
    return 1.0 - (1.0 - harm) * (1.0 - CARRIER_HARM * carrier)


def _harms(
    compiled: Compiled, candidates: Sequence[Named], question: Question, reach: OfReach
) -> Callable[[int], tuple[Harm, ...]]:
    """What gives the harm of a candidate, by its place, to all within reach, before any spot."""
    paper_of = compiled.paper_chance(question.paper)
    media = [
        (medium, compiled.medium_chance(medium, question.method), known)
        for medium, known in reach.media.items()
    ]

    def harmed(place: int) -> tuple[Harm, ...]:
        found = reach.known.get(place)
        if found is None:
            what, harms = candidates[place], []
            paper = paper_of(what)
            for medium, chance_of, known in media:
                harm = known.known.get(place)
                if harm is None:
                    move = known.moves[what.related]
                    p0 = any_harm((chance_of(what), paper))
                    posterior = known.sums.posterior(place, p0, shifted(p0, move))
                    harm = Harm(medium, p0, posterior, on_object(posterior, ()), paper, move)
                    known.known[place] = harm
                harms.append(harm)
            found = reach.known[place] = _worst_first(harms)
        return found

    return harmed


def _worst_first(harms: Iterable[Harm]) -> tuple[Harm, ...]:
    """The worst medium on this sheet leads, and not the worst in general."""
    found = list(harms)
    # Of one there is no order: on most sheets one medium lies within reach.
    if len(found) > 1:
        found.sort(key=lambda harm: _worst((harm.here, harm)))
    return tuple(found)


def _worst(harm: tuple[Posterior, Harm]) -> tuple[float, str]:
    """Of a chance and of what it is, how harms are ordered."""
    (a, b), what = harm
    return -a / (a + b), what.medium
