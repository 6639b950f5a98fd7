"""The targets of scripts/fuzz for a short time, the same inputs every time, and inputs that failed once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scripts.fuzz_parts import __main__ as fuzz
from scripts.fuzz_parts import hunt
from scripts.fuzz_parts.targets import TARGETS, Target, check_looks
from scripts.fuzz_parts.world import World
from tests.faults import figures


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[World]:
    """What the targets work on."""
    made = World(tmp_path_factory.mktemp("fuzz"), blank_index)
    yield made
    made.close()


@pytest.mark.parametrize("name", TARGETS)
def test_target_holds(name: str, world: World) -> None:
    """No made-up input makes a reader raise anything but a sentence of its own."""
    target = TARGETS[name]
    tried = 0

    @settings(
        max_examples=target.examples,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(target.inputs)
    def one(value: Any) -> None:
        nonlocal tried
        tried += 1
        target.check(world, value)

    one()
    figures.add(f"fuzz {name}", tried=tried, crashes=0)


FAILED_ONCE: dict[str, list[Any]] = {
    "find": ["\x00", "x" * 20_000, "acetone " * 3_000, '"' * 40],
    "amounts": ["a " * 2_000, "1 " * 2_000, "9" * 400, "nan nan nan", "99999-01-01", "9" * 11],
    "quantity": ["9" * 75 + " ml", "1e308 l", "\u0665 ml"],
    "blend": ["acetone 1e308, n-heptane 1e308", "acetone " + "9" * 400],
    "book": [b"\n", b"{}\n", b"[" * 5_000 + b"\n", b"\xff\n", b'{"id":"\\ud800"}\n'],
    "catalogue": [b"papers:\n- {id: " + b"[" * 2_000 + b"}\n", b"papers:\n- {id: " + b"x" * 5_000 + b"}\n"],
}
"""Inputs that once led to an error, a long wait or an unreadable message, and their like."""


@pytest.mark.parametrize("name", FAILED_ONCE)
def test_inputs_that_failed_once(name: str, world: World) -> None:
    """None of them does so again."""
    for value in FAILED_ONCE[name]:
        TARGETS[name].check(world, value)


def test_the_sign_target_has_something_to_ask(world: World) -> None:
    """There are looks whose signs can be told."""
    assert check_looks(world) > 10


def test_a_planted_fault_is_found_made_small_and_kept(
    tmp_path: Path, world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The hunt reports a failure once, with its place, and keeps the least input that shows it."""
    # A clock that goes on by a second a round: however busy the machine, four rounds are tried.
    monkeypatch.setattr(hunt, "time", SimpleNamespace(monotonic=count().__next__))

    def check(_: World, value: str) -> None:
        if "<" in value:
            raise KeyError(value)

    planted = Target("planted", st.text("ab<>", max_size=30), check, 10)
    found = hunt.by_chance("planted", planted, world, 5.0, 1, tmp_path)
    assert found.tried >= 100
    assert len(found.failures) == 1
    (path,) = found.failures.values()
    assert path.read_text(encoding="utf-8").startswith("'<'\n")
    assert "KeyError" in next(iter(found.failures))


def test_a_hunt_from_the_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Each target is told with its count; an unknown one is refused by name."""
    assert fuzz.main(["--minutes", "0.002", "--seed", "1", "quantity", "blend"]) == 0
    printed = capsys.readouterr().out
    assert "quantity" in printed
    assert "0 distinct failures" in printed
    with pytest.raises(SystemExit) as stop:
        fuzz.main(["no-such-target"])
    assert stop.value.code == 2
