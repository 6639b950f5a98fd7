"""What other studios counted behind each suggestion, and whether own tests and chemistry say the same."""

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from kb.desk.choose.gather import Gathered, Places
from kb.desk.choose.may_be import Component
from kb.desk.choose.sums import Pools, told_of
from kb.desk.choose.weigh import Weighed
from kb.desk.studio import Studio
from kb.index.pool_queries import Behind, harm_behind, release_behind
from kb.model.question import Pooled, Question
from kb.science.choose.pooled import Joined
from kb.science.choose.pooling import Counts

SIGMAS = 2.0
"""Two counts disagree from this many standard deviations on, as log and chemistry do."""
NOBODY = Behind()


class Told(NamedTuple):
    """Counts of other studios for one suggestion, as they go out and as they are compared.

    ``release`` are all release tests of weight 0.25 or more. ``most`` is the largest share of the tests of
    the same class that one studio made.
    """

    pooled: Pooled
    release: Counts
    most: float
    release_apart: bool
    """Own release tests and theirs disagree."""
    harm_apart: bool
    chemistry_apart: bool
    """Theirs lie too far from what chemistry expected of them."""
    medium: str
    """To which harm is told of."""
    ours: tuple[int, int]
    """Own looks for that harm, of weight 0.25 or more, and how many saw it."""
    far: bool
    """Whether those that lie further off move a chance, where none of these counts bears on it."""

    @property
    def bears(self) -> bool:
        """Whether any of their tests bears on the suggestion."""
        return bears(self.pooled)


def bears(told: Pooled) -> bool:
    return bool(told.own or told.similar or told.looks or told.similar_looks)


class Others:
    """Other studios' tests for one question."""

    def __init__(
        self, pools: Pools, places: Places, release: list[Behind], harm: dict[str, list[Behind]]
    ) -> None:
        self._pools = pools
        self._places = places
        self._release = release
        self._harm = harm

    def told(self, one: Weighed) -> Told:
        """What they counted for one candidate, of release and of harm to the medium that is told of."""
        # What they saw most often; behind clean looks of their own, or of ours, it would be denied.
        harm = max(one.harms, key=lambda harm: self._seen(harm.medium, one.place))
        if not self._seen(harm.medium, one.place):
            harm = told_of(self._pools, one.harms, one.place)
        ours, harm_ours = self._pools.release[0].sums, self._pools.harm.media[harm.medium].sums
        assert isinstance(ours, Joined)
        assert isinstance(harm_ours, Joined)
        own, similar = ours.pooled.own_counts(one.place), ours.pooled.similar_counts(one.place)
        looks, like = harm_ours.pooled.own_counts(one.place), harm_ours.pooled.similar_counts(one.place)
        by, harm_by = self._by(self._release, one.place), self._by(self._harm[harm.medium], one.place)
        held = ours.held_back(one.place, one.release_p0) or any(
            isinstance(sums := self._pools.harm.media[each.medium].sums, Joined)
            and sums.held_back(one.place, each.p0)
            for each in one.harms
        )
        pooled = Pooled(
            studios=by.studios if own.tests else 0,
            own=int(own.tests),
            released=int(own.hits),
            similar=int(similar.tests),
            similar_released=int(similar.hits),
            harm_studios=harm_by.studios if looks.tests else 0,
            looks=int(looks.tests),
            harmed=int(looks.hits),
            similar_looks=int(like.tests),
            similar_harmed=int(like.hits),
            held_back=held,
        )
        every = _sum(own, similar)
        apart = abs(every.hits - every.expected)
        return Told(
            pooled,
            every,
            by.most / own.tests if own.tests else 0.0,
            _apart((ours.own_counts(one.place), ours.similar_counts(one.place)), (own, similar)),
            _apart((harm_ours.own_counts(one.place), harm_ours.similar_counts(one.place)), (looks, like)),
            every.tests > 0 and apart > SIGMAS * sqrt(max(every.variance, 1e-12)),
            harm.medium,
            self._pools.looks(harm, one.place),
            not bears(pooled) and self._far(one.place),
        )

    def _seen(self, medium: str, place: int) -> int:
        sums = self._pools.harm.media[medium].sums
        assert isinstance(sums, Joined)
        own, like = sums.pooled.own_counts(place), sums.pooled.similar_counts(place)
        return int(own.hits + like.hits)

    def _far(self, place: int) -> bool:
        """Whether any of their tests moves a chance: on another tape, ink or paper that lies within reach."""
        return any(isinstance(one, Joined) and one.pooled.bears(place) for one in self._pools.all)

    def _by(self, behind: list[Behind], candidate: int) -> Behind:
        place = self._places.of[candidate]
        return behind[place] if place is not None and place < len(behind) else NOBODY


def others_behind(
    studio: Studio, question: Question, may_be: Sequence[Component], gathered: Gathered, pools: Pools
) -> Others | None:
    """Other studios' tests for the question; None where there is no pool."""
    if gathered.pooled is None:
        return None
    conn, stages = studio.index.conn, studio.compiled.stages
    likeliest = may_be[0].question
    position = str(stages.get(likeliest.stage, ""))
    return Others(
        pools,
        gathered.pooled.places,
        release_behind(conn, likeliest.adhesive, position) if position else [],
        {medium: harm_behind(conn, medium, question.paper) for medium in pools.harm.media},
    )


def _sum(a: Counts, b: Counts) -> Counts:
    return Counts(*(x + y for x, y in zip(a, b, strict=True)))


def _apart(ours: tuple[Counts, Counts], theirs: tuple[Counts, Counts]) -> bool:
    """Whether two rates differ by more than chance: of the same class if both know it, else of all.

    Two proportions with one success and one failure added to each pair, so that small counts stay silent.
    """
    own, other = ours[0], theirs[0]
    if not (own.tests and other.tests):
        own, other = _sum(*ours), _sum(*theirs)
    if not (own.tests and other.tests):
        return False
    common = (own.hits + other.hits + 1) / (own.tests + other.tests + 2)
    spread = sqrt(common * (1 - common) * (1 / own.tests + 1 / other.tests))
    return abs(own.hits / own.tests - other.hits / other.tests) > SIGMAS * spread
