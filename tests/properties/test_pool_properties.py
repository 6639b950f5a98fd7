"""Other studios' counts: no word of a record gets out, and the method keeps its promises."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from kb.book.append import append
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.spot_test import Round, SpotTest
from kb.desk.pool.export import export
from kb.desk.studio import Studio
from kb.index.pool_file import HarmCount, NotCounts, ReleaseCount, counts_file, parse, text_of
from kb.science.choose import beta
from kb.science.choose.evidence import RING_CEILINGS, Posterior
from kb.science.choose.pooled import LATITUDE, POOLED_WEIGHT, Joined, within, worth
from kb.science.choose.pooling import FIELDS, Context, Pool, rating
from tests.plain_forms import Cell, from_cells
from tests.properties.test_pooling import CONTEXTS, LIQUIDS, SCALE, kernel_from, kernels, vectors_of

Rows = list[tuple[int, int, int, float, float]]
steady = settings(deadline=None)
chance = st.floats(0.05, 0.95)
row = st.tuples(
    st.integers(0, LIQUIDS - 1),
    st.integers(0, len(CONTEXTS) - 1),
    st.integers(1, 20),
    st.floats(0.0, 1.0),
    chance,
)
logs = st.lists(row, max_size=8)
POOLED_CONTEXTS = [Context(one.weight * POOLED_WEIGHT, one.own) for one in CONTEXTS]
posteriors = st.builds(Posterior, st.floats(0.1, 60), st.floats(0.1, 60))


def joined_from(ours: Rows, theirs: Rows, kernel: list[list[float]]) -> Joined:
    """Own tests and those of others, as a question has them."""
    return Joined(
        Pool(CONTEXTS, vectors_of(ours), kernel, scale=SCALE),
        Pool(POOLED_CONTEXTS, vectors_of(theirs), kernel, scale=SCALE),
    )


def cells_of(rows: Rows, contexts: Sequence[Context], kernel: list[list[float]], target: int) -> list[Cell]:
    """The rows for the plain form of the method."""
    return [
        Cell(
            kernel[target][liquid] * contexts[context].weight,
            n,
            round(n * share),
            p0,
            contexts[context].own and liquid == target,
        )
        for liquid, context, n, share, p0 in rows
    ]


@steady
@given(logs, kernels, chance, st.integers(0, LIQUIDS - 1))
def test_without_own_tests_others_count_as_the_plain_method_has_it(
    theirs: Rows, values: list[float], p0: float, target: int
) -> None:
    """Cell by cell with one more factor of similarity."""
    kernel = kernel_from(values)
    found = joined_from([], theirs, kernel).posterior(target, p0)
    plain = from_cells(p0, cells_of(theirs, POOLED_CONTEXTS, kernel, target))
    assert found.mean == pytest.approx(plain.mean, abs=1e-9)
    assert found.total == pytest.approx(plain.total, abs=1e-9)


@steady
@given(logs, logs, kernels, chance, st.integers(0, LIQUIDS - 1))
def test_with_own_tests_they_count_so_too_unless_held_back(
    ours: Rows, theirs: Rows, values: list[float], p0: float, target: int
) -> None:
    """Either what all cells together give, or less of the others; never more, never past own tests' room."""
    kernel = kernel_from(values)
    both = joined_from(ours, theirs, kernel)
    found = both.posterior(target, p0)
    cells = cells_of(ours, CONTEXTS, kernel, target)
    alone = from_cells(p0, cells)
    plain = from_cells(p0, cells + cells_of(theirs, POOLED_CONTEXTS, kernel, target))
    if not both.held_back(target, p0):
        assert found.mean == pytest.approx(plain.mean, abs=1e-9)
        assert found.total == pytest.approx(plain.total, abs=1e-9)
        return
    low, high = sorted((alone.mean, plain.mean))
    assert low - 1e-9 <= found.mean <= high + 1e-9
    assert alone.total - 1e-9 <= found.total <= plain.total + 1e-9
    groups = Pool(CONTEXTS, vectors_of(ours), kernel, scale=SCALE).counted(target, p0)
    counted, rate = worth(groups)
    room = max(LATITUDE / counted**0.5, abs(alone.mean - rate))
    assert abs(found.mean - rate) <= room + 1e-9


@steady
@given(logs, logs, kernels, chance, st.integers(0, LIQUIDS - 1), st.booleans(), st.data())
def test_a_success_in_place_of_a_failure_never_lowers_the_mean(
    ours: Rows,
    theirs: Rows,
    values: list[float],
    p0: float,
    target: int,
    in_own: bool,
    data: st.DataObject,
) -> None:
    """Anywhere, in own tests or in those of others, also where they are held back."""
    changed = ours if in_own else theirs
    assume(changed)
    place = data.draw(st.integers(0, len(changed) - 1))
    liquid, context, n, share, cell_p0 = changed[place]
    hits = round(n * share)
    assume(hits < n)

    def mean(k: int) -> float:
        rows = [*changed[:place], (liquid, context, n, k / n, cell_p0), *changed[place + 1 :]]
        pair = (rows, theirs) if in_own else (ours, rows)
        return joined_from(*pair, kernel_from(values)).posterior(target, p0).mean

    assert mean(hits + 1) >= mean(hits) - 1e-9


@steady
@given(logs, kernels, chance, st.integers(0, LIQUIDS - 1))
def test_an_empty_pool_changes_no_bit(ours: Rows, values: list[float], p0: float, target: int) -> None:
    """Nor does one with tests that do not bear on the question."""
    kernel = kernel_from(values)
    alone = Pool(CONTEXTS, vectors_of(ours), kernel, scale=SCALE).posterior(target, p0)
    assert joined_from(ours, [], kernel).posterior(target, p0) == alone


@steady
@given(posteriors, posteriors, st.floats(0, 70), st.floats(-0.4, 1.4))
def test_holding_back_keeps_in_range(
    alone: Posterior, more: Posterior, own_worth: float, own_rate: float
) -> None:
    """Between without and with, strictly inside 0 and 1, and never surer than with all of them."""
    joined = Posterior(alone.a + more.a, alone.b + more.b)
    found = within(alone, joined, own_worth, own_rate)
    low, high = sorted((alone.mean, joined.mean))
    assert low - 1e-12 <= found.mean <= high + 1e-12
    assert 0 < found.mean < 1
    assert alone.total - 1e-9 <= found.total <= joined.total + 1e-9
    if own_worth == 0:
        assert found == joined


@pytest.mark.parametrize("p0", [0.01, 0.3, 0.7, 0.99])
@pytest.mark.parametrize("other", [1.0, 0.95 * 0.97])
def test_two_thousand_tests_of_two_thousand_studios(p0: float, other: float) -> None:
    """At 90 %: the mean within 0.06 of it and a width under 0.20, also with another carrier and method."""
    posterior = from_cells(p0, [Cell(POOLED_WEIGHT * other, 2000, 1800, p0, True)])
    low, high = beta.interval(*posterior)
    assert abs(posterior.mean - 0.90) < 0.06
    assert 0.05 < high - low < 0.20


@pytest.mark.parametrize("weight", [0.6, 0.5, 0.3, 0.25, 0.2])
def test_endless_tests_elsewhere_of_a_similar_class(weight: float) -> None:
    """They stay under the ceiling of their ring, and out of the inmost one."""
    kernel = [[1.0]]
    rows = [10**9, 10**9, 0, 1, 1, 0, 0]
    theirs = Pool([Context(weight * POOLED_WEIGHT, False)], [[v * SCALE for v in rows]], kernel, scale=SCALE)
    ours = Pool([Context(1.0, True)], [[0] * 7], kernel, scale=SCALE)
    added = Joined(ours, theirs).posterior(0, 0.5).total - 3
    assert added <= RING_CEILINGS[1] + 1e-9


def test_one_own_test_nearby_outweighs_one_of_the_same_class_elsewhere() -> None:
    """Order of trust, test by test: own same class, own one step away, then pooled same class."""
    kernel = [[1.0]]
    one = [[SCALE, rating(SCALE, SCALE, SCALE // 2), SCALE // 2, SCALE, 1, 1, 0, 0]]
    nothing = [[0] * FIELDS]

    def mean(own: float, is_own: bool, pooled: bool) -> float:
        ours = Pool([Context(own, is_own)], nothing if pooled else one, kernel, scale=SCALE)
        theirs = Pool([Context(POOLED_WEIGHT, True)], one if pooled else nothing, kernel, scale=SCALE)
        return Joined(ours, theirs).posterior(0, 0.5).mean

    same, near, pooled = mean(1.0, True, False), mean(0.6, False, False), mean(1.0, True, True)
    assert same > near > pooled > 0.5


@steady
@given(st.integers(5, 400), st.integers(50, 5000))
def test_enough_own_tests_are_never_drowned(own: int, theirs: int) -> None:
    """The more own tests that failed, the lower the chance, however many of others succeeded."""
    kernel = [[1.0]]
    ours = Pool([Context(1.0, True)], [[own * SCALE, 0, own * SCALE // 2, own, 0, 0, 0]], kernel, scale=SCALE)
    pooled = Pool(
        [Context(POOLED_WEIGHT, True)],
        [[theirs * SCALE, theirs * SCALE, theirs * SCALE // 2, theirs, theirs, 0, 0]],
        kernel,
        scale=SCALE,
    )
    counts = own * 60 / (own + 60)
    mean = Joined(ours, pooled).posterior(0, 0.5).mean
    assert mean <= max(LATITUDE / counts**0.5, ours.posterior(0, 0.5).mean) + 1e-9


# -- files ---------------------------------------------------------------------------------------

ids = st.sampled_from(["acrylic", "bopp", "x", "a-b-c", "1-4-dioxane", ""])
named = ids.filter(bool)
grades = st.tuples(*[st.integers(0, 50)] * 5).filter(any)
parts = st.one_of(
    named.map(lambda one: {one: 100.0}),
    st.integers(1, 99).map(lambda n: {"acetone": float(n), "ethanol": 100.0 - n}),
)
release_rows = st.lists(
    st.builds(ReleaseCount, named, ids, ids, ids, parts, grades),
    max_size=6,
    unique_by=lambda r: (r.adhesive, r.stage, r.carrier, r.method, tuple(sorted(r.parts.items()))),
)
harm_rows = st.lists(
    st.builds(HarmCount, ids, ids, ids, parts, grades),
    max_size=6,
    unique_by=lambda r: (r.medium, r.paper, r.method, tuple(sorted(r.parts.items()))),
)


@steady
@given(release_rows, harm_rows, st.text(max_size=30), st.randoms())
def test_what_is_written_is_read_and_order_leaves_no_trace(
    release: list[ReleaseCount], harm: list[HarmCount], label: str, source: Any
) -> None:
    """Any rows in any order give the same bytes, and reading them gives the same counts."""
    try:
        counts = counts_file("0" * 32, label, release, harm)
    except NotCounts:
        assume(False)
        raise
    assert parse(text_of(counts)) == counts
    source.shuffle(release)
    source.shuffle(harm)
    assert text_of(counts_file("0" * 32, label, release, harm)) == text_of(counts)


SOUND = text_of(
    counts_file(
        "0123456789abcdef" * 2,
        "North",
        [
            ReleaseCount(
                "acrylic", "oily", "bopp", "swab", {"acetone": 50.0, "ethanol": 50.0}, (1, 2, 3, 4, 5)
            )
        ],
        [HarmCount("iron-gall", "", "swab", {"water": 100.0}, (9, 0, 0, 0, 1))],
    )
)


@settings(deadline=None, max_examples=300)
@given(st.integers(0, len(SOUND) - 1), st.binary(max_size=3), st.integers(0, 3))
@example(47, b"\xd7\xab", 0)
def test_an_altered_file_is_refused_or_says_the_same(at: int, put: bytes, cut: int) -> None:
    """No change of a few bytes gives other counts, another studio or another error than a sentence."""
    said = ""
    try:
        found = parse(SOUND[:at] + put + SOUND[at + cut :])
    except NotCounts as error:
        said = str(error)
    if said:
        assert said.endswith(".")
        assert said.isprintable()
        return
    sound = parse(SOUND)
    assert (found.studio, found.label, found.release, found.harm) == (
        sound.studio,
        sound.label,
        sound.release,
        sound.harm,
    )


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda t: t.encode(errors="surrogatepass")))
def test_any_bytes_are_refused_with_a_sentence(raw: bytes) -> None:
    """Nothing but a sentence comes of them."""
    with pytest.raises(NotCounts):
        parse(raw)


# -- no trace ------------------------------------------------------------------------------------

MARK = "zebra"
"""Planted in every text of a record; no id of the catalogue holds it."""
mark = st.text("abcxyz -_/.#{}[]\"'\\é", max_size=6).map(lambda t: f"{t}{MARK}{t}".strip())
FEATURES = ("adhesive", "stage", "carrier", "tape", "medium", "paper", "method")


@st.composite
def marked(draw: st.DrawFn) -> tuple[str, str, SpotTest]:
    """Who, bench and a test with the mark in every text that is not an id, and sometimes in one that is."""
    usual: dict[str, Any] = {
        "adhesive": "natural-rubber-resin",
        "stage": "oily",
        "carrier": "cloth",
        "tape": "",
        "medium": "iron-gall",
        "paper": "paper-rag",
        "method": "swab",
        "parts": {"acetone": 1.0},
    }
    strange = draw(st.sampled_from(("", "", *FEATURES, "parts", "blend")))
    if strange == "parts":
        usual["parts"] = {f"{MARK}-water": 1.0}
    elif strange == "blend":
        usual["parts"] = {"acetone": 0.5, f"{MARK}-water": 0.5}
    elif strange:
        usual[strange] = draw(mark)
    test = SpotTest(
        **usual,
        sheet=draw(mark),
        site=Site(words=draw(mark), face="front", x_mm=4711.0),
        rounds=(Round(dwell_s=30.0, amount=draw(mark), wet=draw(mark), dry=draw(mark)),),
        release=draw(st.integers(0, 4)),
        harm={"bleed": draw(st.integers(0, 4))},
        magnification=draw(mark),
        light=draw(mark),
        photos=(Photo(path=draw(mark), sha256="ab" * 32),),
        batch=draw(mark),
        tested_at="1999-12-31",
        remarks=draw(mark),
    )
    return draw(mark), f"{MARK}-bench", test


@settings(
    deadline=None,
    max_examples=12,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(tests=st.lists(marked(), min_size=1, max_size=5))
def test_no_word_of_a_record_gets_out(
    new_studio: Callable[[str], Studio], tmp_path: Path, tests: list[tuple[str, str, SpotTest]]
) -> None:
    """No sheet, person, bench, date, batch, remark, photograph or unknown name is in the file of counts."""
    shutil.rmtree(tmp_path / "giver", ignore_errors=True)
    (tmp_path / f"{MARK}.json").unlink(missing_ok=True)
    studio = new_studio("giver")
    studio.settings_file.write_text(f"name: {MARK} studio\nwho: {MARK}\nbench: {MARK}\n")
    for who, bench, test in tests:
        append(studio.book_dir, bench=bench, who=who, kind="test", body=test)
    studio.refresh()
    done = export(studio, tmp_path / f"{MARK}.json", label="North")
    text = (tmp_path / f"{MARK}.json").read_text(encoding="utf-8")
    studio.close()
    for trace in (MARK, "4711", "1999", "ab" * 32, "-12-31", studio.root.name):
        assert trace not in text.replace(done.studio, "").replace(parse(text.encode()).checksum, "")
    counts = parse(text.encode())
    assert done.release_tests + done.left_out.own_tests >= sum(row.grades[4] for row in counts.release)
    known = sum(
        1 for _, _, test in tests if MARK not in f"{[getattr(test, f) for f in FEATURES]}{test.parts}"
    )
    assert done.release_tests >= known
