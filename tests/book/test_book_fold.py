"""What the book says after amends and withdrawals, in whatever order they are read."""

import itertools
from typing import Any

import msgspec

from kb.book.fold import Current, Fold, fold, union
from kb.book.kinds.spot_test import SpotTest
from kb.book.line import FIRST_PREV
from kb.model.record import Line
from tests.book.test_book_append import BODY


def rid(number: int) -> str:
    """The id that sorts at this place."""
    return f"01HZ{number:022d}"


def make(number: int, kind: str, body: dict[str, Any], **more: Any) -> Line:
    """A record as it stands in a file."""
    head = {
        "id": rid(number),
        "at": f"2024-05-31T14:30:{number:02d}.000Z",
        "who": "reader",
        "bench": "bench-1",
        "kind": kind,
        "body": msgspec.Raw(msgspec.json.encode(body)),
        "prev": FIRST_PREV,
    }
    return Line(**{**head, **more})


def check(number: int, **more: Any) -> Line:
    """A spot test."""
    return make(number, "test", {**BODY, **more})


def amend(number: int, of: int, why: str = "misread", **fields: Any) -> Line:
    """An amendment."""
    return make(number, "amend", {"of": rid(of), "set": fields, "why": why})


def withdraw(number: int, of: int, why: str = "wrong sheet") -> Line:
    """A withdrawal."""
    return make(number, "withdraw", {"of": rid(of), "why": why})


def same_in_every_order(lines: list[Line]) -> Fold:
    """The fold, after proof that the order of reading does not matter."""
    made = fold(lines)
    for order in itertools.islice(itertools.permutations(lines), 200):
        assert fold(order) == made
    return made


def only(made: Fold) -> Current[SpotTest]:
    """The one test in it."""
    (found,) = made.tests.values()
    return found


def test_a_test_alone() -> None:
    found = only(fold([check(1)]))
    assert (found.id, found.withdrawn, found.why, found.history) == (rid(1), False, "", ())
    assert found.body.release == 3


def test_later_amends_win_field_by_field() -> None:
    made = same_in_every_order([check(1), amend(2, 1, release=2, medium="pencil"), amend(3, 1, release=1)])
    found = only(made)
    assert (found.body.release, found.body.medium, found.body.stage) == (1, "pencil", "oxidised")
    assert [change.line.id for change in found.history] == [rid(2), rid(3)]
    assert all(change.in_force for change in found.history)
    assert made.troubles == {}


def test_an_amend_can_take_a_grade_away() -> None:
    found = only(fold([check(1), amend(2, 1, release=None, harm={})]))
    assert found.body.release is None
    assert found.body.harm == {}


def test_an_amend_made_under_a_clock_that_was_behind_still_counts() -> None:
    found = only(same_in_every_order([check(5), amend(2, 5, release=0)]))
    assert found.body.release == 0


def test_a_withdrawn_test_is_marked_and_keeps_its_reason() -> None:
    made = same_in_every_order([check(1), withdraw(2, 1, "first"), withdraw(3, 1, "second")])
    assert (only(made).withdrawn, only(made).why) == (True, "second")
    assert made.withdrawn == {rid(1): "second"}


def test_withdrawing_an_amend_undoes_it() -> None:
    made = same_in_every_order(
        [check(1), amend(2, 1, release=0), amend(3, 1, stage="fresh"), withdraw(4, 2, "slip")]
    )
    found = only(made)
    assert (found.body.release, found.body.stage) == (3, "fresh")
    assert [(item.in_force, item.note) for item in found.history] == [
        (False, "Withdrawn: slip"),
        (True, ""),
        (True, ""),
    ]


def test_withdrawing_a_withdrawal_restores() -> None:
    lines = [check(1), withdraw(2, 1), withdraw(3, 2, "it was right")]
    assert not only(same_in_every_order(lines)).withdrawn
    assert only(same_in_every_order([*lines, withdraw(4, 3)])).withdrawn
    assert not only(same_in_every_order([*lines, withdraw(4, 3), withdraw(5, 4)])).withdrawn
    assert only(same_in_every_order([*lines, withdraw(4, 1, "again")])).why == "again"


def test_amends_of_a_withdrawn_test_show_when_it_is_restored() -> None:
    lines = [check(1), withdraw(2, 1), amend(3, 1, release=1)]
    assert only(fold(lines)).withdrawn
    assert only(fold([*lines, withdraw(4, 2)])).body.release == 1


def test_circles_have_no_effect_and_are_named() -> None:
    made = same_in_every_order([check(1), withdraw(2, 3), withdraw(3, 2), withdraw(4, 4)])
    assert not only(made).withdrawn
    assert list(made.troubles) == [rid(2), rid(3), rid(4)]


def test_a_circle_is_broken_by_a_withdrawal_from_outside() -> None:
    made = same_in_every_order([check(1), withdraw(2, 3), withdraw(3, 2), withdraw(4, 2)])
    assert made.troubles == {}
    assert set(made.withdrawn) == {rid(2)}


def test_what_points_at_nothing_is_kept_and_named() -> None:
    lines = [check(1), amend(2, 9, release=1), withdraw(3, 8)]
    made = same_in_every_order(lines)
    assert [line.id for line in made.loose] == [rid(2), rid(3)]
    late = same_in_every_order([*lines, check(9), check(8)])
    assert late.loose == ()
    assert late.tests[rid(9)].body.release == 1
    assert late.tests[rid(8)].withdrawn


def test_an_amend_of_an_amend_has_no_effect_and_is_named() -> None:
    made = same_in_every_order([check(1), amend(2, 1, release=2), amend(3, 2, release=0)])
    assert only(made).body.release == 2
    assert [change.in_force for change in only(made).history] == [True, False]
    assert list(made.troubles) == [rid(3)]


def test_other_kinds_pass_and_can_be_withdrawn() -> None:
    made = same_in_every_order(
        [make(1, "memo", {"recipe": "paste"}), withdraw(2, 1, "spilt"), amend(3, 1, release=1)]
    )
    assert [line.id for line in made.others] == [rid(1)]
    assert made.withdrawn == {rid(1): "spilt"}
    assert "kind memo" in next(iter(made.troubles.values()))


def test_unreadable_bodies_are_named_and_the_rest_stands() -> None:
    bad = make(2, "test", {**BODY, "release": 9})
    worse = make(3, "amend", {"of": rid(1), "set": {"x\x1b": 1}, "why": "w"})
    made = same_in_every_order([check(1), bad, worse, withdraw(4, 2)])
    assert list(made.tests) == [rid(1)]
    assert list(made.troubles) == [rid(2), rid(3)]
    assert made.loose == ()
    assert all(sentence.isprintable() for sentence in made.troubles.values())


def test_the_same_record_in_two_files_counts_once() -> None:
    again = check(1, medium="")
    copy = msgspec.structs.replace(again, prev="1" * 64)
    made = same_in_every_order([again, copy])
    assert made.troubles == {}


def test_of_two_records_with_one_id_the_first_written_counts_everywhere() -> None:
    late = check(1, release=0)
    early = make(1, "test", BODY, at="2024-05-31T14:30:00.000Z")
    made = same_in_every_order([late, early, check(2)])
    assert made.tests[rid(1)].body.release == 3
    assert list(made.troubles) == [rid(1)]
    assert [line.id for line in union([check(2), late])[0]] == [rid(1), rid(2)]


def test_one_test_made_up_alone_is_as_in_the_whole() -> None:
    lines = [
        check(1),
        amend(2, 1, release=0),
        withdraw(3, 2),
        withdraw(4, 1),
        check(5),
        amend(6, 5, stage="fresh"),
    ]
    made = fold(lines)
    assert fold(lines[:4]).tests == {rid(1): made.tests[rid(1)]}
    assert fold(lines[4:]).tests == {rid(5): made.tests[rid(5)]}
