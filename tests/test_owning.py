"""What an item costs a year: capital recovery, loan and lease, life in years or hours, worth as it falls."""

import csv
import shutil
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import numpy_financial
import pytest
from times_case import PLOW, SPREADER, TRUCK, plain_case

from optibuild.cost.owning import (
    annual_usd,
    capital_recovery_usd,
    declining_worth_usd,
    life_year,
    loan_payment_usd,
    owned_capital_usd,
    owned_value_usd,
    paid_at_purchase_usd,
    recovery_factor,
    straight_worth_usd,
    upkeep_usd,
)
from optibuild.errors import Problem
from optibuild.inputs import check_case, read_case, write_case
from optibuild.pipeline import place, stages
from optibuild.records import Ballast, Money

SMALL = Path(__file__).parent / "data" / "small"
SEVEN = plain_case().money
"""Money at 7 % interest."""


def at(interest: float) -> Money:
    return replace(SEVEN, interest=interest)


# ---- capital recovery


@pytest.mark.parametrize(("interest", "years", "recovery", "sinking", "tolerance"), [
    (.06, 10, .1359, .0759, 5e-5), (.10, 4, .3155, .2155, 5e-5), (.08, 10, .1490, .0690, 5e-5),
    (.05, 15, .0963, .0463, 5e-5), (.07, 5, .2439, .1739, 5e-5), (.0025, 10, .10138, .09888, 5e-6),
])
def test_recovery_factors(
    interest: float, years: float, recovery: float, sinking: float, tolerance: float
) -> None:
    """A/P and A/F = A/P - i are those of the standard engineering-economy tables (0.25 % row seen, 6 % row
    from memory), to half of the last digit."""
    assert recovery_factor(interest, years) == pytest.approx(recovery, abs=tolerance)
    assert recovery_factor(interest, years) - interest == pytest.approx(sinking, abs=tolerance)


def test_recovery_factor_at_its_limits() -> None:
    """Without interest the factor is 1/n, near zero interest it runs into that, over one year it is 1 + i,
    and a life of zero is refused."""
    assert recovery_factor(0.0, 8) == 1 / 8
    assert recovery_factor(1e-13, 8) == pytest.approx(1 / 8)
    assert recovery_factor(0.07, 1) == pytest.approx(1.07)
    with pytest.raises(ValueError, match="life"):
        recovery_factor(0.07, 0)


@pytest.mark.parametrize(("price", "resale", "years", "interest", "expected"), [
    (10_000, 1_000, 4, .10, 2_939.24), (100_000, 20_000, 15, .10, 12_517.90),
])
def test_capital_recovery_with_salvage(
    price: float, resale: float, years: float, interest: float, expected: float
) -> None:
    """Capital recovery with salvage gives the published yearly cost (course note on replacement; a
    licensing-exam answer)."""
    assert capital_recovery_usd(price, resale, years, interest) == pytest.approx(expected, abs=0.01)


def test_three_forms_of_capital_recovery_are_one() -> None:
    """On 1,000 seeded inputs, and on the published ones, P(A/P) - S(A/F) and (P - S)(A/F) + iP of the
    engineering-economy textbooks are our (P - S)(A/P) + iS, to 1e-9 of the price."""
    rng = np.random.default_rng(44)
    drawn = [(10_000, 1_000, 4, .10), (100_000, 20_000, 15, .10)]
    drawn += [(p := rng.uniform(100, 1e5), p * rng.uniform(0, 1), rng.uniform(0.5, 30), rng.uniform(.001, .3))
              for _ in range(1000)]
    for price, resale, years, interest in drawn:
        recovery = interest * (1 + interest) ** years / ((1 + interest) ** years - 1)
        sinking = interest / ((1 + interest) ** years - 1)
        found = capital_recovery_usd(price, resale, years, interest)
        assert found == pytest.approx(price * recovery - resale * sinking, abs=1e-9 * price)
        assert found == pytest.approx((price - resale) * sinking + interest * price, abs=1e-9 * price)


def test_worked_example_of_machinery_costs() -> None:
    """List 110,000 at a remaining share of 0.23 is 25,300; bought for 93,500 it loses 68,200; at 8 - 3 = 5 %
    over 15 years that is 7,832.7 with the table's 0.0963 and 7,835.5 exactly (Estimating Farm Machinery
    Costs, Iowa State University PM 710; the last figures by arithmetic)."""
    resale = 0.23 * 110_000
    assert straight_worth_usd(93_500, resale, 15, 0) - straight_worth_usd(93_500, resale, 15, 15) == 68_200
    found = capital_recovery_usd(93_500, resale, 15, .05)
    assert found == pytest.approx(7_835.5, abs=0.05)
    assert found == pytest.approx(68_200 * .0963 + .05 * 25_300, rel=0.0005)


def test_straight_line_when_money_costs_nothing() -> None:
    """12,000 less 2,000 over 5 years of 2,000 h is 2,000 a year and 1.00 an hour (university lecture on
    equipment cost), as capital recovery without interest and as a year's fall of its worth."""
    assert capital_recovery_usd(12_000, 2_000, 5, 0.0) == pytest.approx(2_000)
    assert capital_recovery_usd(12_000, 2_000, 5, 0.0) / 2_000 == pytest.approx(1.00)
    worth = [straight_worth_usd(12_000, 2_000, 5, age) for age in (0, 1, 5, 9)]
    assert worth == [12_000, 10_000, 2_000, 2_000]


def test_capital_recovery_agrees_with_a_reference_library() -> None:
    """numpy-financial's payment on price now and resale at the end is our capital recovery, on 1,000 seeded
    inputs with interest of 0 and lives of one year among them."""
    rng = np.random.default_rng(4)
    seen = set()
    for _ in range(1000):
        price, years = rng.uniform(100, 1e5), float(rng.choice([1.0, rng.uniform(0.5, 30)]))
        interest, resale = float(rng.choice([0.0, rng.uniform(0, 0.25)])), price * rng.uniform(0, 1)
        reference = -numpy_financial.pmt(interest, years, price, -resale)
        assert capital_recovery_usd(price, resale, years, interest) == pytest.approx(reference, rel=1e-9)
        seen.add((interest == 0, years == 1))
    assert len(seen) == 4


# ---- loans and leases


def test_loan_payments_agree_with_a_reference_library() -> None:
    """numpy-financial's yearly payment is ours, on 1,000 seeded loans, some free of interest and some of one
    year."""
    rng = np.random.default_rng(5)
    seen = set()
    for _ in range(1000):
        loan, years = rng.uniform(100, 1e5), float(rng.choice([1.0, rng.uniform(0.5, 15)]))
        rate = float(rng.choice([0.0, rng.uniform(0, 0.25)]))
        assert loan_payment_usd(loan, rate, years) == pytest.approx(
            -numpy_financial.pmt(rate, years, loan), rel=1e-9)
        seen.add((rate == 0, years == 1))
    assert len(seen) == 4


def test_a_year_of_a_loan_by_hand() -> None:
    """40,000 with a quarter down and 30,000 over 4 years at 10 % is 30,000 x 0.1 x 1.4641 / 0.4641 = 9,464.12
    a year; where money costs nothing else that is 10,000 + 4 x 9,464.12, less 8,000, over 8 years."""
    bought = replace(TRUCK, loan_rate=.10, loan_term_year=4.0, loan_down=.25, upkeep_usd_per_year=0.0,
                     snow_share=1.0)
    payment = 30_000 * 0.14641 / 0.4641
    assert loan_payment_usd(30_000, .10, 4) == pytest.approx(payment)
    assert annual_usd(bought, at(0.0)) == pytest.approx((10_000 + 4 * payment - 8_000) / 8)
    # at 5 %: payments are worth payment x (1 - 1.05^-4)/0.05 today; A/P and A/F of 8 years
    today = 10_000 + payment * (1 - 1.05 ** -4) / .05
    recovery = .05 * 1.05 ** 8 / (1.05 ** 8 - 1)
    assert annual_usd(bought, at(.05)) == pytest.approx(today * recovery - 8_000 * (recovery - .05))


def test_a_loan_at_the_interest_of_the_case_costs_what_paying_at_once_does() -> None:
    """Whatever is paid down and over how many years, borrowing at `money.interest` is plain capital recovery:
    200 seeded items."""
    rng = np.random.default_rng(6)
    for _ in range(200):
        interest = float(rng.choice([0.0, rng.uniform(0, 0.2)]))
        lent = replace(TRUCK, loan_rate=interest, loan_term_year=rng.uniform(0.5, 12),
                       loan_down=rng.uniform(0, 1))
        assert annual_usd(lent, at(interest)) == pytest.approx(annual_usd(TRUCK, at(interest)), rel=1e-9)
        assert paid_at_purchase_usd(lent) == pytest.approx(40_000 * lent.loan_down)


def test_a_dearer_loan_costs_more_and_a_cheaper_one_less() -> None:
    """A loan above the interest of the case costs more than paying at once, one below it less."""
    dear, cheap = (replace(TRUCK, loan_rate=rate, loan_term_year=5.0) for rate in (.09, .05))
    assert annual_usd(cheap, SEVEN) < annual_usd(TRUCK, SEVEN) < annual_usd(dear, SEVEN)


def test_a_leased_truck_costs_its_lease_and_upkeep_and_nothing_at_purchase() -> None:
    """9,000 of lease, 1,000 of upkeep, half of it for snow: 5,000, whatever its price, life, resale or the
    interest."""
    leased = replace(TRUCK, lease_usd_per_year=9_000.0)
    assert annual_usd(leased, SEVEN) == annual_usd(replace(leased, price_usd=0.0), at(.2)) == 5_000
    assert paid_at_purchase_usd(leased) == 0.0 and paid_at_purchase_usd(TRUCK) == 40_000


def test_the_budget_counts_what_is_paid_at_purchase() -> None:
    """In the program an item's price is its down payment, or nothing for a lease."""
    case = plain_case(trucks=(replace(TRUCK, loan_rate=.06, loan_term_year=5.0, loan_down=.2),),
                      plows=(replace(PLOW, lease_usd_per_year=900.0),))
    made = stages(case)
    assert place(case, made.builds, made.times, made.costs).price_usd.tolist() == [8_000, 0, 5_000]


# ---- life, yearly costs, worth


def test_a_year_of_an_item() -> None:
    """A new truck costs capital and upkeep at its snow share, an owned one its upkeep; its capital counts
    in bids alone, over what is left of its life; a plow is charged whole."""
    money = at(0.0)
    # (40,000 - 8,000)/8 + 1,000 = 5,000, half of it; (6,000 - 900)/7 + 100
    assert annual_usd(TRUCK, money) == pytest.approx(2_500)
    assert annual_usd(PLOW, money) == pytest.approx(5_100 / 7 + 100)
    assert upkeep_usd(TRUCK) == pytest.approx(500) and upkeep_usd(PLOW) == 100
    old = replace(TRUCK, owned=1, owned_value_usd=12_000, remaining_life_year=3)
    assert owned_capital_usd(old, money) == pytest.approx(0.5 * 4_000)
    assert owned_capital_usd(replace(old, remaining_life_year=0), money) == pytest.approx(0.5 * 12_000)


def test_insurance_and_registration_are_yearly_costs_of_new_and_owned_trucks() -> None:
    """1,000 of upkeep, 700 of insurance and 300 of registration, half of them for snow: 1,000 a year on an
    owned truck, and 500 more than before on a new one."""
    truck = replace(TRUCK, insurance_usd_per_year=700.0, registration_usd_per_year=300.0)
    assert upkeep_usd(truck) == pytest.approx(1_000)
    assert annual_usd(truck, SEVEN) == pytest.approx(annual_usd(TRUCK, SEVEN) + 500)


def test_attachments_are_charged_at_their_snow_share() -> None:
    """A plow and a spreader that also work elsewhere are charged three tenths, ballast always all."""
    for item in (PLOW, SPREADER):
        shared = replace(item, snow_share=0.3)
        assert annual_usd(shared, SEVEN) == pytest.approx(0.3 * annual_usd(item, SEVEN))
        assert upkeep_usd(shared) == pytest.approx(0.3 * upkeep_usd(item))
    assert annual_usd(Ballast("bag", "", 30.0, -0.3, 10, price_usd=20.0, life_year=4.0), at(0.0)) == 5.0


@pytest.mark.parametrize(("hours", "each_year", "years"), [
    (2_000, 400, 5.0), (4_000, 400, 8.0), (3_200, 400, 8.0), (inf, 400, 8.0), (2_000, 0, 8.0),
])
def test_life_ends_by_years_or_hours_whichever_comes_first(hours: float, each_year: float,
                                                           years: float) -> None:
    """2,000 h at 400 h a year end 8 years after 5; 4,000 h do not, 3,200 h end with them, and where it never
    works hours never end."""
    truck = replace(TRUCK, worked_life_min=60.0 * hours, worked_min_per_year=60.0 * each_year)
    assert life_year(truck) == years
    same_life = replace(TRUCK, life_year=years)
    assert annual_usd(truck, SEVEN) == pytest.approx(annual_usd(same_life, SEVEN))


def test_declining_worth_by_hand() -> None:
    """From 16,000 to 1,000 in 4 years a half is lost every year: 16, 8, 4, 2, 1 thousand, and no less."""
    found = [declining_worth_usd(16_000, 1_000, 4, age) for age in (0, 1, 2, 3, 4, 6)]
    assert found == pytest.approx([16_000, 8_000, 4_000, 2_000, 1_000, 1_000])


def test_worth_falls_from_price_to_resale() -> None:
    """Both ways begin at the price, end at the resale and never rise; the declining one is lower between."""
    rng = np.random.default_rng(9)
    for _ in range(200):
        price, life = rng.uniform(100, 1e5), rng.uniform(1, 20)
        resale, ages = price * rng.uniform(0.01, 0.9), np.linspace(0, life, 9)
        line, share = ([falls(price, resale, life, age) for age in ages]
                       for falls in (straight_worth_usd, declining_worth_usd))
        for worth in (line, share):
            assert worth[0] == pytest.approx(price) and worth[-1] == pytest.approx(resale)
            assert (np.diff(worth) <= 0).all()
        assert all(low < high for low, high in zip(share[1:-1], line[1:-1], strict=True))


def test_an_owned_item_is_worth_what_the_fall_of_its_value_left() -> None:
    """16,000 falling to 1,000 in 4 years with one year left: 1,000 + 15,000/4 = 4,750 along the line, 2,000
    by shares; a given worth wins; one older than its life is worth the resale, one with more left than that
    the price."""
    plow = replace(PLOW, price_usd=16_000.0, resale_usd=1_000.0, life_year=4.0, owned=1, owned_value_usd=None,
                   remaining_life_year=1.0, value_falls="straight")
    declining = replace(plow, value_falls="declining")
    assert owned_value_usd(plow) == pytest.approx(4_750)
    assert owned_value_usd(declining) == pytest.approx(2_000)
    assert owned_value_usd(replace(plow, owned_value_usd=6_000.0)) == 6_000
    assert owned_value_usd(replace(plow, remaining_life_year=0.0)) == pytest.approx(1_000)
    assert owned_value_usd(replace(declining, remaining_life_year=9.0)) == pytest.approx(16_000)
    # recovered over the year that is left, at 7 %
    assert owned_capital_usd(plow, SEVEN) == pytest.approx(4_750 * 1.07)


# ---- as typed


def _with_columns(folder: Path, table: str, *columns: tuple[str, ...]) -> Path:
    """The small case with columns added to a table: each its heading, then its cells; blank where it ends.
    A heading that is there is written over."""
    case = Path(shutil.copytree(SMALL, folder / "case"))
    with open(case / f"{table}.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    for heading, *cells in columns:
        at_column = rows[0].index(heading) if heading in rows[0] else len(rows[0])
        for row, cell in zip(rows, [heading, *cells, *[""] * len(rows)], strict=False):
            row[at_column:at_column + 1] = [cell]
    with open(case / f"{table}.csv", "w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return case


def test_typed_owning_arrives_in_inner_units(tmp_path: Path) -> None:
    """Hours become minutes, percent shares; a leased truck needs no price; hours a year left blank are those
    of the season's storms, 12 x 5 + 6 x 9 + 2 x 14 = 142 h, and half of the life by hours is left."""
    case = read_case(_with_columns(
        tmp_path, "trucks", ("life_hours [h]", "568", "1,420"), ("hours_per_year [h]", "", "71"),
        ("value_falls", "straight", "declining"), ("loan_rate [%]", "6"), ("loan_years [year]", "5"),
        ("loan_down [%]", "20"), ("insurance [USD/year]", "900"), ("registration [USD/year]", "150"),
        ("lease [USD/year]", "", "8,000"), ("price [USD]", "38,000", "", "58,000"), ("snow_share [%]", "40")))
    light, leased, plain = case.trucks
    assert (light.worked_life_min, light.worked_min_per_year) == (568 * 60, 142 * 60)
    assert (light.value_falls, light.owned_value_usd, light.remaining_life_year) == ("straight", None, 2)
    assert (light.loan_rate, light.loan_term_year, light.loan_down) == pytest.approx((.06, 5, .2))
    assert (light.insurance_usd_per_year, light.registration_usd_per_year, light.snow_share) == (900, 150, .4)
    # half of 38,000 - 0.2 x 38,000 is gone
    assert owned_value_usd(light) == pytest.approx(38_000 - 15_200)
    assert (leased.price_usd, leased.lease_usd_per_year, leased.worked_min_per_year) == (0, 8_000, 71 * 60)
    assert leased.remaining_life_year == 4 and annual_usd(leased, case.money) == 9_700
    assert (plain.worked_life_min, plain.value_falls, plain.loan_rate) == (inf, None, None)
    assert (plain.owned_value_usd, plain.remaining_life_year) == (29_000, 4)


def test_written_owning_reads_back_and_its_blanks_stay_blank(tmp_path: Path) -> None:
    """A case with all of it, written as text and as a workbook, reads back the same; hours a year that are
    the season's and half a life stay blank."""
    case = read_case(_with_columns(
        tmp_path, "trucks", ("life_hours [h]", "568", "1,420"), ("hours_per_year [h]", "", "71"),
        ("value_falls", "straight", "declining"), ("lease [USD/year]", "", "8,000"),
        ("price [USD]", "38,000", "", ""), ("hired [USD/h]", "", "", "120")))
    for name in ("folder", "book.xlsx"):
        write_case(case, tmp_path / name)
        assert replace(read_case(tmp_path / name), given_as="", inputs=()) == replace(
            case, given_as="", inputs=())
    with open(tmp_path / "folder" / "trucks.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["hours_per_year [h]"] for row in rows] == ["", "71", ""]
    assert [row["price [USD]"] for row in rows] == ["38000", "", ""]
    assert {row["remaining_life [year]"] for row in rows} == {""}


# table, columns beside those of the small case, the code and the heading of the problem
WRONG: list[tuple[str, list[tuple[str, ...]], str, str]] = [
    ("trucks", [("life [year]", "0")], "value.range", "life [year]"),
    ("plows", [("life [year]", "-1")], "value.range", "life [year]"),
    ("trucks", [("life_hours [h]", "0")], "value.range", "life_hours [h]"),
    ("spreaders", [("hours_per_year [h]", "0")], "value.range", "hours_per_year [h]"),
    ("trucks", [("hours_per_year [h]", "-400")], "value.range", "hours_per_year [h]"),
    ("trucks", [("resale [%]", "101")], "value.range", "resale [%]"),
    ("plows", [("resale [USD]", "5000.01")], "value.range", "resale [USD]"),
    ("trucks", [("insurance [USD/year]", "-1")], "value.range", "insurance [USD/year]"),
    ("trucks", [("registration [USD/year]", "-1")], "value.range", "registration [USD/year]"),
    ("trucks", [("value_falls", "sideways")], "value.word", "value_falls"),
    ("trucks", [("snow_share [%]", "101")], "value.range", "snow_share [%]"),
    ("spreaders", [("snow_share [%]", "-1")], "value.range", "snow_share [%]"),
    ("trucks", [("loan_rate [%]", "6")], "item.loan", "loan_years"),
    ("trucks", [("loan_years [year]", "6")], "item.loan", "loan_rate"),
    ("trucks", [("loan_rate [%]", "6"), ("loan_years [year]", "0")], "value.range", "loan_years [year]"),
    ("trucks", [("loan_rate [%]", "-6"), ("loan_years [year]", "5")], "value.range", "loan_rate [%]"),
    ("plows", [("loan_rate [%]", "6"), ("loan_years [year]", "5"), ("loan_down [%]", "101")], "value.range",
     "loan_down [%]"),
    ("trucks", [("lease [USD/year]", "0")], "value.range", "lease [USD/year]"),
    ("plows", [("lease [USD/year]", "900"), ("loan_rate [%]", "6"), ("loan_years [year]", "5")], "item.lease",
     "lease [USD/year]"),
    ("spreaders", [("lease [USD/year]", "900"), ("loan_down [%]", "10")], "item.lease", "lease [USD/year]"),
    ("trucks", [("value_falls", "declining"), ("resale [USD]", "0")], "item.declining", "resale [USD]"),
    ("trucks", [("hired [USD/h]", "110")], "item.hired", "price [USD]"),
    ("trucks", [("hired [USD/h]", "110"), ("price [USD]", "", "1", "1"), ("owned", "1")], "item.hired",
     "owned"),
    ("trucks", [("hired [USD/h]", "110"), ("price [USD]", "", "1", "1"), ("lease [USD/year]", "9000")],
     "item.hired", "lease [USD/year]"),
    ("trucks", [("hired [USD/h]", "110"), ("price [USD]", "", "1", "1"), ("resale [USD]", "5")],
     "value.range", "resale [USD]"),
    ("trucks", [("hired [USD/h]", "0"), ("price [USD]", "", "1", "1")], "value.range", "hired [USD/h]"),
    ("materials", [("waste [%]", "100")], "value.range", "waste [%]"),
    ("materials", [("waste [%]", "-1")], "value.range", "waste [%]"),
    ("materials", [("delivery [USD/ton]", "-1")], "value.range", "delivery [USD/ton]"),
]


def _errors(case: Path) -> list[Problem]:
    return [problem for problem in check_case(case)[1] if problem.severity == "error"]


@pytest.mark.parametrize(("table", "columns", "code", "column"), WRONG,
                         ids=lambda part: "-".join(map("".join, part)) if isinstance(part, list) else part)
def test_wrong_owning_is_told_at_its_place(table: str, columns: list[tuple[str, ...]], code: str, column: str,
                                           tmp_path: Path) -> None:
    """A figure that makes no sense, or two ways of paying at once, is one problem in the first row, in its
    column."""
    problem, = _errors(_with_columns(tmp_path, table, *columns))
    where = problem.places[0]
    assert (problem.code, where.file, where.row, where.column) == (code, f"{table}.csv", 2, column)


@pytest.mark.parametrize("columns", [
    [("loan_rate [%]", "0"), ("loan_years [year]", "5")], [("loan_down [%]", "0")],
    [("value_falls", "straight"), ("resale [%]", "0")],
    [("hired [USD/h]", "110"), ("price [USD]", "", "1", "1")],
    [("hired [USD/h]", "110"), ("price [USD]", "0", "1", "1"), ("owned", "0")],
    [("lease [USD/year]", "9000"), ("resale [USD]", "0")], [("resale [USD]", "38000")],
])
def test_right_owning_is_no_problem(columns: list[tuple[str, ...]], tmp_path: Path) -> None:
    """A free loan, a straight fall to nothing, a hired truck without a price, a lease, a resale of the whole
    price: none of these is an error."""
    assert _errors(_with_columns(tmp_path, "trucks", *columns)) == []


def test_a_budget_below_every_price_is_no_doubt_where_a_truck_can_be_had_for_less(tmp_path: Path) -> None:
    """30,000 USD buy none of the trucks of 38,000 and more, which is doubted, unless one comes by lease."""
    for number, (columns, doubted) in enumerate((((), True), ((("lease [USD/year]", "9000"),), False))):
        folder = tmp_path / str(number)
        case = _with_columns(folder, "trucks", *columns)
        text = (case / "case.toml").read_text(encoding="utf-8")
        (case / "case.toml").write_text(text.replace("[money]", '[money]\nbudget = "30000 USD"'),
                                        encoding="utf-8")
        assert ("doubt.budget" in {problem.code for problem in check_case(case)[1]}) is doubted
