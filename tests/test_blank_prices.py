"""A price may be blank where none can be bought: what then is not known is told, not taken as 0."""

from dataclasses import replace

from drill_cases import CASE, hand_plan
from page_reading import read

from optibuild.bidding import price_bid
from optibuild.explain import drill
from optibuild.records import Case, Looser, Plan, Shortfall
from optibuild.report import bid_text, drill_text, page
from optibuild.report.shortfall_screen import shortfall_words

UNVALUED = ("No price or owned value is typed for light: nothing is asked for owning it, beyond upkeep and "
            "other yearly costs.")


def owned(**changes: float) -> Case:
    """The hand case with both of its trucks owned, without price, and no other to be had."""
    bare = {"price_usd": 0.0, "resale_usd": 0.0, "owned": 2, "available": 0, "owned_value_usd": 0.0,
            "remaining_life_year": 2.0}
    return replace(CASE, trucks=(replace(CASE.trucks[0], **(bare | changes)),))  # type: ignore[arg-type]


def bid_screen(case: Case) -> str:
    """The bid of the hand plan, blanks squeezed."""
    return " ".join(bid_text(price_bid(case, hand_plan(case)), (), case).split())


def test_a_bid_says_of_what_it_asks_no_capital() -> None:
    """Two owned trucks without price and owned value are named; with either of the two nothing is said."""
    assert f"Caution {UNVALUED}" in bid_screen(owned())
    assert "is typed for" not in bid_screen(owned(owned_value_usd=4000.0))
    assert "is typed for" not in bid_screen(owned(price_usd=8000.0))


def test_the_page_says_so_before_a_bid_was_asked() -> None:
    """The page's section of the bid has the sentence beside the plain prices of the plan."""
    case = owned()
    assert UNVALUED in read(page(hand_plan(case), case)).one("section", id="bid").text


def test_a_spare_of_unknown_price_is_not_told_as_free() -> None:
    """A third truck cannot be had and has no price: no figure is made up for it, neither its price, nor its
    year, nor what it adds to the bid, and the screen has dashes."""
    case = owned()
    found = drill(case, hand_plan(case))
    assert {(row.price_usd, row.annual_usd, row.can_be_had) for row in found.spares} == {(None, None, False)}
    kept = found.spare_trucks
    assert (kept.price_usd, kept.annual_usd, kept.bid_usd) == (None, None, None)
    text = " ".join(drill_text(found, case, True).split())
    assert "the cost is not known, for the price of an item in it is blank" in text
    assert UNVALUED in text and "They add" not in text
    assert "light+-+wide - - " in text


def test_an_owned_spare_costs_no_price_though_that_is_blank() -> None:
    """With a third owned truck nothing has to be bought but the wide spreader, 928.2 USD: that is known."""
    case = owned(owned=3)
    best = drill(case, hand_plan(case)).spares[0]
    assert (best.build, best.price_usd) == ("light+-+wide", 928.2)


def short_of_a_truck(case: Case) -> str:
    """The line that tells of one more truck that is needed."""
    row = Looser("available", 0.0, 1.0, "units", of="light", not_enough=0.0)
    plan: Plan = replace(hand_plan(), shortfall=Shortfall((), None, (), (row,)))
    return shortfall_words(plan, case)[1][0]


def test_one_more_of_what_has_no_price_takes_a_price_too() -> None:
    """A truck that cannot be bought needs its price when it is to be; one whose price is there does not."""
    said = "It takes 1 more of light: available = 1 instead of 0"
    assert short_of_a_truck(owned()) == f"{said}, and a price, which is blank."
    assert short_of_a_truck(owned(price_usd=8000.0)) == f"{said}."


def test_a_single_way_out_is_not_called_one_of_several() -> None:
    """One bullet stands under "What would do instead:", two under the same with "each by itself"."""
    rows = (Looser("drivers", 1.0, 2.0, "drivers", way="drivers"),
            Looser("all cycle limits", 1.0, 1.5, "times", way="all cycle limits"))
    for some, heading in ((rows[:1], "What would do instead:"),
                          (rows, "What would do instead, each by itself:")):
        plan = replace(hand_plan(), shortfall=Shortfall((), None, (), some))
        assert heading in [text for text, under in shortfall_words(plan, CASE) if under]
