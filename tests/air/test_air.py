"""The air desk: figures agree with hand calculation, limits are never guessed, units mean what was typed."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from msgspec import structs

from kb.cli.main import main
from kb.desk.air.air import STAYS_MIN, air
from kb.desk.air.answer import Air, AirLine, cut_off, gist, over_time, worst
from kb.desk.air.inputs import hours_of, room_of, use_of
from kb.desk.errors import DeskError
from kb.desk.studio import Studio

ACETONE = {"acetone": 1.0}
BLEND = {"acetone": 0.4, "n-heptane": 0.3, "ethyl-acetate": 0.3}


def under(studio: Studio, authority: str) -> Studio:
    """The same studio with an authority chosen."""
    studio.settings_file.write_text(f"authority: {authority}\n", encoding="utf-8")
    studio.refresh()
    return studio


def told(studio: Studio, parts: Mapping[str, float] = ACETONE, hours: str = "4", **use: Any) -> Air:
    """An answer for swabs of 2 ml, twenty an hour, in 60 m3, unless said otherwise."""
    room = {key: use.pop(key) for key in ("room", "air_changes", "mixing", "near") if key in use}
    usual = {"room": "60 m3", "air_changes": "2", **room}
    wanted = use or {"amount": "2 ml", "per_hour": "20"}
    return air(studio, parts, use_of(studio, parts, **wanted), room_of(**usual), hours_of(hours))


def found(answer: Air, what: str, unit: str, part: int = 0) -> AirLine:
    """One line of a part."""
    return next(one for one in answer.parts[part].lines if one.what == what and one.unit == unit)


def all_lines(answer: Air) -> list[AirLine]:
    """Every line of an answer."""
    parts = [one for part in answer.parts for one in part.lines]
    return [*parts, *(one for by in answer.under for one in by.lines), *answer.fire, *answer.ventilation]


# Figures


@pytest.mark.slow
def test_one_release_without_air_is_mass_over_volume(studio: Studio) -> None:
    """2 ml of acetone in a still, well-mixed 60 m3 is 2 x 790.3 / 60 mg/m3 all the time."""
    answer = told(studio, amount="2 ml", air_changes="0", mixing="1", hours="8")
    expected = 2 * 790.3 / 60
    room = found(answer, "8 h average, room", "mg/m3")
    assert room.low == pytest.approx(expected)
    assert room.high == pytest.approx(expected)


def test_an_average_is_over_eight_hours_even_for_a_short_day(studio: Studio) -> None:
    """The same still room for 4 h gives half the 8 h average and the same 15 minutes."""
    answer = told(studio, amount="2 ml", air_changes="0", mixing="1")
    assert found(answer, "8 h average, room", "mg/m3").high == pytest.approx(790.3 / 60)
    assert found(answer, "worst 15 min, room", "mg/m3").high == pytest.approx(2 * 790.3 / 60)


def test_ppm_is_that_of_the_temperature(studio: Studio) -> None:
    """ppm = mg/m3 x 24.055 l/mol / M at 20 C (molar volume from the ideal gas law)."""
    answer = told(studio)
    mg, ppm = (found(answer, "worst 15 min, room", unit).high for unit in ("mg/m3", "ppm"))
    assert mg is not None
    assert ppm == pytest.approx(mg * 24.055 / 58.08, rel=1e-3)


def test_it_is_linear_in_amount(studio: Studio) -> None:
    """Twice the liquid on each swab is twice every average."""
    one, two = (told(studio, amount=amount, per_hour="20") for amount in ("1 ml", "2 ml"))
    for what in ("8 h average, room", "worst 15 min, near the work"):
        low, high = found(one, what, "mg/m3").high, found(two, what, "mg/m3").high
        assert low is not None
        assert high == pytest.approx(2 * low)


def test_nothing_is_above_saturation(studio: Studio) -> None:
    """A litre of acetone in a small closed room stays at saturated vapour and says so."""
    answer = told(studio, amount="50 l", room="3 m3", air_changes="0", hours="8")
    top = found(answer, "saturated air, never more", "ppm").high
    assert top is not None
    assert all(one.high <= top * 1.0001 for one in answer.parts[0].lines if one.unit == "ppm" and one.high)
    assert any(one.what == "held down to saturation" for one in answer.parts[0].lines)


def test_a_blend_shares_the_mass_by_volume_and_density(studio: Studio) -> None:
    """Each part of a swab of a blend gives its own mass to the air."""
    answer = told(studio, BLEND, amount="1 ml", air_changes="0", mixing="1", hours="8")
    density = {"acetone": 0.7903, "n-heptane": 0.6838, "ethyl-acetate": 0.8995}
    for number, (name, share) in enumerate(BLEND.items()):
        line = found(answer, "8 h average, room", "mg/m3", number)
        assert line.high == pytest.approx(share * density[name] * 1000 / 60, rel=1e-6)


def test_a_dish_is_a_range_over_the_models_and_never_more_than_it_holds(studio: Studio) -> None:
    """Evaporation models disagree; a small dish is used up and gives no more than its amount."""
    answer = told(studio, amount="500 ml", area="100 cm2")
    line = found(answer, "evaporates", "ml per hour")
    assert line.low is not None
    assert line.high is not None
    assert line.high > 1.5 * line.low
    assert "EPA" in line.source
    small = found(told(studio, amount="4 ml", area="100 cm2"), "evaporates", "ml per hour")
    assert small.high == pytest.approx(1.0)


def test_the_near_field_is_above_the_room(studio: Studio) -> None:
    """Both ends of every average are higher beside the work, and the series agrees."""
    answer = told(studio)
    for what in ("8 h average", "worst 15 min", "highest moment"):
        room, near = found(answer, f"{what}, room", "mg/m3"), found(answer, f"{what}, near the work", "mg/m3")
        assert (room.low or 0) < (near.low or 0)
        assert (room.high or 0) < (near.high or 0)
    assert all(one.room_low <= one.room_high for one in answer.series)
    assert len(answer.series) == 48
    assert answer.series[-1].minute == pytest.approx(240)


def test_the_dome_agrees_with_the_enclosed_space_by_hand(studio: Studio) -> None:
    """0.1 ml of ethyl acetate in 10 l: 0.8995/88.11 x 24.055 / 10 x 0.1 x 100 % over an LEL of 2 %."""
    answer = told(studio, {"ethyl-acetate": 1.0}, amount="0.1 ml", space="10 l")
    line = next(one for one in answer.fire if one.what.startswith("in the dome"))
    vol_pct = 100 * 0.1 * 0.8995 / 88.11 * 24.055 / 10
    assert line.high == pytest.approx(100 * vol_pct / 2.0, rel=1e-3)
    most = next(one for one in answer.fire if one.what.startswith("most liquid"))
    assert most.high == pytest.approx(0.1 * 10 / (100 * vol_pct / 2.0), rel=1e-3)


# Limits


def test_the_highest_amount_reaches_the_index(studio: Studio) -> None:
    """Using the amount that the answer names gives an index of 1 beside the work."""
    under(studio, "EU")
    answer = told(studio)
    most = next(one for one in answer.under[0].lines if "under 1" in one.what)
    assert most.low is not None
    again = told(studio, amount=f"{most.low / 20:.9f} ml", per_hour="20")
    indices = [again.under[0].index_day_high or 0, again.under[0].index_short_high or 0]
    assert max(indices) == pytest.approx(1.0, rel=1e-6)


def test_an_unverified_limit_never_gives_low(studio: Studio) -> None:
    """A trace of acetone under the EU list, which was not read, is not judged, and says why."""
    answer = told(under(studio, "EU"), amount="0.01 ml")
    one = answer.under[0]
    assert one.tier == "not judged"
    assert "unverified: check the current list" in one.verdict
    assert "unverified: check the current list" in one.shares[0].text
    assert one.index_day_high is not None


def test_a_verified_limit_can_give_low_and_over(studio: Studio) -> None:
    """n-Butyl acetate under the EU list was read: a trace is low, a lot is over."""
    under(studio, "EU")
    parts = {"n-butyl-acetate": 1.0}
    assert told(studio, parts, amount="0.01 ml").under[0].tier == "low"
    assert told(studio, parts, amount="20 ml", per_hour="60").under[0].tier == "over"


def test_an_unknown_limit_is_said_and_never_zero(studio: Studio) -> None:
    """2,2,4-Trimethylpentane has no EU limit here: no share, no index, no highest amount, no flow."""
    answer = told(under(studio, "EU"), {"isooctane": 1.0})
    one = answer.under[0]
    assert "no limit known here" in one.shares[0].text
    assert one.index_day_high is None
    assert one.tier == "not judged"
    assert all(line.high is None for line in one.lines if "highest amount" in line.what)
    assert all("no limit known here" in line.text for line in one.lines if "highest amount" in line.what)
    assert answer.ventilation[0].high is None


def test_without_an_authority_every_list_is_shown(studio: Studio) -> None:
    """None is preferred silently."""
    answer = told(studio)
    assert {"EU", "UK", "US-OSHA"} <= {one.authority for one in answer.under}
    assert any("No authority is chosen" in note for note in answer.notes)


def test_water_needs_no_limit(studio: Studio) -> None:
    """Water in a blend is left out of indices and of the course."""
    answer = told(under(studio, "EU"), {"ethanol": 0.5, "water": 0.5})
    assert all(one.liquid != "water" for one in answer.under[0].shares)
    assert told(studio, {"water": 1.0}).under[0].tier == "not judged"


def test_hazards_that_no_figure_outweighs_are_told(studio: Studio) -> None:
    """A cancer or unborn-child statement stands beside the figures."""
    answer = told(studio, {"trichloroethylene": 1.0})
    assert any("H350" in note for note in answer.notes)


def test_every_line_carries_unit_model_and_source(studio: Studio) -> None:
    """Also those without a figure; and the text always defers."""
    for parts, use in (
        (BLEND, {}),
        (ACETONE, {"amount": "1 ml", "space": "2 l"}),
        (BLEND, {"amount": "9 ml", "area": "1 m2"}),
    ):
        answer = told(studio, parts, **use)
        for line in all_lines(answer):
            assert line.unit
            assert line.model
            assert line.source
        assert "risk assessment" in answer.defer
        assert answer.series_unit
        assert answer.series_model
        assert answer.series_source


# What is typed


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ({"amount": "2 ml"}, {"amount": "2000 µl"}),
        ({"amount": "0.002 L"}, {"amount": "2ml"}),
        ({"amount": "1.5806 g"}, {"amount": "2 ml"}),
        ({"room": "60m3"}, {"room": "2118.88 ft3"}),
        ({"air_changes": "120 m3/h"}, {"air_changes": "2/h"}),
    ],
)
def test_units_mean_what_was_typed(studio: Studio, a: dict[str, Any], b: dict[str, Any]) -> None:
    """Different units of one amount give one answer."""
    one, two = (
        found(
            told(studio, **{"amount": "2 ml", "per_hour": "20", **typed}), "8 h average, room", "mg/m3"
        ).high
        for typed in (a, b)
    )
    assert one == pytest.approx(two, rel=1e-4)


def test_ends_of_a_range_may_stand_close() -> None:
    """As in every other range."""
    assert room_of(room="60 m3", air_changes="2", mixing="1to3").mixing == (1.0, 3.0)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"amount": "2 fl oz"}, "ml"),
        ({"amount": "3 drops"}, "ml"),
        ({"amount": "2 °C"}, "ml"),
        ({"amount": "2"}, "ml"),
        ({"amount": "0 ml"}, "above zero"),
        ({"amount": "2 ml", "room": "60 m2"}, "m3"),
        ({"amount": "2 ml", "mixing": "0.5"}, "factor of 2"),
        ({"amount": "2 ml", "how": "dish"}, "area"),
        ({"amount": "2 ml", "how": "dome"}, "space"),
        ({"amount": "2 ml", "how": "spray"}, "swab"),
        ({"amount": "2 ml", "near": "5 m"}, "smaller than the room.*nearer face"),
        ({"amount": "2 ml", "room": "0.5 m3", "air_changes": "0"}, "closed box as a dome"),
        ({"amount": "2 ml", "per_hour": "nan"}, "number above zero"),
        ({"amount": "2 ml", "per_hour": "0.1"}, "swabs per hour"),
        # A slip of the hand by thousands would have the air called good.
        ({"amount": "2 ml", "room": "600000 m3"}, "more than 100,000 m3"),
        ({"amount": "2 ml", "air_changes": "200000"}, "more than 1,000 air changes"),
        ({"amount": "2 ml", "room": "900 m3", "near": "80"}, "more than 5 m.*in metres"),
        ({"amount": "2 ml", "mixing": "1-"}, 'not "1-"'),
        ({"amount": "2 ml", "mixing": "1 to 3000"}, "as a mixing factor"),
        ({"amount": "2 ml", "how": "dome", "space": "20 m3"}, "more than 10 m3"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_a_sentence(
    studio: Studio, typed: dict[str, Any], said: str
) -> None:
    """With the units that can be meant, or what to do."""
    with pytest.raises(DeskError, match=said):
        told(studio, **typed)


def test_an_unknown_vapour_pressure_is_refused_by_name(studio: Studio) -> None:
    """Never a figure computed from nothing."""
    with pytest.raises(DeskError, match="vapour pressure of Ethyl lactate"):
        told(studio, {"ethyl-lactate": 1.0})
    with pytest.raises(DeskError, match=r"not to 60"):
        air(
            studio,
            ACETONE,
            use_of(studio, ACETONE, amount="1 ml"),
            room_of(room="60 m3", air_changes="2"),
            4.0,
            temp_c=60.0,
        )


def test_a_blend_that_parts_is_said(studio: Studio) -> None:
    """Heptane and water are not one liquid."""
    answer = told(studio, {"n-heptane": 0.5, "water": 0.5})
    assert any("part company" in note for note in answer.notes)


def test_an_open_dish_of_a_blend_says_that_its_pressures_are_ideal(studio: Studio) -> None:
    """Ethanol in heptane evaporates several times as fast as Raoult has it: the figure is no upper end."""
    answer = told(studio, {"ethanol": 0.1, "n-heptane": 0.9}, amount="10 ml", area="20 cm2")
    assert any("an alcohol in a hydrocarbon, more" in note for note in answer.notes)


# Text and command


def test_the_curve_fits(studio: Studio) -> None:
    """As wide and as high as asked, with the ends of its axes in words; nothing to draw gives nothing."""
    canvas = over_time(told(studio).series, "mg/m3", 60, 8)
    assert canvas is not None
    lines = canvas.lines()
    assert [len(line) for line in lines] == [60] * 8
    assert " mg/m3" in lines[0]
    assert lines[-1].split() == ["0", "4", "h"]
    assert over_time((), "mg/m3", 60, 8) is None


def test_the_gist_is_of_the_list_that_is_met_first(studio: Studio) -> None:
    """Its gauges run from the room to the face; nothing is called safe; what would do names figures."""
    answer = told(studio)
    one = gist(answer)
    worst = max(answer.under, key=lambda each: max(each.index_day_high or 0, each.index_short_high or 0))
    assert one.authority == worst.authority
    assert one.others == len(answer.under) - 1
    assert [(bar.low, bar.high) for bar in one.bars if bar.label == "over 8 h"] == [
        (worst.index_day_low, worst.index_day_high)
    ]
    assert "safe" not in " ".join((one.so, one.verdict, *(text for _, text in one.do))).casefold()


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON has the parts; text has the plot and defers; a wrong unit is one sentence."""
    words = ["air", "--studio", str(studio.root), "--liquid", "acetone", "--per-hour", "20"]
    room = ["--room", "60 m3", "--air-changes", "0.5 to 2", "--hours", "4"]
    assert main([*words, "--amount", "2 ml", *room, "--json"]) == 0
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert {"parts", "series", "under", "fire", "ventilation", "defer"} <= set(answer)
    assert main([*words, "--amount", "2 ml", *room, "--parts"]) == 0
    text = capsys.readouterr().out
    assert "at the face, the other in the room" in text
    assert "risk assessment" in text
    assert main([*words, "--amount", "2 mol", *room]) == 3
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "ml" in err


def test_no_figure_is_nan(studio: Studio, tmp_path: Path) -> None:
    """JSON of an odd but possible use holds finite numbers or null."""
    answer = told(studio, BLEND, amount="0.001 µl", room="5000 m3", air_changes="0 to 30", mixing="1 to 10")
    for line in all_lines(answer):
        for value in (line.low, line.high):
            assert value is None or not math.isnan(value)


def test_more_air_is_advised_only_where_it_is_more(studio: Studio) -> None:
    """A room that has the changes already is not told to have them."""
    answer = told(studio)
    first = next(one for one in answer.under if one.authority == gist(answer).authority)
    place = next(n for n, one in enumerate(answer.ventilation) if f"the {first.authority} limits" in one.what)
    needed = answer.ventilation[place + 1].high
    assert needed is not None
    over = (structs.replace(first, index_day_high=2.0),)
    for changes, advised in ((0.5 * needed, True), (2.0 * needed, False)):
        room = structs.replace(answer, air_changes_per_h=changes, under=over)
        assert ("more air" in dict(gist(room).do)) == advised


def test_a_verdict_gives_the_reason_and_does_not_repeat_the_level(studio: Studio) -> None:
    """What cannot be called low is so for want of a limit that was checked."""
    doubtful = [one for one in told(studio, amount="0.1 ml").under if one.tier == "not judged"]
    assert doubtful
    for one in doubtful:
        assert "because not every limit is known and checked." in one.verdict
        assert "cannot be called low" not in one.verdict


def test_what_the_curve_leaves_out_is_said(studio: Studio) -> None:
    """10 ml at once: the moment held against a ceiling lies above what lasts; many small ones do not."""
    spilt = told(studio, amount="10 ml", how="swab")
    moments = [one for one in spilt.parts[0].lines if one.what.startswith("highest moment")]
    highest = max(one.high or 0.0 for one in moments if one.unit == "mg/m3")
    shown = "".join(filter(str.isdecimal, cut_off(spilt).removesuffix("mg/m3.")))
    assert float(shown) == pytest.approx(highest, rel=0.06)
    assert cut_off(told(studio, amount="0.1 ml", per_hour="120")) == ""


def test_the_first_sentence_says_how_much_how_long_and_what_to_do(studio: Studio) -> None:
    """It said "Cannot be called low" beside 3 % of the limit; and it never says that anything is safe."""
    little = gist(told(studio, amount="0.01 ml"))
    assert little.so.startswith("Up to ")
    assert not little.so.startswith("Up to 0 %")
    assert "8 h of such work stay below a quarter of it. So: " in little.so
    much = gist(told(studio, amount="20 ml"))
    assert much.so.startswith("Too much: up to ")
    for amount in ("10.3 ml", "11.7 ml"):
        # "Up to 100 %" stood over a gauge of 102 %.
        air = told(studio, amount=amount)
        shown = gist(air).so.partition("up to ")[2].partition(" %")[0]
        assert float(shown) == pytest.approx(100 * max(map(worst, air.under)), rel=0.006)
    assert "So: not like this" in much.so
    assert all("safe" not in one.so for one in (little, much))


@pytest.mark.parametrize(
    ("parts", "use", "said", "tier"),
    [
        (
            ACETONE,
            {"amount": "5 ml", "space": "2 l"},
            "STOP, this can explode: in the dome it is over",
            "over",
        ),
        (ACETONE, {"amount": "0.01 ml", "space": "2 l"}, "Up to ", "low"),
        (
            ACETONE,
            {"amount": "0.1 ml", "space": "2 l"},
            "Fire: in the dome it is above 10 % of",
            "above action",
        ),
        (ACETONE, {"amount": "10 ml", "room": "30 m3"}, "Fire: beside the work it is above 10 % of", "over"),
        (
            ACETONE,
            {"amount": "1 l", "area": "1 m2", "room": "3 m3", "air_changes": "0"},
            "STOP, this",
            "over",
        ),
        ({"methylcyclohexane": 1.0}, {"amount": "100 ml", "room": "5 m3"}, "STOP, this can explode", "over"),
    ],
)
def test_what_could_burn_is_said_with_the_limits(
    studio: Studio, parts: Mapping[str, float], use: dict[str, str], said: str, tier: str
) -> None:
    """A dome at ten times the lower explosive limit was told to "keep that fresh air up" and looked calm."""
    shown = gist(told(studio, parts, **use))
    assert said in shown.so if "Fire" in said else shown.so.startswith(said)
    assert shown.tier.startswith(tier)


def test_a_part_whose_explosive_limit_is_not_known_is_named_where_the_rest_is_added_up(
    studio: Studio,
) -> None:
    """The sum is then of the others alone."""
    blend = gist(told(studio, {"acetone": 0.5, "benzyl-alcohol": 0.5}, amount="10 ml"))
    assert dict(blend.mind)["Fire"].endswith("(without Benzyl alcohol)")


def test_the_time_until_a_limit_is_reached(studio: Studio) -> None:
    """At the stay that is named a quarter is not reached, at the next one it is."""
    amount = {"amount": "0.5 ml", "per_hour": "60"}
    named = [one for one in told(studio, **amount).under if (one.quarter_after_h or 0.0) >= 0.1]
    assert named

    @cache
    def after(minutes: float) -> Air:
        return told(studio, hours=f"{minutes} min", **amount)

    def at(minutes: float, authority: str) -> float:
        return worst(next(one for one in after(minutes).under if one.authority == authority))

    for one in named:
        minutes = round(60.0 * (one.quarter_after_h or 0.0))
        later = STAYS_MIN[STAYS_MIN.index(minutes) + 1]
        assert at(minutes, one.authority) < 0.25 <= at(later, one.authority)


def test_spirit_is_judged_by_the_ethanol_that_it_is(studio: Studio) -> None:
    """Methanol stood in for it, since ethanol boils a fifth of a degree higher than spirit begins to."""
    with pytest.raises(DeskError, match=r"Judge the vapour by Ethanol, .* evaporates as fast"):
        told(studio, {"denatured-ethanol": 1.0})
    with pytest.raises(DeskError, match=r"Methylcyclohexane, .* lower than this, and evaporates faster"):
        told(studio, {"isoparaffin": 1.0})
