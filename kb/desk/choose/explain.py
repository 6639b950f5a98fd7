"""Say in words what a ranking stands on. Every figure here is one that the decision used."""

from collections.abc import Container, Iterable, Mapping, Sequence
from math import sqrt
from typing import NamedTuple

from kb.desk.choose.rule import about_liquid
from kb.desk.choose.weigh import WATER
from kb.desk.choose.words import HERE, about, called, mean_spots, within
from kb.desk.pool.behind import Told
from kb.desk.pool.words import detail, disagreements, gist, harm_seen, none_near
from kb.index.compiled import Compiled, Named
from kb.index.patch_rows import Counted
from kb.index.rows import BARE_PAPER, NO_CARRIER
from kb.model.guidance import Caution
from kb.model.question import Answer, Chance, Question, SeriesStep, Suggestion, Vetoed
from kb.science.choose.acting import CARRIER_HARM, side
from kb.science.choose.evidence import in_words
from kb.science.choose.groups import LEAST_RELEASE
from kb.science.numbers import counted, percent

DISCLAIMER = (
    "A proposal for a test, not a treatment. Intervals do not include reporting bias. Safety figures are "
    "for screening: the safety data sheet of your bottle, local rules and licensed practice come first."
)


LIFT = "lifting the carrier first and asking again"
MOST_NAMED = 3
"""Liquids that are named as barred; of more only how many there are."""
ANOTHER_WAY = "another way of putting the liquid on"
DAMP_GEL, DRY_GEL = "a damp gel", "a specialist's confined gel with very little water"
OF_LIQUID = frozenset((ANOTHER_WAY, DAMP_GEL))
SET_BY_WATER = frozenset(("starch", "protein", "polysaccharide"))
"""Groups of glues that dry heat does not soften. Common practice, no source."""


LEAST_MOVE = 0.05
"""Logits; a smaller move of chemistry by the book is not worth a line."""
UNKNOWN_MEDIUM = "medium not stated: harm is the average over the listed media, the common ones counting more"
SWAB, GEL = "swab", "gel"
ROUNDS = (
    "At least three rounds on one spot; look wet at 10-30 s, dry, on the "
    "back, under the glass, and next day in UV."
)
DAMP = (
    "On the adhesive itself rather a damp gel or a poultice than a swab: it brings less water, and leaves "
    "a tideline less often."
)
"""Common practice, no source."""


NO_PATCH = Counted(0, 0.0)


class Facts(NamedTuple):
    """The numbers behind one suggestion."""

    what: Named
    release: Chance
    harm: Chance
    release_here: Chance
    harm_here: Chance
    decision: float
    release_p0: float
    harm_p0: float
    taught: tuple[float, float]
    """Logits by which the book moved both as chemistry foresees them."""
    harm_by_medium: dict[str, Chance]
    worst_medium: str
    own_tests: int
    own_hits: int
    tests: int
    hits: int
    expected: float
    variance: float
    looked_medium: str
    """Of which looks for harm are told."""
    called: Mapping[str, str]
    """All within reach by id, as they are called within a sentence."""
    harm_tests: int
    harm_hits: int
    harm_own_tests: int
    harm_own_hits: int
    beside: Mapping[str, tuple[int, int, bool]]
    """Where there were none of that, looks for harm to what else lies within reach, and how many saw it."""
    far: bool
    """Whether own tests move a chance of it, be they further off than those that are counted here."""
    tapes: int
    print_tests: float
    reports: tuple[tuple[str, bool], ...]
    red_adhesive: float | None
    red_medium: float | None
    cautions: tuple[Caution, ...]
    refused: str
    sheet: str
    spots: bool
    """Whether any spot on it tells something."""
    used_print: bool
    averaged: int
    """Over how many things the tape may be the chance of release was averaged; 1 if it is known."""
    others: Told | None = None
    """What other studios counted; None where there is no pool."""
    named: float = 1.0
    """In how many reports and tests the liquid is named."""
    carrier: float = 0.0
    """Share in which it dissolves the carrier."""
    in_part: float = 0.0
    """What tests on tapes not known for sure count for what was asked."""
    patches: Counted = NO_PATCH
    """Patches lifted with it on such an adhesive or medium."""

    def to_other(self, medium: str) -> str:
        """`` to `` a medium of which looks are told, where it is not the worst ink within reach."""
        first = next((one for one in self.harm_by_medium if one != BARE_PAPER), medium)
        return "" if medium == first else f" to {self.called[medium]}"


def disagrees(fact: Facts) -> bool:
    """Whether the log lies more than two standard deviations from what chemistry expected."""
    # A variance of nothing - all chances 0 or 1 - would make any difference infinite.
    return fact.tests > 0 and abs(fact.hits - fact.expected) > 2 * sqrt(max(fact.variance, 1e-12))


def reason(fact: Facts) -> str:
    """One line: tests behind it, chemistry, chances, and a warning where log and chemistry part."""
    # On this sheet where one is named: that is what the decision went by.
    here_release = fact.release_here if fact.sheet else fact.release
    here_harm = fact.harm_here if fact.sheet else fact.harm
    theirs = gist(fact.others, fact.to_other(fact.others.medium)) if fact.others else ""
    parts = [
        _log_words(fact, theirs),
        *([theirs] if theirs else []),
        _place_words("the adhesive's", fact.red_adhesive),
        _place_words("the medium's", fact.red_medium) if fact.worst_medium else UNKNOWN_MEDIUM,
        f"P(release) {_span(here_release)}",
        f"P(harm) {_span(here_harm)}",
    ]
    # Said although it is only a cost: a first report is what the reader can add.
    if fact.named < 1:
        parts.append("nobody has reported this liquid")
    if fact.carrier > 0:
        parts.append("softens or dissolves the carrier")
    if fact.what.barred:
        parts.append("only if the milder ones fail")
    if disagrees(fact):
        parts.append("your tests disagree with chemistry")
    if fact.others and (fact.others.release_apart or fact.others.harm_apart):
        parts.append("your tests and those of other studios disagree")
    return "; ".join(parts)


def _span(chance: Chance) -> str:
    return f"{chance.p:.2f} ({chance.low:.2f}-{chance.high:.2f})"


def _log_words(fact: Facts, theirs: str) -> str:
    # From the strongest evidence there is to the weakest, and only the first that applies.
    if not fact.tests and not fact.harm_tests:
        if fact.patches.patches:
            return f"no spot test yet; {_patch_words(fact.patches)}"
        if fact.in_part:
            return f"no test on a tape that is surely this; those that may be count as {fact.in_part:.1f}"
        near = " near it" if fact.far else ""
        if theirs and not fact.beside:
            return f"no test of yours{near} yet"
        if not fact.beside:
            rests = [f"{counted(len(fact.reports), 'report')} in print"] if fact.reports else []
            further = ["your tests further off"] if fact.far else []
            further += ["tests of other studios further off"] if fact.others and fact.others.far else []
            rests += ["chemistry", *further]
            text = " and ".join(filter(None, (", ".join(rests[:-1]), rests[-1])))
            return f"no tests{near} yet; {text}{'' if further else ' only'}"
    text = "no earlier release test"
    if fact.tests:
        text = (
            f"{counted(fact.tests, 'earlier test')} on {counted(fact.tapes, 'similar tape')}: released "
            f"{fact.hits} (chemistry alone expected {fact.expected:.1f})"
        )
    # Of one alone: on what lies beside it there may be looks.
    looked = f"harm to {fact.called[fact.looked_medium]} never looked at with its like"
    if fact.harm_tests:
        did = harm_seen(fact.to_other(fact.looked_medium), like=fact.harm_tests > fact.harm_own_tests)
        looked = f"{did} {fact.harm_hits} of {fact.harm_tests}"
    beside = [
        f"{harm_seen(f' to {fact.called[medium]}', like=like)} {hits} of {looks}"
        for medium, (looks, hits, like) in fact.beside.items()
    ]
    return ", ".join((text, looked, *beside))


def _patch_words(patches: Counted) -> str:
    return f"{counted(patches.patches, 'patch', 'patches')} lifted with it, weight {patches.weight:.1f} tests"


def _place_words(whose: str, red: float | None) -> str:
    return f"{whose} sphere is not known" if red is None else f"{side(red)} {whose} sphere (RED {red:.2g})"


def details(fact: Facts) -> tuple[str, ...]:
    """The parts of the reason in the order of trust, one line each."""
    lines = []
    if fact.sheet:
        lines.append(
            f"This sheet: release {_span(fact.release_here)}, harm {_span(fact.harm_here)}; "
            + ("spots already made here are taken in." if fact.spots else "no spot here tells anything yet.")
        )
    if fact.averaged > 1:
        lines.append(
            f"Release is averaged over {fact.averaged} things the tape may be; the counts below are for the "
            "likeliest of them."
        )
    to_other = fact.to_other(fact.looked_medium)
    lines.append(
        f"Same class here: {counted(fact.own_tests, 'test')}, {fact.own_hits} released; "
        f"{counted(fact.harm_own_tests, 'look')} for harm{to_other}, {fact.harm_own_hits} harmed."
        if fact.own_tests or fact.harm_own_tests
        # "No test yet" is said and not left out: silence would read as no harm.
        else "Same class here: no test yet."
    )
    others = fact.tests - fact.own_tests
    harm_others = fact.harm_tests - fact.harm_own_tests
    lines.append(
        f"Similar tapes, media and liquids: {counted(others, 'test')}, {fact.hits - fact.own_hits} released; "
        f"{counted(harm_others, 'look')} for harm, {fact.harm_hits - fact.harm_own_hits} harmed."
        if others or harm_others
        else "Similar tapes, media and liquids: no test yet."
    )
    if fact.beside:
        looked = [
            f"{fact.called[medium]}{' or its like' if like else ''}, {looks} of which {hits} harmed"
            for medium, (looks, hits, like) in fact.beside.items()
        ]
        lines.append(f"Looks for harm to what else lies there: {'; '.join(looked)}.")
    if fact.in_part:
        lines.append(
            f"On tapes not known for sure: they count as {fact.in_part:.1f} tests, in proportion to what "
            "each tape may be."
        )
    if fact.patches.patches:
        lines.append(
            f"On sheets under treatment: {_patch_words(fact.patches)}: patches of one strip are nearly one "
            "observation, and k of them count k/(k+1) of a test together (this project's own figure)."
        )
    if len(fact.harm_by_medium) > 1:
        each = ", ".join(
            # In words as well: two figures with a span are hard to hold against each other.
            f"{fact.called[medium]} {_span(chance)} {in_words(chance.p)}"
            for medium, chance in fact.harm_by_medium.items()
        )
        lines.append(f"Harm to each medium within reach, the worst counts: {each}.")
    if fact.others:
        lines.append(detail(fact.others, fact.to_other(fact.others.medium)))
    if fact.carrier > 0:
        lines.append(
            f"Of the harm, {percent(CARRIER_HARM * fact.carrier)} is the carrier's, where it is to stay."
        )
    lines.append(_print_words(fact))
    lines.append(
        f"Chemistry alone: release {fact.release_p0:.2f} ({in_words(fact.release_p0)}), "
        f"harm {fact.harm_p0:.2f} ({in_words(fact.harm_p0)}). {_not_known(fact)}".rstrip()
    )
    # A small move is not worth a line, since every book moves chemistry a little.
    if any(abs(move) >= LEAST_MOVE for move in fact.taught):
        release, harm = fact.taught
        lines.append(
            f"Your book as a whole moves that: release {release:+.1f}, harm {harm:+.1f} on the logit scale."
        )
    if disagrees(fact):
        lines.append(
            f"Your tests and chemistry disagree: {fact.hits} released of {fact.tests} where chemistry "
            f"expected {fact.expected:.1f}. Trust your own tests first."
        )
    said = {released for _, released in fact.reports}
    # Two at least: one test that went otherwise contradicts nobody.
    if fact.own_tests >= 2 and said and (fact.own_hits / fact.own_tests >= 0.5) not in said:
        lines.append("Your own tests and the reports in print disagree.")
    if fact.others:
        lines += disagreements(
            fact.others, (fact.tests, fact.hits), frozenset(said), fact.to_other(fact.others.medium)
        )
    lines.append(
        f"In words: release {in_words(fact.release.p)}, harm {in_words(fact.harm.p)}; "
        f"decision index {fact.decision:.1f} (worth a test above 0)."
    )
    return tuple(lines)


def _print_words(fact: Facts) -> str:
    if not fact.used_print:
        return "In print: left out, as you asked."
    if not fact.reports:
        return "In print: no report on this liquid that bears on the question."
    released = sum(1 for _, hit in fact.reports if hit)
    # By report and not by outcome: one report may name a liquid twice.
    names = ", ".join(dict.fromkeys(report for report, _ in fact.reports))
    return (
        f"In print: {counted(len(fact.reports), 'outcome')} ({names}), {released} released; together they "
        f"count as {fact.print_tests:.1f} tests (this project's own weights)."
    )


def _not_known(fact: Facts) -> str:
    missing = []
    if fact.red_adhesive is None:
        missing.append("no sphere for this adhesive or liquid")
    if fact.red_medium is None and fact.worst_medium:
        missing.append("no sphere for this medium or liquid")
    return f"Not known: {'; '.join(missing)}." if missing else ""


def rests_on(shown: Sequence[Facts], question: Question, *, spots: bool, used_print: bool) -> str:
    """What kinds of evidence the answer stands on, in the order of trust, and what is missing.

    A look for harm is evidence as a grade of release is. ``spots``: whether any on this sheet was graded.
    """
    own = any(one.own_tests or one.harm_own_tests for one in shown)
    similar = any(one.tests > one.own_tests or one.harm_tests > one.harm_own_tests for one in shown)
    in_part = any(one.in_part for one in shown)
    patches = sum(one.patches.patches for one in shown)
    others = [one.others for one in shown if one.others]
    theirs = any(one.bears for one in others)
    beside = {medium for one in shown for medium in one.beside}
    printed = used_print and any(one.print_tests for one in shown)
    kinds = []
    if question.sheet and spots:
        kinds.append("spots on this sheet")
    if own:
        kinds.append("own tests of the same class")
    if similar:
        kinds.append("own tests on similar tapes")
    if beside and not (own or similar):
        kinds.append(f"own looks at {'bare paper' if beside == {BARE_PAPER} else 'what else lies there'}")
    if in_part:
        kinds.append("own tests on tapes that may be this one, in part")
    if patches:
        kinds.append(f"{counted(patches, 'patch', 'patches')} lifted")
    if theirs:
        kinds.append("tests of other studios")
    if printed:
        kinds.append("reports in print")
    # Always, since every answer starts from it.
    kinds.append("chemistry")
    text = "Rests on " + ", ".join(kinds) + "."
    # Said in so many words, so that a new studio does not take print for its own experience.
    if not (own or similar or beside or in_part or patches or spots):
        text += f" N{none_near('yours', far=any(one.far for one in shown), yet=' yet')[1:]}."
    if others and not theirs:
        text += f" N{none_near('other studios', far=any(one.far for one in others))[1:]}."
    unknown = [
        word
        for word, value in (
            ("adhesive", question.adhesive or question.may_be),
            ("stage", question.stage or question.may_be),
            ("carrier", question.carrier or question.may_be),
            # The first within reach stands for all: with none named it is empty.
            ("medium", question.reach[0]),
            ("paper", question.paper),
        )
        if not value
    ]
    # Of one there is no average, and it was said what it was taken for.
    if len(question.may_be) > 1 and not question.adhesive:
        so = "its signs leave possible" if question.signs else "it may be"
        text += f" Averaged over {counted(len(question.may_be), 'thing')} {so}."
    if unknown:
        text += f" Not stated and averaged over: {', '.join(unknown)}."
    return text


def next_step(
    first: Suggestion | None,
    question: Question,
    compiled: Compiled,
    carrier_first: str,
    instead: str,
    before: str,
    not_so: str,
    mind: str,
    clean: Container[str],
) -> str:
    """What to test first, where, and how to look; ``first`` leads the series, None if there is none.

    ``before``: what comes before any liquid. ``not_so``: what to do rather than put it on by the way that is
    asked of, where the sheet does not bear that; ``mind``: how, where it does. ``clean``: media that it left
    alone when it was looked at.
    """
    if first is None:
        # Where nothing leads there is still something to do.
        return f"{before} {carrier_first or f'Stop and look again. {instead}'}".strip()
    method = compiled.method_names.get(question.method, question.method)
    known = [one for one in question.reach if one in compiled.media and one != BARE_PAPER]
    media = ", then ".join(within(compiled.media[one].name) for one in known if one not in clean)
    media = media if any(question.reach) else "every medium"
    paper = (
        counted(first.looks, "clean look") if first.looks else "" if BARE_PAPER in clean else "paper alone"
    )
    where = [f"{paper} at a margin" if paper else "", f"{media} where it is least seen" if media else ""]
    steps = ", then ".join(filter(None, (*where, "the adhesive at a loose end")))
    steps = steps if any(where) else f"what it must spare was clean: now {steps}"
    # Water on a swab spreads; a gel keeps it where it is put.
    gentler = f" {DAMP}" if first.parts.keys() == {"water"} and question.method == SWAB and not not_so else ""
    resort = " Nothing milder is free here." if first.last_resort else ""
    resort += f" {instead}" if resort and not carrier_first else ""
    lead = "Where it stays on, test first" if carrier_first else "Test first"
    way = (
        f". Not by {method.lower()} here: {not_so[:1].lower()}{not_so[1:]}"
        if not_so
        else f", by {method.lower()}.{f' {mind}' if mind else ''}"
    )
    lead_in = " ".join(filter(None, (before, carrier_first, f"{lead}: {first.name}{way}{resort}{gentler}")))
    return f"{lead_in} {steps[:1].upper()}{steps[1:]}. {ROUNDS}"


def why_nothing(barred: Sequence[Vetoed], cautions: Sequence[Caution], *, tried: bool) -> str:
    """Why no liquid is left: what this sheet bars may well be what would have acted, or it was tried here."""
    pure = [one for one in barred if one.here and "%" not in one.name]
    acting = [one.name.lower() for one in pure]
    if tried:
        return "what would act was tried on this sheet"
    if not acting:
        return "nothing acts"
    of_the_way = {one.id for one in cautions if one.when.methods}
    if 2 * sum(one.caution in of_the_way for one in pure) > len(pure):
        return "this way of putting it on is barred on this sheet, so ask by another"
    named = f"{len(acting)} liquids" if len(acting) > MOST_NAMED else " and ".join(acting)
    are = "is" if len(acting) == 1 else "are"
    return f"{named} {are} barred on this sheet, and nothing else is likely to act"


def look_on_media(compiled: Compiled, one: Suggestion, media: Sequence[str], looks: int) -> str:
    """What would free one that is held back: so many clean looks on each of the media alone."""
    names = [called(compiled.media[medium].name) for medium in media]
    on = f"{' and on '.join(names)}{', whichever are there,' if len(names) > 1 else ''}"
    looked = f"{counted(looks, 'clean look')} with {one.name} on {on} alone, where least seen"
    harm = f"harm {percent(one.harm.p)}; look for bleeding, offset and a ring"
    return f"What would change that: {looked} ({harm}). Record it with the sheet and ask again."


def stop_text(
    best: Sequence[Suggestion],
    question: Question,
    carrier_first: str,
    why: str,
    ways: Sequence[str],
    look: str,
) -> str:
    """Said when nothing is left to propose: the ``best`` of what might act, in their order, or that nothing
    would. ``look``: what would free one of them."""
    open_ = [word for word, value in (("medium", question.reach[0]), ("paper", question.paper)) if not value]
    # An average over all that is listed holds some that bleed in anything.
    # Where nothing acts, or what would is barred, putting it on in another way helps nobody.
    instead = what_else(ways if best or carrier_first else [way for way in ways if way not in OF_LIQUID])
    if open_:
        unnamed = " and the ".join(open_)
        instead = f"Name the {unnamed}: harm is an average over all that are listed. {instead}"
    if carrier_first:
        return f"No test is worth its risk with the carrier on. {carrier_first} {instead}"
    acting = [one.release.p >= LEAST_RELEASE for one in best]
    refused = ""
    if best:
        refused = f" {'Best' if acting[0] else 'Mildest'} refused: {best[0].name}, {best[0].refused}."
    unlikely = "" if any(acting) else f": {why}"
    return " ".join(filter(None, (f"No test is worth its risk{unlikely}.{refused}", look, instead)))


def instead_of_liquid(question: Question, carrier_first: str, gel: str, *, warm: bool) -> Sequence[str]:
    """Other ways than a liquid, as far as this sheet bears them and they were not said.

    ``gel``: which, empty for none. ``warm``: sheet and adhesive are of a kind that warmth suits.
    """
    lift = not carrier_first and question.carrier != NO_CARRIER
    ways = (ANOTHER_WAY, gel, "warmth" if warm else "", "dry removal", LIFT if lift else "")
    return [way for way in ways if way]


def gel_for(
    compiled: Compiled, question: Question, may_be: Iterable[tuple[float, Question]], *, no_water: bool
) -> str:
    """Which gel this sheet bears; empty for none. ``no_water``: it is barred, or did harm here."""
    near = [compiled.media.get(one) for one in question.reach] + [compiled.papers.get(question.paper)]
    bearing = [one for one in compiled.cautions if not {*one.when.media}.isdisjoint(question.reach)]
    warned = any(WATER in one.when.liquids for one in bearing if one.severity != "note")
    # Loose powder holds to a gel as well, and what water does nothing to is no better for one.
    touches = (one for one in bearing if GEL in one.when.methods and not about_liquid(one.when))
    if any(one.severity != "note" for one in touches) or not any(_wetted(compiled, one) for _, one in may_be):
        return ""
    # A damp gel is water: where that is barred, does harm or is warned of only a specialist's gel is left.
    dry = any(one is not None and one.grades.get("water") == "usually bleeds" for one in near)
    return DRY_GEL if no_water or warned or dry else DAMP_GEL


def _wetted(compiled: Compiled, question: Question) -> bool:
    """Whether water acts on the adhesive by the handbook, or on a carrier of paper or cloth; if not known, it
    may."""
    glue = compiled.adhesives.get(question.adhesive)
    through = compiled.carriers.get(question.carrier, "porous")
    return glue is None or through == "porous" or glue.responses.get(WATER, -1.0) >= 0.0


def set_by_water(compiled: Compiled, adhesive: str) -> bool:
    """Whether water softens the adhesive, and neither dry heat nor a hydrocarbon is a way to begin."""
    glue = compiled.adhesives.get(adhesive)
    return glue is not None and glue.group in SET_BY_WATER


def what_else(ways: Sequence[str]) -> str:
    """Ways that are left, in a sentence."""
    return f"What else there is: {', '.join(ways)}, or leaving it."


def mock_up_line(what: Named | None) -> str:
    """Which liquid to try away from the sheet first; empty if none stands out."""
    if what is None:
        return ""
    return f"Worth trying on a mock-up first, because little is known of its harm: {what.name}."


AGAIN = "After each spot type it in and ask again: the next may take other looks, or be another liquid."
TYPED_IN = (
    'Typed in afterwards, one line a spot: benchleaf test card{options} "LIQUID: 30s, release 2, bleed 0"'
)


def card(answer: Answer) -> str:
    """The series as a card for the bench, filled in by hand and typed in later; else what the answer says."""
    from kb.book.kinds.spot_test import HARM_WORDS, RELEASE_WORDS

    if not answer.series or answer.expected_spots is None:
        return answer.stop.text if answer.stop else answer.next_step
    whole = answer.expected_spots
    lines = [
        # Lines to write on: the card lies beside the sheet and is filled in by hand.
        f"SERIES OF SPOTS   sheet {answer.question.sheet or '_' * 20}   date __________   by __________",
        f"Expected: {mean_spots(whole.spots)}; safe release {percent(whole.release)}; "
        f"harm on the way {percent(whole.harm)}.",
        *([AGAIN] if len(answer.series) > 1 else []),
        # What comes before any spot, and what the sheet asks for: the card is all that lies beside it.
        *filter(None, [*answer.other_ways, answer.look_first, answer.carrier_first]),
        *(f"{HERE}{one.partition(': ')[2]}" for one in answer.cautions),
        "",
    ]
    for number, step in enumerate(answer.series, start=1):
        lines += [*_step(number, step), ""]
    lines += [f"release: {'; '.join(RELEASE_WORDS)}", f"harm: {'; '.join(HARM_WORDS)}"]
    # As in the book: nothing ticked is not "no harm".
    lines += ["What is left empty was not looked at.", "", TYPED_IN.format(options=_options(answer.question))]
    return "\n".join([*lines, "", DISCLAIMER])


def _options(question: Question) -> str:
    """The question as options of the command, so that nobody has to type it again."""
    named = ("tape", "adhesive", "stage", "carrier", "medium", "paper", "method", "sheet")
    said = ((name, getattr(question, name)) for name in named)
    import shlex

    # Quoted for a shell, because the line is copied from the card.
    return "".join(f" --{name} {shlex.quote(value)}" for name, value in said if value)


def _step(number: int, step: SeriesStep) -> list[str]:
    from kb.book.kinds.spot_test import HARM_KINDS

    looks = f"first {about(number)}{step.looks} x bare paper at a margin: clean? " + "[ ] " * step.looks
    return [
        f"{number}. {step.name}, by {step.method}   (release {percent(step.release)}, "
        f"harm {percent(step.harm)})",
        *([f"   {looks.rstrip()}"] if step.looks else []),
        # Three dwells, as practice is at least three rounds on one spot.
        "   place ______________   dwell ____ ____ ____ s   release ___",
        f"   {'   '.join(f'{kind} ___' for kind in HARM_KINDS)}",
        f"   releases: {step.if_releases}",
        f"   does not: {step.if_not}   harms: {step.if_harms}",
    ]
