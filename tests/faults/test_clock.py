"""A clock that is wrong by years, goes back, or says what no record can bear."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kb.book import append as appending
from kb.book import ulid
from kb.book.append import BookError
from kb.book.fold import fold
from kb.book.read import read_file
from kb.book.ulid import new_ulid, ulid_time_ms
from kb.book.verify import verify
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test, list_tests, show_test
from kb.desk.studio import Studio
from kb.model.record import Line
from kb.tui.clock import DwellClock, Timers
from tests.book.test_book_append import put
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import answers, fresh_answers, listed, small
from tests.whole_book import all_lines

__all__ = ["small"]
NOW = datetime(2026, 5, 31, 12, tzinfo=UTC)
WRONG_YEARS = ((0, 3, -1, -11, -20, 2, -30, 1, -56, 0), (0, 25, 0, 10, 0, -30, 0))
"""The clock's error in years from record to record: slow, fast, and a battery that ran out in between."""


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """Sets the clock that the book reads, as a program started anew finds it."""

    def set_to(moment: datetime) -> None:
        since_1970_us = (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
        monkeypatch.setattr(ulid, "_last", "")
        monkeypatch.setattr(appending, "time_ns", lambda: since_1970_us * 1000)

    return set_to


def lines_of(book: Path) -> list[Line]:
    """All records of the bench in the order of the file."""
    return [read.line for read in read_file(book / "bench-1.jsonl") if read.line]


@pytest.mark.parametrize("wrong_years", WRONG_YEARS)
def test_ids_stay_unique_and_in_order_whatever_the_clock_says(
    tmp_path: Path, clock: Callable[[datetime], None], wrong_years: tuple[int, ...]
) -> None:
    """Each record of a bench sorts behind the one before it, and bears the date that the clock showed.

    Up to sixty years back: more than from a true date to 1970, where a clock without a battery starts.
    """
    dates = []
    for step in range(3):
        for years in wrong_years:
            moment = NOW.replace(year=NOW.year + years) + timedelta(seconds=step)
            clock(moment)
            dates.append(moment.strftime("%Y-%m-%dT%H:%M:%S.000Z"))
            put(tmp_path)
    lines = lines_of(tmp_path)
    ids = [line.id for line in lines]
    assert [line.at for line in lines] == dates
    assert ids == sorted(set(ids))
    found = verify(tmp_path)
    assert {(item.kind, item.severity) for item in found} == {("clock", "note")}
    figures.add("clock wrong by years", tried=len(dates), acknowledged=len(ids), lost=0, crashes=0)


@pytest.mark.parametrize("end", [b'{"id":"torn', b"{\n", b"\0\0\0\n{}\n" + b"x" * 20_000 + b"\n"])
def test_ids_stay_in_order_behind_a_torn_line(
    tmp_path: Path, clock: Callable[[datetime], None], end: bytes
) -> None:
    """A last line without an id does not hide the id of the line before it from a clock set back."""
    clock(NOW)
    first = put(tmp_path)
    with (tmp_path / "bench-1.jsonl").open("ab") as file:
        file.write(end)
    clock(NOW.replace(year=2015))
    assert put(tmp_path).id > first.id
    assert [line.id for line in lines_of(tmp_path)] == sorted(line.id for line in lines_of(tmp_path))


def test_a_correction_counts_though_the_clock_was_set_back_by_years(
    tmp_path: Path, clock: Callable[[datetime], None]
) -> None:
    """Amendments work in the order of ids, so the one made last must have the highest."""
    clock(NOW)
    first = put(tmp_path)
    put(tmp_path, "amend", {"of": first.id, "set": {"release": 1}, "why": "misread"})
    clock(NOW.replace(year=1970))
    put(tmp_path, "amend", {"of": first.id, "set": {"release": 4}, "why": "read again"})
    assert fold(all_lines(tmp_path)).tests[first.id].body.release == 4


def test_a_correction_at_another_bench_counts_though_its_clock_is_years_behind(
    small: Callable[[str], Studio],
    clock: Callable[[datetime], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two benches, one book: what is said last about a test holds, also a withdrawal and its undoing."""
    studio = small("studio")
    clock(NOW)
    test_id = add_test(studio, spot(release=0)).id
    amend_record(studio, test_id, {"release": 1}, "misread")
    monkeypatch.setenv("BENCHLEAF_BENCH", "bench-b")
    clock(NOW.replace(year=2001))
    amended = amend_record(studio, test_id, {"release": 3}, "read again")
    assert amended.at.startswith("2001-05-31")
    assert show_test(studio, test_id).test.release == 3
    clock(NOW.replace(year=1999))
    withdraw_record(studio, test_id, "wrong bottle")
    assert show_test(studio, test_id).state == "withdrawn"
    steps = show_test(studio, test_id).history
    assert [step.at[:4] for step in steps] == ["2026", "2026", "2001", "1999"], "in the order of work"
    assert answers(studio.index.conn) == fresh_answers(studio)


def test_a_record_from_beyond_all_clocks_does_not_pull_the_ids_along(
    tmp_path: Path, clock: Callable[[datetime], None]
) -> None:
    """More than sixty years ahead no battery explains; later ids tell the time of the clock again."""
    clock(datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC))
    put(tmp_path)
    clock(NOW)
    assert ulid_time_ms(put(tmp_path).id) == int(NOW.timestamp() * 1000)
    put(tmp_path, record_id="7" + "Z" * 25)
    assert ulid_time_ms(put(tmp_path).id) // 1000 == int(NOW.timestamp())


def test_no_id_after_the_last_is_refused_in_a_sentence(
    tmp_path: Path, clock: Callable[[datetime], None]
) -> None:
    clock(NOW)
    before = put(tmp_path)
    with pytest.raises(BookError, match=r"No later id is left.*Nothing was recorded\."):
        put(tmp_path, after="7" + "Z" * 25)
    with pytest.raises(BookError, match=r"is not a record id.*Nothing was recorded\."):
        put(tmp_path, after="soon")
    assert lines_of(tmp_path) == [before]


@pytest.mark.parametrize(
    "error", [OverflowError("too large"), OSError(75, "Value too large"), ValueError("x")]
)
def test_a_clock_out_of_range_is_refused_in_a_sentence(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """Beyond the year 9999 the system cannot even say the date; before 1970 no id can hold it."""

    def told() -> int:
        raise error

    studio = small("studio")
    monkeypatch.setattr(appending, "time_ns", told)
    with pytest.raises(
        DeskError, match=r"outside the years 1970 to 9999; set the clock. Nothing was recorded"
    ):
        add_test(studio, spot())
    assert list(studio.book_dir.glob("*")) == []
    for moment_s in (-1, 253_402_300_800, 10**12, 10**25):
        monkeypatch.setattr(appending, "time_ns", lambda moment_s=moment_s: moment_s * 10**9)
        with pytest.raises(DeskError, match=r"outside the years 1970 to 9999; set the clock\. Nothing was"):
            add_test(studio, spot())


@pytest.mark.parametrize(
    "moment", [datetime(1969, 12, 31, 23, 59, 59, tzinfo=UTC), datetime(1, 1, 1, tzinfo=UTC)]
)
def test_a_time_before_1970_is_refused_in_a_sentence(tmp_path: Path, moment: datetime) -> None:
    with pytest.raises(
        BookError, match=r"outside the years 1970 to 9999; set the clock. Nothing was recorded"
    ):
        put(tmp_path, at=moment)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("said", "fits"),
    [
        ("2024-02-29", True),
        ("2023-02-29", False),
        ("2024-12-31T23:59:59", True),
        ("2016-12-31T23:59:60", False),
    ],
)
def test_leap_days_are_kept_and_days_that_never_were_are_refused(
    small: Callable[[str], Studio], said: str, fits: bool
) -> None:
    """The leap second cannot be written by this program's readers; it is refused rather than changed."""
    studio = small("studio")
    if fits:
        add_test(studio, spot(tested_at=said))
        assert [row.at for row in list_tests(studio)] == [said]
    else:
        with pytest.raises(DeskError, match="is not a date"):
            add_test(studio, spot(tested_at=said))
        assert listed(studio) == []


def test_dates_shown_are_those_recorded(
    small: Callable[[str], Studio], clock: Callable[[datetime], None]
) -> None:
    """Around a leap day, a year's end and a clock set back, and the newest entry comes first."""
    studio = small("studio")
    moments = [
        datetime(2024, 2, 29, 23, 59, 59, tzinfo=UTC),
        datetime(2024, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC),
        datetime(1987, 1, 1, tzinfo=UTC),
    ]
    for moment in moments:
        clock(moment)
        add_test(studio, spot(release=1))
    shown = [row.at for row in list_tests(studio)]
    assert shown == ["1987-01-01T00:00:00.000Z", "2024-12-31T23:59:59.999Z", "2024-02-29T23:59:59.000Z"]
    assert answers(studio.index.conn) == fresh_answers(studio)


def test_a_clock_that_jumps_while_the_program_runs_gives_rising_ids(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ulid, "_last", "")
    times_ms = [1_800_000_000_000 + jump for jump in (0, 3_600_000, -3_600_000, 10**11, -(10**11), 1, 0)]
    made = [new_ulid(moment) for moment in times_ms for _ in range(50)]
    assert made == sorted(set(made))


@pytest.mark.skipif(sys.platform != "linux", reason="the other systems' clocks count sleep by themselves")
def test_the_dwell_goes_on_while_the_machine_sleeps(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lid shut for ten minutes: the program's usual clock stands, and the liquid on the sheet does not."""
    at_s = {time.CLOCK_BOOTTIME: 100.0, time.CLOCK_MONOTONIC: 100.0}
    monkeypatch.setattr(time, "clock_gettime", at_s.__getitem__)
    clock = DwellClock()
    clock.aim(60)
    clock.start()
    at_s[time.CLOCK_BOOTTIME] += 600
    assert (clock.elapsed_s, clock.due()) == (600.0, True)
    assert Timers().toggle("paste", "paste", 60).clock.running
