"""Identification: the table behind it, the answers, the typed signs and the command."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.identify.identify import EASE, adhesive_mix, identify, looks, signs
from kb.desk.identify.signs import NOT_LOOKED, finding_of, look_of
from kb.desk.studio import Studio
from kb.index.identify_table import LEAST, Table, TLook, read_table, stages_of
from kb.model.identification import SHARES, Identification
from kb.model.material import Adhesive, Stage, StageSigns
from kb.science.choose.evidence import in_words
from tests.test_layers import ANSWER, HEAVY, fresh

TELLS = 1.5
"""A sign is called informative if some finding is this many times as frequent as the base rate."""


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


@pytest.fixture(scope="module")
def table(blank_index: Path) -> Table:
    """The shipped table, read as an answer reads it."""
    studio = Studio(blank_index.parent)
    found = read_table(studio.index.conn)
    studio.close()
    assert found is not None
    return found


def own_signs(table: Table, place: int) -> dict[str, str]:
    """The likeliest finding of every look that is tabulated for a hypothesis."""
    found = {}
    for look in table.looks:
        if look.of[place] and not look.dated:
            shares = look.rows[look.of[place]].shares
            found[look.id] = look.findings[max(range(len(shares)), key=shares.__getitem__)].id
    return found


def ranks(answer: Identification) -> dict[str, int]:
    """Rank of every tape."""
    return {tape.tape: tape.rank for tape in answer.ranked}


# The table


def test_the_headline_never_says_a_hundred_per_cent(studio: Studio) -> None:
    """A chance is printed as the panel prints it, also where all signs speak for one stage."""
    found = {"made-of": "film", "colour": "clear", "gloss": "glossy", "adhesive-colour": "brown"}
    more = {"hardness": "brittle", "tack": "none", "tear": "easily", "oil": "dry"}
    known = {one.look: {f.id for f in one.findings} for one in looks(studio)}
    found |= {look: said for look, said in more.items() if said in known[look]}
    answer = identify(studio, found)
    best = answer.ranked[0]
    assert max(one.p for one in best.stages) >= 0.995, found
    assert ">99 %" in answer.verdict
    assert "100 %" not in answer.verdict


def test_enough_to_look_at_and_to_tell_apart(table: Table) -> None:
    """At least 20 looks, and at least five informative ones for every kind of tape and every stage of it."""
    assert len(table.looks) >= 20
    assert len(table.tapes) == 26
    for place, (tape, stage) in enumerate(table.hypotheses):
        telling = [look.id for look in table.looks if informative(look, place)]
        assert len(telling) >= 5, (table.tapes[tape].id, stage, telling)


def informative(look: TLook, place: int) -> bool:
    """Whether a look is tabulated for a hypothesis and differs from what is met elsewhere."""
    if not look.of[place]:
        return False
    shares, base = look.rows[look.of[place]].shares, look.rows[0].shares
    return max(share / usual for share, usual in zip(shares, base, strict=True)) >= TELLS


def test_shares_are_chances(table: Table) -> None:
    """Each row sums to 1, and nothing is impossible: eyes err, and lists are short."""
    for look in table.looks:
        for row in look.rows:
            assert sum(row.shares) == pytest.approx(1.0)
            assert min(row.shares) >= LEAST / 2
        assert all(row.sources for row in look.rows[1:])
        assert look.rows[0].sources == ()


def test_scale_goes_down_and_stays_between_0_and_1() -> None:
    """The project's words are in order and none means always or never."""
    values = list(SHARES.values())
    assert values == sorted(values, reverse=True)
    assert all(0 < value < 1 for value in values)


def test_stages_are_those_of_the_adhesive(table: Table) -> None:
    """Rubber has three, rubber cement its own, acrylic fresh and aged."""
    stages = {tape.id: tape.stages for tape in table.tapes}
    assert stages["clear-cellulose-film-rubber"] == ("induction", "oily", "crosslinked")
    assert stages["masking-synthetic"] == ("induction", "oily", "crosslinked")
    assert stages["rubber-cement"] == ("induction", "tacky", "crosslinked")
    assert stages["matte-acetate-acrylic"] == ("fresh", "aged")
    assert stages["gummed-paper-starch"] == ("fresh", "aged")


def test_adhesive_of_which_nothing_is_known_has_one_state() -> None:
    """A studio's own adhesive need not name stages, and the stages of a catalogue may be other ones."""
    late = Stage(id="late", name="Late", position=2, text="late", sources=("memory",))
    plain = Adhesive(id="a", name="A", group="other", sources=("memory",))
    assert stages_of(plain, {"late": late}) == ("",)
    told = msgspec.structs.replace(plain, stages=(StageSigns(stage="late"),))
    assert stages_of(told, {"late": late}) == ("late",)


def test_what_is_not_tabulated_has_the_base_rate(table: Table) -> None:
    """Adhesive without a strip has no outer face: gloss says nothing of it, for or against."""
    gloss = next(look for look in table.looks if look.id == "gloss")
    bare = [place for place, (tape, _) in enumerate(table.hypotheses) if table.tapes[tape].id == "transfer"]
    assert bare
    assert all(gloss.of[place] == 0 for place in bare)


@pytest.mark.slow
def test_two_signs_of_equal_rank_never_meet(blank_index: Path) -> None:
    """Which sign counts for a tape is never left to the order in the file."""
    from kb.catalogue.load import load
    from kb.catalogue.paths import shipped_data
    from kb.index.identify_table import speaks_of, table_of
    from kb.model.identification import Look

    catalogue, problems = load([shipped_data()])
    assert [str(one) for one in problems if "looks" in one.entry] == []
    for look in catalogue.of("looks", Look).values():
        for tape in table_of(catalogue).tapes:
            for stage in tape.stages:
                found = [
                    (bool(sign.tapes), bool(sign.stages), bool(sign.carriers) + bool(sign.adhesives))
                    for sign in look.signs
                    if speaks_of(sign, tape, stage)
                ]
                assert not found or found.count(max(found)) == 1, (look.id, tape.id, stage)


# The answers


@pytest.mark.slow
def test_own_signs_put_every_tape_first_in_every_stage(table: Table, studio: Studio) -> None:
    """Its own likeliest findings name each of the 26 tapes, and no other one likewise."""
    for place, (number, stage) in enumerate(table.hypotheses):
        tape = table.tapes[number].id
        answer = identify(studio, own_signs(table, place))
        best = answer.ranked[0]
        assert best.tape == tape, (tape, stage, answer.verdict)
        assert answer.ranked[1].rank == 2
        assert best.p > 0.9
        assert answer.fits
        assert not answer.flat
        here = {one.stage: one.p for one in best.stages}
        assert here[stage] == pytest.approx(max(here.values())), (tape, stage)


@pytest.mark.slow
def test_leaving_any_one_sign_out_keeps_a_tape_in_the_first_three(table: Table) -> None:
    """For every tape, stage and sign; asked of the numbers, since there are some two thousand questions."""
    from kb.desk.identify.identify import _state

    for place, (number, stage) in enumerate(table.hypotheses):
        whole = own_signs(table, place)
        for left_out in whole:
            some = {look: found for look, found in whole.items() if look != left_out}
            tapes = _state(table, some).tapes[:-1]
            better = sum(chance > tapes[number] for chance in tapes)
            assert better <= 2, (table.tapes[number].id, stage, left_out)


@pytest.mark.slow
def test_random_signs_give_a_flat_answer_that_says_so(table: Table, studio: Studio) -> None:
    """Every look answered at random: no tape stands out, and the answer says that none fits."""
    dice = random.Random(20)
    best = []
    for _ in range(40):
        answer = identify(studio, {look.id: dice.choice(look.findings).id for look in table.looks})
        assert not answer.fits
        assert "fit no listed tape" in answer.verdict
        assert answer.ranked[0].words in {"unlikely", "very unlikely"}
        assert answer.unknown > 0.5
        best.append(answer.ranked[0].p)
    assert sum(best) / len(best) < 0.02


def test_no_leading_tape_is_called_unlikely(table: Table, studio: Studio) -> None:
    """Whatever one finding shows first: what leads is the likeliest yet, or as likely as its figure says."""
    low = 0
    for look in table.looks:
        for finding in look.findings:
            answer = identify(studio, {look.id: finding.id})
            best = answer.ranked[0]
            if best.p > answer.unknown:
                low += best.words == "likeliest yet"
                assert "unlikely" not in best.words, (look.id, finding.id, best.p)
    assert low


@pytest.mark.slow
def test_half_the_looks_at_random_hardly_ever_name_a_tape(table: Table, studio: Studio) -> None:
    """Fewer signs can agree with some tape by chance; that is rare, and never certain."""
    dice = random.Random(21)
    named = 0
    for _ in range(60):
        chosen = dice.sample(table.looks, 19)
        answer = identify(studio, {look.id: dice.choice(look.findings).id for look in chosen})
        named += answer.fits and not answer.flat and answer.ranked[0].p > 0.5
    assert named <= 3


def test_nothing_looked_at(studio: Studio) -> None:
    """Tapes equally usual share a place, those more usual stand before, and the answer says it is empty."""
    answer = identify(studio, {})
    by_place: dict[int, set[str]] = {}
    for tape in answer.ranked:
        by_place.setdefault(tape.rank, set()).add(tape.on_documents.how)
    assert [words for _, words in sorted(by_place.items())] == [{"usual"}, {"now and then"}, {"rare"}]
    assert answer.flat
    assert "Nothing has been looked at" in answer.verdict
    assert answer.evenness > 0.85
    assert answer.unknown == pytest.approx(0.05)
    assert answer.next_looks


def test_chances_sum_to_one_in_any_order(studio: Studio) -> None:
    """Listed tapes and the unlisted one; the order of the findings changes nothing."""
    findings = {"gloss": "glossy", "year": "from-1946", "oil": "stringy", "tack": "strong"}
    answer = identify(studio, findings)
    assert math.fsum([*(tape.p for tape in answer.ranked), answer.unknown]) == pytest.approx(1.0)
    assert identify(studio, dict(reversed(findings.items()))).ranked == answer.ranked
    assert sum(one.p for one in answer.stages) == pytest.approx(1.0 - answer.unknown)
    for tape in answer.ranked:
        assert sum(stage.p for stage in tape.stages) == pytest.approx(1.0)
        assert tape.words == in_words(min(1.0, tape.p))


def test_something_not_listed_stays_an_answer(studio: Studio) -> None:
    """No listed tape is of metal foil: the answer names the odd sign and does not press a tape on anyone."""
    answer = identify(studio, {"made-of": "metal", "threads": "metal"})
    assert not answer.fits
    assert answer.unknown > 0.5
    assert "metal" in answer.verdict


def test_reasons_say_what_spoke_for_and_against(studio: Studio) -> None:
    """Each with its factor, its sources, and a word where no source was read."""
    answer = identify(studio, {"gloss": "frosted", "stretch": "not-at-all", "smell": "vinegar"})
    best = answer.ranked[0]
    assert best.tape == "matte-acetate-acrylic"
    reasons = {one.look: one for one in best.reasons}
    assert reasons["gloss"].factor > 5
    assert reasons["gloss"].sources == ("dict",)
    assert reasons["gloss"].mark == ""
    assert reasons["smell"].mark == ""
    assert reasons["stretch"].mark == "from memory"
    other = next(tape for tape in answer.ranked if tape.tape == "clear-cellulose-film-rubber")
    against = next(one for one in other.reasons if one.look == "gloss")
    assert against.factor < 0.5
    assert "against" in against.text
    bare = next(tape for tape in answer.ranked if tape.tape == "transfer")
    untold = next(one for one in bare.reasons if one.look == "gloss")
    assert (untold.sources, untold.mark) == ((), "not tabulated")


def test_year_weighs_before_any_sign_counts(studio: Studio) -> None:
    """Of tapes on sale in a span each is as likely as the other, however long it was sold."""
    answer = identify(studio, {"year": "since-1983"})
    chances = {tape.tape: tape.p for tape in answer.ranked}
    assert chances["bopp-acrylic"] == pytest.approx(chances["masking-rubber"])
    early = identify(studio, {"year": "from-1925"})
    late = {tape.tape: tape.p for tape in early.ranked}
    assert late["bopp-acrylic"] < 0.1 * late["masking-rubber"]
    assert early.unknown == pytest.approx(0.05)
    assert "year" in early.prior
    assert "year" not in identify(studio, {}).prior


def test_next_looks_are_left_and_tell_most_for_what_they_take(studio: Studio) -> None:
    """What was answered or cannot be taken is not proposed again; eyes come before samples."""
    answer = identify(studio, {"gloss": "glossy", "stretch": NOT_LOOKED}, limit=100)
    proposed = [look.look for look in answer.next_looks]
    assert "gloss" not in proposed
    assert "stretch" not in proposed
    assert all(look.bits >= look.tape_bits - 1e-9 for look in answer.next_looks)
    worth = [look.bits * EASE[look.cost] for look in answer.next_looks]
    assert worth == sorted(worth, reverse=True)
    infrared = next(look for look in answer.next_looks if look.look == "infrared-strip")
    assert infrared.tape_bits > 1
    assert proposed.index("infrared-strip") > proposed.index("colour")


def test_a_good_look_lowers_what_is_not_known(studio: Studio) -> None:
    """Following the advice four times, with the answers of one tape, leaves less than half the bits."""
    wanted = {"made-of": "film", "adhesive-colour": "clear", "gloss": "frosted", "tear": "across"}
    told: dict[str, str] = {}
    before = identify(studio, told).entropy_bits
    for _ in range(4):
        answer = identify(studio, told, limit=100)
        look = next(one.look for one in answer.next_looks if one.look in wanted)
        told[look] = wanted[look]
    assert identify(studio, told).entropy_bits < before / 2


TWINS = """
carriers:
- {id: foil-a, name: Foil A, lets_liquid_through: film, from: [memory]}
tapes:
- id: foil-one
  name: Foil tape one
  carrier: foil-a
  adhesive: acrylic
  era: {text: late, from: [memory]}
  from: [memory]
- id: foil-two
  name: Foil tape two
  carrier: foil-a
  adhesive: acrylic
  era: {text: late, from: [memory]}
  from: [memory]
looks:
- id: foil
  name: Is it embossed foil?
  how: Look.
  findings: [{id: embossed, words: embossed}, {id: flat-foil, words: flat}, {id: no-foil, words: no foil}]
  signs: [{carriers: [foil-a], finds: {embossed: nearly always}, from: [memory]}]
"""


@pytest.mark.slow
def test_twins_share_the_first_place_and_are_told_as_a_pair(new_studio: Callable[[str], Studio]) -> None:
    """Two tapes of a studio's own that differ in nothing tabulated cannot be told apart, and it says so."""
    studio = new_studio("twins")
    studio.catalogue_dir.mkdir()
    (studio.catalogue_dir / "mine.yaml").write_text(TWINS, encoding="utf-8")
    studio.index.refresh()
    studio.close()
    answer = identify(studio, {"foil": "embossed", "adhesive-colour": "clear", "tack": "strong"})
    assert {tape.tape for tape in answer.ranked if tape.rank == 1} == {"foil-one", "foil-two"}
    assert [set(one.tapes) for one in answer.alike] == [{"foil-one", "foil-two"}]
    assert "Foil tape one or Foil tape two: no look left tells them apart" in answer.verdict
    assert adhesive_mix(answer)[0][0] == "acrylic"


def test_pair_that_a_look_can_still_part_is_not_called_alike(studio: Studio) -> None:
    """Two masking tapes look alike, but a drop of solvent and the colour are left to try."""
    crinkled = {"crinkled": "crinkled", "made-of": "paper"}
    answer = identify(studio, crinkled)
    assert answer.alike == ()
    leading = {tape.tape for tape in answer.ranked[:2]}
    assert leading == {"masking-rubber", "masking-synthetic"}
    every = {look.look: NOT_LOOKED for look in looks(studio)}
    assert {frozenset(one.tapes) for one in identify(studio, {**every, **crinkled}).alike} == {
        frozenset(leading)
    }


def test_mix_of_adhesives_for_an_average(studio: Studio) -> None:
    """Weights sum to 1, unlisted included; small ones are shared out; a sure answer is one entry."""
    answer = identify(studio, {"gloss": "glossy", "oil": "stringy"})
    mix = adhesive_mix(answer)
    assert math.fsum(weight for *_, weight in mix) == pytest.approx(1.0)
    assert [weight for *_, weight in mix] == sorted((weight for *_, weight in mix), reverse=True)
    assert mix[0][:2] == ("natural-rubber-resin", "oily")
    every = adhesive_mix(answer, least=0.0)
    assert len(every) > len(mix)
    assert ("", "", "") in {one[:3] for one in every}
    assert len(adhesive_mix(answer, least=1.0)) >= 1


def test_wrong_ids_are_named(studio: Studio) -> None:
    """A look or finding that is not in the catalogue is an error of one sentence."""
    with pytest.raises(DeskError, match='no look "shine"'):
        identify(studio, {"shine": "glossy"})
    with pytest.raises(DeskError, match='no finding "purple"; known: glossy'):
        identify(studio, {"gloss": "purple"})


# Typed signs


@pytest.mark.parametrize(
    ("typed", "look", "finding"),
    [
        ("gloss=glossy", "gloss", "glossy"),
        ("stretch=no", "stretch", "not-at-all"),
        ("Does it stretch?=yes", "stretch", "much"),
        ("year=1952", "year", "from-1946"),
        ("year=about 1960", "year", "from-1946"),
        ("year=1961", "year", "from-1961"),
        ("date=1950s", "year", "from-1946"),
        ("year=1899", "year", "before-1925"),
        ("year=before 1925", "year", "before-1925"),
        ("year=before 1946", "year", "from-1930"),
        ("year=after 1960", "year", "from-1961"),
        ("year=2024", "year", "since-1983"),
        ("outer face = matte", "gloss", "frosted"),
        ("glos=shny", "gloss", "glossy"),
        ("odour=vinegar", "smell", "vinegar"),
        ("adhesive color=dark brown", "adhesive-colour", "brown"),
        ("halo=oily", "halo", "see-through"),
        ("carrier loose=fallen", "loose", "off"),
        ("fluorescence=yellow", "uv", "yellow-orange"),
        ("water on adhesive=slimy", "water-adhesive", "slimy"),
        ("uv=?", "uv", NOT_LOOKED),
        ("polars=not looked", "polars", NOT_LOOKED),
        ("frosted", "gloss", "frosted"),
    ],
)
def test_typed_words_find_look_and_finding(typed: str, look: str, finding: str, studio: Studio) -> None:
    """As a person types them, misspelt, and in other words."""
    assert signs(studio, [typed]) == {look: finding}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        *((typed, "nothing by that name; near") for typed in ("gloss=purple", "sparkle=yes", "gloss=")),
        *((typed, "nothing by that name; near") for typed in ("=glossy", "year=long ago")),
        ("no", '"no" may mean several: tack=none'),
    ],
)
def test_unclear_words_are_not_guessed(typed: str, said: str, studio: Studio) -> None:
    """The nearest are offered instead, and a word that fits none is not said to fit several."""
    with pytest.raises(Unclear, match=said):
        signs(studio, [typed])


def test_two_answers_to_one_look_are_refused(studio: Studio) -> None:
    """The same answer twice is no contradiction."""
    assert signs(studio, ["gloss=glossy", "shine=glossy"]) == {"gloss": "glossy"}
    with pytest.raises(DeskError, match="two ways"):
        signs(studio, ["gloss=glossy", "gloss=matt"])
    with pytest.raises(DeskError, match="LOOK=FINDING"):
        signs(studio, ["it is rather pretty"])


def test_every_finding_can_be_typed_by_its_id_and_words(table: Table) -> None:
    """What the list of looks prints is understood when it is typed back."""
    for look in table.looks:
        assert look_of(table, look.id).id == look.id
        assert look_of(table, look.name).id == look.id
        for one in look.findings:
            assert finding_of(look, one.id) == one.id
            assert finding_of(look, one.words) == one.id


def test_every_year_has_its_span(table: Table) -> None:
    """No gap and no overlap between the spans."""
    dated = [look for look in table.looks if look.dated]
    assert [look.id for look in dated] == ["year"]
    for year in range(1600, 2100):
        holding = [
            one.id for one in dated[0].findings if (one.first_year or 0) <= year <= (one.last_year or 9999)
        ]
        assert [finding_of(dated[0], str(year))] == holding


# The command


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs the command on the studio; gives its exit code, output and errors."""

    def command(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        code = main(["identify", "--studio", str(studio.root), *words])
        out, err = capsys.readouterr()
        return code, out, err

    return command


def test_json_has_the_agreed_shape(run: Any) -> None:
    """The fields that other programs may rely on."""
    code, out, _ = run("--sign", "gloss=glossy", "--sign", "stretch=no", "--sign", "year=1952", "--json")
    answer = json.loads(out)
    assert code == 0
    assert [one["look"] for one in answer["findings"]] == ["gloss", "stretch", "year"] or len(
        answer["findings"]
    ) == 3
    assert answer["ranked"][0]["tape"] == "clear-cellulose-film-rubber"
    of_tape = {"rank", "tape", "name", "adhesive", "carrier", "p", "words", "stages", "reasons"}
    assert of_tape | {"on_documents"} == set(answer["ranked"][0])
    assert {"how", "weight", "sources", "mark", "text"} == set(answer["ranked"][0]["on_documents"])
    assert {"look", "finding", "factor", "sources", "mark", "text"} == set(answer["ranked"][0]["reasons"][0])
    assert {"bits", "tape_bits", "cost", "how", "question", "findings", "look"} == set(
        answer["next_looks"][0]
    )
    assert {"unknown", "verdict", "fits", "flat", "alike", "stages", "prior", "scale", "disclaimer"} <= set(
        answer
    )


def test_text_says_answer_reasons_and_next_look(run: Any) -> None:
    """In plain words, with the sources' marks."""
    code, out, _ = run("--sign", "gloss=matte", "--sign", "smell=vinegar", "--skip", "uv", "--limit", "2")
    assert code == 0
    assert "Matte cellulose acetate office tape" in out
    assert "[dict]" in out
    assert "~ from memory" in out
    assert "something not listed" in out
    assert "look next:" in out
    assert "  uv:" not in out
    assert "project's own" in out


def test_without_signs_it_lists_what_to_look_at(run: Any) -> None:
    """Each look with how to look and what to type; eyes first."""
    code, out, _ = run()
    assert code == 0
    assert out.startswith("needs nothing but eyes and fingers:")
    assert "--sign stretch=not-at-all" in out
    assert out == run("--looks")[1]
    listed = json.loads(run("--looks", "--json")[1])
    assert len(listed) >= 20
    assert all(len(one["findings"]) >= 2 and one["how"] for one in listed)


@pytest.mark.parametrize(("sign", "code"), [("gloss=purple", 1), ("no", 2)])
def test_unclear_sign_is_said_in_one_sentence(run: Any, sign: str, code: int) -> None:
    """Exit 1 where nothing bears the name, 2 where several do; nothing on standard output."""
    found, out, err = run("--sign", sign)
    assert (found, out) == (code, "")
    assert sign.rpartition("=")[2] in err
    assert len(err.strip().splitlines()) == 1


def test_answer_on_a_warm_index_loads_nothing_heavy(blank_index: Path) -> None:
    """Neither YAML nor anything else that only building needs."""
    words = ("identify", "--sign", "gloss=glossy", "--json")
    done = fresh(ANSWER, ",".join(HEAVY), "--studio", str(blank_index.parent), *words)
    assert done.returncode == 0, done.stderr


def test_clear_glossy_film_with_amber_brittle_adhesive_is_old_cellulose_film(studio: Studio) -> None:
    """The classic case: what was read outweighs memory, and the alternatives are near."""
    answer = identify(
        studio,
        {
            "made-of": "film",
            "gloss": "glossy",
            "colour": "clear",
            "adhesive-colour": "amber",
            "hardness": "brittle",
            "tack": "none",
        },
    )
    first, second = answer.ranked[:2]
    assert first.tape == "clear-cellulose-film-rubber"
    assert max(first.stages, key=lambda one: one.p).stage == "crosslinked"
    assert 0.1 < second.p < first.p < 0.9
    assert "Rests on 6 findings from texts that were read" in answer.verdict


FILM_THAT_TEARS = {
    "made-of": "film",
    "tear": "once-nicked",
    "adhesive-colour": "amber",
    "hardness": "brittle",
}


def test_brittle_film_that_tears_once_nicked_is_old_cellulose_film(studio: Studio) -> None:
    """The same case by other signs: rigid PVC shows them as well, and is rare on documents."""
    first, second = identify(studio, FILM_THAT_TEARS).ranked[:2]
    assert (first.tape, second.tape) == ("clear-cellulose-film-rubber", "upvc-packaging")
    assert first.on_documents.sources == ("smith84", "tna")
    assert first.on_documents.mark == ""
    assert second.on_documents.mark == "common practice, no source"
    assert 0.1 < second.p < first.p < 0.9


# What a conservator would say of these. Common practice, no source.
@pytest.mark.parametrize(
    ("found", "tapes"),
    [
        ("made-of=paper hardness=glassy adhesive-colour=amber tack=none", {"gummed-paper"}),
        ("made-of=paper tack=none water-adhesive=slimy", {"gummed-paper", "gummed-paper-starch"}),
        ("made-of=paper crinkled=yes colour=tan", {"masking-rubber"}),
        ("made-of=film colour=tan tack=strong", {"bopp-hotmelt"}),
        ("made-of=film gloss=frosted colour=clear", {"matte-acetate-acrylic"}),
        ("made-of=film gloss=glossy colour=clear tack=strong adhesive-colour=clear", {"bopp-acrylic"}),
        ("made-of=film colour=black stretch=much", {"pvc-insulating"}),
        ("made-of=cloth colour=coloured weave=against-light gloss=satin", {"cloth-pe-coated"}),
    ],
)
def test_rare_tapes_still_lead_where_their_signs_speak(found: str, tapes: set[str], studio: Studio) -> None:
    """How usual a tape is decides between like signs and no further."""
    ranked = identify(studio, signs(studio, found.split())).ranked
    assert {one.tape for one in ranked[: len(tapes)]} == tapes


def test_next_look_asks_what_parts_the_usual_tapes(studio: Studio) -> None:
    """What a look is expected to tell counts with how usual tapes are, and would be less or more without."""
    from kb.desk.identify.identify import _state, _table
    from kb.science import identify as bayes

    state = _state(_table(studio), FILM_THAT_TEARS)
    table = state.table
    even = [0.95 / len(table.tapes) / len(table.tapes[tape].stages) for tape, _ in table.hypotheses]
    alike = bayes.posterior([*even, 0.05], table.likelihoods, state.answered)
    for look in identify(studio, FILM_THAT_TEARS, limit=100).next_looks:
        rows = table.likelihoods[next(place for place, one in enumerate(table.looks) if one.id == look.look)]
        assert look.bits == pytest.approx(bayes.expected_information(state.chances, rows))
        assert look.bits != pytest.approx(bayes.expected_information(alike, rows), rel=1e-3)


def test_every_shipped_tape_says_how_usual_it_is_and_a_wrong_word_is_refused(tmp_path: Path) -> None:
    """The check names file, line and the words that may stand there."""
    from kb.catalogue.load import load
    from kb.catalogue.paths import shipped_data
    from kb.model.material import Tape

    (tmp_path / "mine.yaml").write_text(
        "tapes:\n- id: own\n  name: Own\n  carrier: bopp\n  adhesive: acrylic\n"
        "  era: {text: late, from: [memory]}\n  on_documents: {how: often, from: [memory]}\n"
        "  from: [memory]\n",
        encoding="utf-8",
    )
    catalogue, problems = load([shipped_data(), tmp_path])
    assert all(tape.on_documents is not None for tape in catalogue.of("tapes", Tape).values())
    assert [one.line for one in problems] == [7]
    assert "now and then" in str(problems[0])


def test_chances_are_those_of_plain_arithmetic(table: Table, studio: Studio) -> None:
    """The prior by hand: weights 9, 3, 1 over all tapes, 5 % kept, times the shares of the findings."""
    found = {"gloss": "glossy", "tack": "strong"}
    weight = {"usual": 9.0, "now and then": 3.0, "rare": 1.0}
    total = sum(weight[tape.usual] for tape in table.tapes)
    sums = dict.fromkeys([*(tape.id for tape in table.tapes), ""], 0.0)
    for place, (number, _) in enumerate([*table.hypotheses, (-1, "")]):
        tape = table.tapes[number] if number >= 0 else None
        chance = 0.05 if tape is None else 0.95 * weight[tape.usual] / total / len(tape.stages)
        for look, rows in zip(table.looks, table.likelihoods, strict=True):
            if look.id in found:
                chance *= rows[place][[one.id for one in look.findings].index(found[look.id])]
        sums["" if tape is None else tape.id] += chance
    answer = identify(studio, found)
    assert answer.unknown == pytest.approx(sums[""] / sum(sums.values()))
    for one in answer.ranked:
        assert one.p == pytest.approx(sums[one.tape] / sum(sums.values()))
