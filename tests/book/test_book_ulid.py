"""Record ids: shape, time, order."""

import os

import pytest

from kb.book import ulid
from kb.book.ulid import is_ulid, new_ulid, new_ulid_after, ulid_time_ms
from tests.faults.tools import start


@pytest.fixture(autouse=True)
def _own_counter(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ids of a far future made here must not push up the ids of other tests."""
    monkeypatch.setattr(ulid, "_last", "")


def test_an_id_is_26_characters_that_carry_their_time() -> None:
    made = new_ulid(1_700_000_000_123)
    assert len(made) == 26
    assert is_ulid(made)
    assert ulid_time_ms(made) == 1_700_000_000_123


def test_all_digits_occur_at_every_place_of_the_random_part() -> None:
    made = [new_ulid(moment)[10:] for moment in range(2_000)]
    assert {len(set(place)) for place in zip(*made, strict=True)} == {32}


def test_time_part_matches_the_example_of_the_open_layout() -> None:
    """From memory of the public layout description: 1469918176385 ms is written 01ARYZ6S41."""
    assert new_ulid(1_469_918_176_385).startswith("01ARYZ6S41")


def test_ids_rise_within_one_millisecond_and_when_the_clock_goes_back() -> None:
    times_ms = [5_000] * 200 + [4_000] * 200 + [0] + [6_000, 5_999]
    made = [new_ulid(moment) for moment in times_ms]
    assert made == sorted(made)
    assert len(set(made)) == len(made)


def test_an_id_after_another_is_greater_without_pulling_the_next_ones_along() -> None:
    floor = "7" + "Z" * 10 + "0" * 15
    ahead = new_ulid_after(floor, 1_000)
    assert ahead > floor
    assert ulid_time_ms(new_ulid(1_000)) == 1_000


def test_a_full_random_part_carries_into_the_time() -> None:
    assert ulid_time_ms(new_ulid_after("0000000001" + "Z" * 16, 1)) == 2


@pytest.mark.parametrize("moment", [-1, 1 << 48])
def test_a_time_outside_the_range_is_refused(moment: int) -> None:
    with pytest.raises(ValueError, match="not a time"):
        new_ulid(moment)


def test_no_id_is_left_after_the_greatest() -> None:
    with pytest.raises(ValueError, match="No later id"):
        new_ulid_after("7" + "Z" * 25, 1)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "0" * 25,
        "0" * 27,
        "8" + "0" * 25,
        "0" * 25 + "I",
        "0" * 25 + "L",
        "0" * 25 + "O",
        "0" * 25 + "U",
        "0" * 25 + "a",
        "0" * 25 + "\n",
        "0" * 26 + "\n",
        "٠" * 26,
    ],
)
def test_what_is_no_id(text: str) -> None:
    assert not is_ulid(text)
    with pytest.raises(ValueError, match="is not a record id"):
        ulid_time_ms(text)


def test_a_forked_process_does_not_repeat_the_ids_of_its_parent() -> None:
    new_ulid(9_000)
    read_end, write_end = os.pipe()
    child = start(lambda: os.write(write_end, "".join(new_ulid(8_000) for _ in range(50)).encode()))
    os.close(write_end)
    text = b""
    while part := os.read(read_end, 65536):
        text += part
    os.close(read_end)
    os.waitpid(child, 0)
    theirs = {text[at : at + 26].decode() for at in range(0, len(text), 26)}
    ours = {new_ulid(8_000) for _ in range(50)}
    assert len(theirs) == 50
    assert not theirs & ours
