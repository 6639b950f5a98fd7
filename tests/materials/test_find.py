"""What people type finds what they mean."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.desk.errors import Unclear
from kb.desk.materials.lookup import find, read
from kb.desk.materials.resolve import carrier, optional, question, resolve
from kb.desk.studio import Studio
from kb.index import search
from kb.index.search import WHOLE_SCAN
from scripts.bench_parts.names import add_names, some_names


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("Young's", "cellulose-nitrate-cement"),
        ("young\u2019s", "cellulose-nitrate-cement"),
        ("maker's", "packspec"),
        ("painter's tape", "masking-colours"),
    ],
)
def test_a_word_with_an_apostrophe_is_found_in_texts(studio: Studio, typed: str, found: str) -> None:
    """Names are compared without it, and the texts were searched without it too: nothing bore such a name."""
    assert found in {one.id for one in find(studio, typed)}


@pytest.mark.parametrize(
    ("typed", "kind", "expected"),
    [
        ("celofane tap yelow", "tape", "clear-cellulose-film-rubber"),
        ("IPA", "liquid", "propan-2-ol"),
        ("67-64-1", "liquid", "acetone"),
        ("MEK", "liquid", "butanone"),
        ("isopropanol", "liquid", "propan-2-ol"),
        ("tolune", "liquid", "toluene"),
        ("ethil acetate", "liquid", "ethyl-acetate"),
        ("white spirit", "liquid", "white-spirit-aromatic"),
        ("masking", "tape", "masking-rubber"),
        ("iron gal ink", "medium", "iron-gall"),
        ("ball point", "medium", "ballpoint"),
        ("news print", "paper", "paper-woodpulp"),
        ("poultice", "method", "local-poultice"),
    ],
)
def test_first_hit(studio: Studio, typed: str, kind: str, expected: str) -> None:
    """Misspelt, abbreviated and half-remembered names put the right entry first."""
    hits = find(studio, typed)
    assert (hits[0].kind, hits[0].id) == (kind, expected)


@pytest.mark.parametrize(
    ("word", "typed", "expected"),
    [
        ("adhesive", "natural-rubber", "natural-rubber-resin"),
        ("adhesive", "natural_rubber_resin", "natural-rubber-resin"),
        ("medium", "letterpress", "letterpress-oil"),
        ("paper", "wood-pulp", "paper-woodpulp"),
        ("paper", "paper_woodpulp", "paper-woodpulp"),
        ("stage", "oily", "oily"),
        ("stage", "cross-linked", "crosslinked"),
        ("liquid", "propan_2_ol", "propan-2-ol"),
        ("tape", "masking tape", "masking-rubber"),
    ],
)
def test_resolve_takes_what_is_clear(studio: Studio, word: str, typed: str, expected: str) -> None:
    """Ids in either spelling and other names."""
    assert resolve(studio, word, typed) == expected


@pytest.mark.parametrize(
    ("word", "typed"),
    [
        ("adhesive", "rubber"),
        ("liquid", "acetne"),
        ("liquid", "alcohol"),
        ("medium", "ink"),
        ("paper", "zzzz"),
    ],
)
def test_resolve_asks_where_several_fit(studio: Studio, word: str, typed: str) -> None:
    """An ambiguous word lists candidates instead of guessing."""
    with pytest.raises(Unclear) as caught:
        resolve(studio, word, typed)
    assert typed in str(caught.value)


def test_every_id_name_and_other_name_resolves_to_its_entry(studio: Studio) -> None:
    """No entry of a blank is unreachable by its own id or name."""
    rows = studio.index.conn.execute("SELECT norm, kind, id FROM name WHERE main = 1").fetchall()
    wrong = []
    for norm, kind, entry_id in rows:
        try:
            if resolve(studio, kind, norm) != entry_id:
                wrong.append((norm, kind, entry_id))
        except Unclear:
            wrong.append((norm, kind, entry_id))
    assert wrong == []


def test_unknown_and_residue_have_their_own_words(studio: Studio) -> None:
    """'?' is not known; 'none' is the adhesive without a carrier; a tape fills both blanks."""
    assert optional(studio, "adhesive", "?") == ""
    assert carrier(studio, "none") == "none-transfer"
    asked = question(studio, tape="masking tape")
    assert (asked.adhesive, asked.carrier) == ("natural-rubber-resin", "crepe-paper")


@pytest.mark.slow
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.text(max_size=60)
    | st.sampled_from(["don't", "20.04", "AND", "(1:1", "*", '"', "acetone/ethanol (1:1)"])
)
def test_any_text_can_be_looked_up(studio: Studio, text: str) -> None:
    """Nothing typed is taken as query syntax, and nothing typed raises."""
    find(studio, text)


def test_reading_marks_memory_with_a_word(studio: Studio) -> None:
    """A figure from memory is never shown silently; a read one carries no mark."""
    reading = read(studio, "liquid", "n-heptane")
    by_label = {line.label: line for line in reading.lines}
    assert by_label["boiling point"].value.startswith("98.4")
    assert not by_label["boiling point"].mark
    assert "°C" in by_label["boiling point"].value
    assert all(line.sources for line in reading.lines if "limit" in line.label)
    marks = {line.mark for line in reading.lines}
    assert "from memory" in marks
    assert reading.file.endswith("hydrocarbons.yaml")


@pytest.mark.slow
def test_among_very_many_names_a_misspelt_one_is_still_found(new_studio: Callable[[str], Studio]) -> None:
    """Beyond the number that is compared one by one, pieces of three letters choose what is compared."""
    studio = new_studio("own")
    names = some_names(WHOLE_SCAN + 500)
    studio.refresh()
    studio.close()
    add_names(studio.root, len(names))
    for name in names[:: len(names) // 12]:
        middle = len(name) // 2
        left_out, other = name[:middle] + name[middle + 1 :], name[: middle - 1] + name[middle:]
        for typed in (left_out, other, name[:-2]):
            assert name in [hit.name for hit in find(studio, typed)][:5], typed
    # Too short for a piece: what begins so.
    found = find(studio, "he")
    assert found
    assert any(hit.name.startswith("he") and not hit.near for hit in found)


@pytest.mark.parametrize("few", [100, pytest.param(WHOLE_SCAN, marks=pytest.mark.slow)])
def test_a_letter_more_is_answered_as_if_asked_afresh(
    new_studio: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    """What is kept from the letter before changes no answer: letters added, taken away, another word."""
    studio = new_studio("own")
    monkeypatch.setattr(search, "WHOLE_SCAN", few)
    words = (
        "celofane tap yelow",
        "67-64-1",
        "isopropanol",
        "((a b",
        "natural rubber",
        "gum arabic",
        "qqq rub",
    )
    typed = [word[:end] for word in words for end in (*range(1, len(word) + 1), 3, 4)]
    asked = [(text, limit) for text in typed for limit in (6, 60)]
    going_on = [search.find(studio.index.conn, text, (), limit) for text, limit in asked]
    afresh = {}
    for text, limit in dict.fromkeys(asked):
        search._SEEN.clear()
        afresh[text, limit] = search.find(studio.index.conn, text, (), limit)
    for one, found in zip(asked, going_on, strict=True):
        assert afresh[one] == found, one


@pytest.mark.parametrize("few", [100, WHOLE_SCAN])
def test_what_is_written_between_two_letters_is_found(
    new_studio: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    """By this program and by another one, whether all names are compared or some."""
    studio = new_studio("own")
    monkeypatch.setattr(search, "WHOLE_SCAN", few)
    assert not any(hit.id == "invented-0" for hit in find(studio, "ezzyzx"))
    other = Studio(studio.root)
    for conn, number, text in ((studio.index.conn, 0, "ezzyzx"), (other.index.conn, 1, "ezzyzx")):
        conn.execute(
            "INSERT INTO name VALUES (?, 'tape', ?, ?, 1)", (f"zzyzx qu{number}", f"invented-{number}", "Zz")
        )
        conn.execute(
            "INSERT INTO name_tri(rowid, norm) SELECT rowid, norm FROM name WHERE name = 'Zz' AND id = ?",
            (f"invented-{number}",),
        )
        conn.commit()
        assert f"invented-{number}" in [hit.id for hit in find(studio, text)]
    other.close()
