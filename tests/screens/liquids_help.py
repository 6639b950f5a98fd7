"""What the tests of map, blends and air share: a question, and answers that no catalogue has."""

from __future__ import annotations

from typing import Any

from textual.pilot import Pilot

from kb.desk.air.air import DEFER
from kb.desk.air.answer import Air, AirPart, AirPoint, LimitShare, UnderAuthority, line
from kb.desk.liquids import map_text
from kb.desk.liquids.blends import Alone, BlendFound, Blends, Gains, LeftOutPair
from kb.desk.liquids.solubility_map import MapBlend, MapLiquid, MapRegion, SolubilityMap
from kb.model.question import LeftOut, Question
from kb.tui.screens.choose.asked import Asked, Filled
from kb.tui.screens.liquids.solubility_map import Seen
from tests.screens.invented import home
from tests.screens.screen_help import settle

INK, RUBBER = "Invented ink", "Invented rubber"


async def asked_for_rubber(pilot: Pilot[Any]) -> None:
    """Ask for natural rubber with resin, oily, over letterpress, without the picker; end on the list."""
    await settle(pilot)
    screen = home(pilot.app)
    screen.asked = Asked(
        {
            "tape": Filled("adhesive", "natural-rubber-resin", "Natural rubber with resin (and more)"),
            "stage": Filled("stage", "oily", "Oily"),
            "medium": Filled("medium", "letterpress-oil", "Letterpress ink"),
        }
    )
    screen._question_changed()
    await settle(pilot)
    screen.action_to_list()
    await settle(pilot)


def blend(rank: int, name: str, **fields: Any) -> BlendFound:
    """A blend with made-up figures."""
    usual: dict[str, Any] = {
        "rank": rank,
        "name": name,
        "parts_pct": {"acetone": 60, "cyclohexane": 40},
        "hansen": (16.0, 6.0, 4.0),
        "red_into": {RUBBER: 0.71},
        "red_out_of": {INK: 1.62, "Invented carrier": 2.1},
        "margin": 0.62,
        "nearest": INK,
        "hazard": 0.4,
        "flash": "taken to flash at -20 °C",
        "flash_c": -20.0,
        "exposure": "EU: no limit known here for invented",
        "vapour_ratio": None,
        "limits_verified": False,
        "drying": ("leaves in this order: one, two; last on the sheet two",),
        "last": "two",
        "mixing": "the parts mix at these shares, by what is known here",
        "gain": Gains(
            replaces="x",
            name="Invented strong",
            distance=1.2,
            margin=0.3,
            hazard=-0.4,
            flash_c=None,
            vapour_ratio=0.5,
            text="a less hazardous equivalent of Invented strong; gained: hazard 0.40 lower",
        ),
        "alone_does": "",
    }
    return BlendFound(**{**usual, **fields})


def invented_blends(*found: BlendFound) -> Blends:
    """An answer of the finder."""
    listed = found or tuple(blend(n, f"Invented {n} 60 % + other {n} 40 %") for n in range(1, 9))
    return Blends(
        question=Question(adhesive="natural-rubber-resin"),
        blends=listed,
        alone=(Alone(liquid="y", name="Invented alone", margin=0.5, hazard=0.2),),
        instead_of="",
        parted=(LeftOutPair(liquids=("a", "b"), names=("Invented oil", "Water"), why="they part company"),),
        left_out=(LeftOut(liquid="z", name="Invented empty", why="not held"),),
        notes=("Many EU limits used here are unverified.",),
        unit="% by volume",
        model="Hansen spheres",
        source="invented",
        objective="Order: widest clearance first.",
        defer="Screening only.",
    )


def invented_air(verdict: str = "EU: cannot be called low. Limit of Invented unverified.") -> Air:
    """An answer about the air; the room fills, the air near the work is richer."""
    share = LimitShare(
        liquid="x",
        name="Invented",
        limit="EU list: 500 ppm (8 h) - unverified: check the current list",
        verified=False,
        skin=False,
        day_low_pct=10.0,
        day_high_pct=40.0,
        short_low_pct=None,
        short_high_pct=None,
        ceiling_high_pct=None,
        text="Invented: 10 to 40 % of the 8 h limit - unverified: check the current list",
    )
    index = line("additive index, 8 h", 0.1, 0.4, "(1 is the limit)", "invented model", "invented source")
    return Air(
        name="Invented",
        use="swabs or spots of 0.5 ml, 20 times an hour",
        room="60 m3",
        air_changes_per_h=1.0,
        hours=2.0,
        temp_c=20.0,
        action_share=0.5,
        parts=(
            AirPart(
                liquid="x",
                name="Invented",
                share_pct=100.0,
                lines=(line("worst 15 min, room", 90, 200, "mg/m3", "invented model", "invented source"),),
            ),
        ),
        series=tuple(
            AirPoint(minute=2.5 * n, room_low=n, room_high=4.0 * n, near_low=2.0 * n, near_high=6.0 * n + 40)
            for n in range(1, 49)
        ),
        series_unit="mg/m3",
        series_model="invented model",
        series_source="invented source",
        under=(
            UnderAuthority(
                authority="EU",
                shares=(share,),
                index_day_low=0.1,
                index_day_high=0.4,
                index_short_low=None,
                index_short_high=None,
                unknown=(),
                unverified=("Invented",),
                tier="not judged",
                verdict=verdict,
                lines=(index,),
                quarter_after_h=1.5,
            ),
        ),
        fire=(line("in the room, highest moment", 1, 2, "% of the lower explosive limit", "m", "s"),),
        ventilation=(line("fresh air to hold the room at the EU limits", 20, 60, "m3/h", "m", "s"),),
        notes=("An invented note.",),
        defer=DEFER,
    )


def invented_map() -> Seen:
    """A map with two regions, five liquids and a blend that dries into the region to spare."""
    reds = {RUBBER: 0.8, INK: 1.4}
    places = {
        "Invented oil": (90.0, 4.0, 6.0),
        "Invented ketone": (55.0, 35.0, 10.0),
        "Invented spirit": (40.0, 20.0, 40.0),
        "Invented twin": (40.0, 20.0, 40.0),
        "[b]Invented[/b] (long)": (60.0, 15.0, 25.0),
    }
    path = ((62.0, 22.0, 16.0), (58.0, 22.0, 20.0), (50.0, 22.0, 28.0))
    regions = (
        MapRegion(name=RUBBER, kind="adhesive", centre=(17.5, 5.5, 4.0), r0=6.0),
        MapRegion(name=INK, kind="medium", centre=(16.0, 8.0, 12.0), r0=5.0),
    )
    found = SolubilityMap(
        liquids=tuple(
            MapLiquid(
                id=name, name=name, held=True, allowed=True, hansen=(16, 5, 5), fractions=place, red=reds
            )
            for name, place in places.items()
        ),
        regions=regions,
        blend=MapBlend(
            name="Invented blend",
            fractions=path[0],
            fractions_as_printed=path[0],
            red=reds,
            path=path,
            steps=(),
        ),
        window=(0.0, 0.0, 100.0, 87.0),
        notes=("RED beside its name decides.",),
        unit="per cent",
        model="fractional parameters",
        source="invented",
    )
    drawn = map_text.Drawn(
        tuple(
            map_text.Region(sign, one.name, one.centre, one.r0, one.kind == "adhesive")
            for sign, one in zip("AM", regions, strict=True)
        ),
        tuple(map_text.Dot(name, name, place) for name, place in places.items()),
        path,
    )
    return Seen(found, drawn, "Invented blend", None, ("An invented note.",))
