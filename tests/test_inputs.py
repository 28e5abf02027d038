"""Right input: tables and keys become records in inner units, and never anything else than was typed."""

import shutil
from dataclasses import MISSING, fields
from hashlib import sha256
from math import asin, inf, sqrt
from pathlib import Path

import pytest

from optibuild.assumptions import ASSUMPTIONS
from optibuild.inputs import KEYS, OPTIONAL, TABLES, check_case, expected_words, read_case
from optibuild.inputs.declared.declaration import NO_LIMIT, PLAIN, bounds, in_range
from optibuild.records import (
    Assumptions,
    Ballast,
    BidSettings,
    Case,
    Contract,
    Crew,
    Depot,
    Event,
    FitLimits,
    Leg,
    Material,
    Money,
    Mount,
    Ownership,
    Plow,
    Site,
    SolveSettings,
    Spreader,
    Storm,
    Timing,
    Truck,
    Winter,
)
from optibuild.units import DIMENSIONS, quantity

SMALL = Path(__file__).parent / "data" / "small"
RECORDS: dict[str, type] = {
    "trucks": Truck, "plows": Plow, "spreaders": Spreader, "ballast": Ballast, "materials": Material,
    "depots": Depot, "sites": Site, "season": Event, "travel": Leg, "mounts": Mount,
    "timings": Timing, "past_winters": Winter, "contracts": Contract,
}
# what a record holds beside the columns of its table
DERIVED = {"plows": ("owned_value_usd", "remaining_life_year"),
           "spreaders": ("owned_value_usd", "remaining_life_year"),
           "ballast": tuple(field.name for field in fields(Ownership))}
SECTIONS = {"storm": (Storm, set()), "money": (Money, {"fuel_usd_per_l"}), "crew": (Crew, set()),
            "fit": (FitLimits, set()), "solve": (SolveSettings, set()), "bid": (BidSettings, set()),
            "assumptions": (Assumptions, {"overridden"})}
ALL = [*KEYS.values(), *(declared for columns in TABLES.values() for declared in columns)]


def _copy(folder: Path, **files: str) -> Path:
    """The small case with some files replaced; `sites_csv` stands for sites.csv."""
    case = Path(shutil.copytree(SMALL, folder / "case"))
    for name, text in files.items():
        (case / name.replace("_", ".")).write_text(text, encoding="utf-8")
    return case


def _read(folder: Path, **files: str) -> Case:
    return read_case(_copy(folder, **files))




@pytest.mark.parametrize("table", TABLES)
def test_columns_and_record_fields_are_the_same(table: str) -> None:
    """Every column has a field of its table's record, and every field a column or a named derivation."""
    declared = [column.field for column in TABLES[table]]
    assert len(declared) == len(set(declared))
    assert {*declared, *DERIVED.get(table, ())} == {field.name for field in fields(RECORDS[table])}


@pytest.mark.parametrize("section", SECTIONS)
def test_keys_and_record_fields_are_the_same(section: str) -> None:
    """Every key of a section has a field of its record and every field a key, fuels and overrides aside."""
    record, apart = SECTIONS[section]
    declared = {key.field for name, key in KEYS.items() if name.startswith(section + ".")}
    assert declared - {"NAME_usd_per_l"} == {field.name for field in fields(record)} - apart


def test_dimensions_names_and_defaults_make_sense() -> None:
    """Each declaration has words, a known dimension, and a default that its own range and words allow."""
    for declared in ALL:
        assert declared.meaning and (declared.dimension in PLAIN or declared.dimension in DIMENSIONS)
        assert not (declared.default and declared.derived), declared.name
        assert expected_words(declared)
        if declared.choices:
            assert declared.default is None or declared.default in declared.choices
        elif declared.dimension not in ("id", "item_id", "text", "word", "yes_no"):
            low, high = bounds(declared, declared.dimension)
            assert low < high
            if declared.default not in (None, NO_LIMIT):
                value = quantity(str(declared.default), declared.dimension)
                assert in_range(value, declared, declared.dimension), declared.name


def test_optional_tables_exist() -> None:
    """The tables that may be absent are among the declared ones."""
    assert set(OPTIONAL) < set(TABLES)


def test_published_ranges_of_assumptions_hold_their_defaults() -> None:
    """Each default figure lies inside the published range beside it."""
    for row in ASSUMPTIONS:
        if row.low and row.high:
            low, value, high = (quantity(text, row.dimension) for text in (row.low, row.default, row.high))
            assert low * (1 - 1e-9) <= value <= high * (1 + 1e-9)




def test_the_small_case_has_no_problems() -> None:
    """The case that every test uses is read without an error or a warning."""
    case, problems = check_case(SMALL)
    assert case is not None and problems == ()
    assert [len(rows) for rows in (case.trucks, case.plows, case.spreaders, case.ballast, case.sites)] == [
        3, 3, 2, 1, 4]


def test_typed_pounds_inches_and_hours_arrive_as_kilograms_meters_and_minutes() -> None:
    """7,050 lb, 140 in, 2 h, 0.5 acre and 15 mi/gal arrive as NIST SP 811 converts them (from memory)."""
    case = read_case(SMALL)
    truck, clinic = case.trucks[0], case.sites[1]
    assert truck.gvwr_kg == pytest.approx(7050 * 0.45359237, rel=1e-12)
    assert truck.wheelbase_m == pytest.approx(140 * 0.0254, rel=1e-12)
    assert truck.city_l_per_m == pytest.approx(3.785411784 / (15 * 1609.344), rel=1e-12)
    assert clinic.plow_every_min == 120 and clinic.deadline_min == 90
    assert clinic.area_m2 == pytest.approx(0.5 * 4046.8564224, rel=1e-12)
    assert case.season[2].pavement_degc == pytest.approx((16 - 32) * 5 / 9, rel=1e-12)
    assert case.money.wage_usd_per_min == pytest.approx(24 / 60, rel=1e-12)


def test_absent_columns_take_their_defaults() -> None:
    """What the tables do not say is the documented default: 20 % resale, 8 years, no limit, 300 kg/m^3."""
    case = read_case(SMALL)
    truck = case.trucks[0]
    assert (truck.life_year, truck.resale_usd, truck.owned, truck.available) == (8, 0.2 * 38000, 0, inf)
    assert (truck.owned_value_usd, truck.remaining_life_year) == (19000, 4)
    assert truck.tire_capacity_front_kg == inf and truck.plow_allowed and truck.drive == "all"
    assert case.spreaders[0].material == "salt"
    assert case.spreaders[0].material_center_m == case.spreaders[0].center_m
    assert case.money.budget_usd == inf and case.crew.drivers == inf
    assert case.assumptions.settled_density_kg_per_m3 == 300 and case.assumptions.overridden == ()


def test_the_default_fuels_have_prices() -> None:
    """Gas at 3.50 and diesel at 4.00 USD a gallon need not be typed."""
    money = read_case(SMALL).money
    assert money.fuel_price("gas") == pytest.approx(3.5 / 3.785411784)
    assert money.fuel_price("diesel") == pytest.approx(4.0 / 3.785411784)


def test_records_own_defaults_are_the_declared_ones() -> None:
    """Crew, FitLimits, BidSettings and SolveSettings made without arguments equal what an empty case.toml
    gives."""
    case = read_case(SMALL)
    assert case.crew == Crew() and case.fit == FitLimits() and case.bid == BidSettings()
    plain = {field.name: field.default for field in fields(SolveSettings) if field.default is not MISSING}
    assert plain | {"gap": 0.0} == {name: getattr(case.solve, name) for name in plain}


def test_the_inputs_are_named_and_hashed() -> None:
    """A case carries the path as given and, sorted, each file it was read from with its SHA-256."""
    case = read_case(str(SMALL))
    assert case.given_as == str(SMALL)
    names = [name for name, _ in case.inputs]
    assert names == sorted(path.name for path in SMALL.iterdir())
    assert dict(case.inputs)["case.toml"] == sha256((SMALL / "case.toml").read_bytes()).hexdigest()


def test_a_plow_only_site_keeps_no_deicing_limit_and_a_deiced_one_takes_the_plowing_limit(
        tmp_path: Path) -> None:
    """deice_every is plow_every where it is blank and the site is deiced, and stays blank elsewhere."""
    sites = ("id,lat,lon,area [acre],work,plow_every [h]\n"
             "a,44,-90,1,plow,2\nb,44,-90,1,both,3\nc,44,-90,1,deice,4\n")
    read = _read(tmp_path, sites_csv=sites).sites
    assert [site.deice_every_min for site in read] == [None, 180, 240]
    assert [site.cycle_limit_min for site in read] == [120, 180, 240]
    assert read[0].pass_length_m == pytest.approx(sqrt(4046.8564224))




TRUCK = ("id,gvwr [lb],gawr_front [lb],gawr_rear [lb],curb_front [lb],curb_rear [lb],wheelbase [in],"
         "price [USD]")


def _truck(folder: Path, row: str, more: str = "") -> Case:
    return _read(folder, trucks_csv=f"{TRUCK}{more}\n{row}\n")


def test_ids_stay_as_typed(tmp_path: Path) -> None:
    """`007` keeps its zeros and `NA` is a name."""
    case = _read(tmp_path, materials_csv="id,bulk_density [kg/m^3]\nNA,1200\n",
                 trucks_csv=f"{TRUCK}\n007,7050,3900,4150,2850,2100,140,1\n")
    assert case.trucks[0].id == "007" and case.materials[0].id == "NA"
    assert case.spreaders[0].material == "NA"


def test_numbers_with_commas_dollars_spaces_and_exponents(tmp_path: Path) -> None:
    """'7,050', ' 3900 ', '4.15e3', '+2850', '2100.' and '$41,000.50' are the numbers they look like."""
    row = 'x,"7,050", 3900 ,4.15e3,+2850,2100.,\N{NO-BREAK SPACE}140,"$41,000.50"'
    truck = _truck(tmp_path, row).trucks[0]
    pounds = [mass / 0.45359237 for mass in (truck.gvwr_kg, truck.gawr_front_kg, truck.gawr_rear_kg,
                                             truck.curb_front_kg, truck.curb_rear_kg)]
    assert pounds == pytest.approx([7050, 3900, 4150, 2850, 2100], rel=1e-12)
    assert truck.price_usd == 41000.5


def test_words_are_free_in_case_and_have_aliases(tmp_path: Path) -> None:
    """4WD means all, N means no, 12 % in a percent column is 0.12 and so is 12."""
    more = ",drive,plow_allowed,snow_share [%],resale [%]"
    truck = _truck(tmp_path, "x,7050,3900,4150,2850,2100,140,1000,4WD,N,12 %,12", more).trucks[0]
    assert (truck.drive, truck.plow_allowed) == ("all", False)
    assert (truck.snow_share, truck.resale_usd) == pytest.approx((0.12, 120))


def test_resale_may_be_an_amount(tmp_path: Path) -> None:
    """Under 'resale [USD]' the number is money, and a blank is still 20 % of the price."""
    rows = "x,7050,3900,4150,2850,2100,140,1000,300\ny,7050,3900,4150,2850,2100,140,1000,"
    assert [truck.resale_usd for truck in _truck(tmp_path, rows, ",resale [USD]").trucks] == [300, 200]


def test_a_price_may_be_blank_where_none_can_be_bought(tmp_path: Path) -> None:
    """An owned truck that cannot be bought again needs no price; its worth is then what is typed."""
    truck = _truck(tmp_path, "x,7050,3900,4150,2850,2100,140,,2,0,9000",
                   ",owned,available,owned_value [USD]").trucks[0]
    assert (truck.price_usd, truck.owned, truck.available, truck.owned_value_usd) == (0, 2, 0, 9000)


def test_a_turning_circle_gives_the_steer_angle(tmp_path: Path) -> None:
    """A 43 ft circle curb to curb with 68 in track and 140 in wheelbase: center radius (516 - 68)/2 = 224 in,
    sine of the angle 140/224 = 0.625."""
    more = ",turning_circle [ft],steer_angle [deg]"
    case = _truck(tmp_path, "x,7050,3900,4150,2850,2100,140,1,43,10", more)
    assert case.trucks[0].steer_angle_rad == pytest.approx(asin(0.625), rel=1e-12)


def test_headings_forgive_case_and_spaces_and_notes_are_passed_over(tmp_path: Path) -> None:
    """'Bulk Density [LB / ft^3]' is the column bulk_density; columns that begin with note are not read."""
    case = _read(tmp_path, materials_csv="ID,Bulk Density [LB / ft^3],notes,Note 2,\nsalt,80,x,y,\n\n,,,,\n")
    assert case.materials[0].bulk_density_kg_per_m3 == pytest.approx(80 * 0.45359237 / 0.3048**3, rel=1e-12)


def test_a_byte_order_mark_crlf_and_newlines_in_quotes_are_read(tmp_path: Path) -> None:
    """A file as a spreadsheet saves it, with a mark in front and CRLF, is read; rows count as shown there."""
    case = _copy(tmp_path, materials_csv="")
    (case / "materials.csv").write_bytes(
        b'\xef\xbb\xbfid,note,bulk_density [lb/ft^3]\r\nsalt,"two\r\nlines",80\r\n\r\nsand,,x\r\n')
    problems = [problem for problem in check_case(case)[1] if problem.places[0].file == "materials.csv"]
    assert [(problem.places[0].row, problem.value) for problem in problems] == [(4, "x")]


def test_tables_may_lie_elsewhere_and_climb(tmp_path: Path) -> None:
    """[tables] may name a file above the case folder; the inputs name it as the case reaches it."""
    case = _copy(tmp_path)
    (tmp_path / "shared").mkdir()
    shutil.move(case / "trucks.csv", tmp_path / "shared" / "fleet.csv")
    (case / "case.toml").write_text('[tables]\ntrucks = "../shared/fleet.csv"\n', encoding="utf-8")
    read = read_case(case)
    assert read.trucks[0].id == "ht" and read.name == "case"
    assert read.inputs[0][0] == "../shared/fleet.csv"


def test_optional_tables_may_be_absent(tmp_path: Path) -> None:
    """Ballast, travel, and spreaders with their materials may be left out."""
    case = _copy(tmp_path)
    for name in ("ballast.csv", "spreaders.csv", "materials.csv"):
        (case / name).unlink()
    read = read_case(case)
    assert (read.ballast, read.spreaders, read.materials, read.travel) == ((), (), (), ())


def test_travel_rows_may_lack_a_distance(tmp_path: Path) -> None:
    """A leg without a distance keeps its time and says that the distance is not known."""
    travel = "from,to,time [min],distance [mi]\nyard-depot,bank,5,\nbank,yard-depot,6,2\n"
    first, second = _read(tmp_path, travel_csv=travel).travel
    assert (first.origin, first.destination) == ("yard-depot", "bank")
    assert (first.time_min, first.distance_m) == (5, None)
    assert second.distance_m == pytest.approx(3218.688)




def test_keys_with_units_shares_and_words(tmp_path: Path) -> None:
    """Quantities are text with a unit, shares a number or a percentage, and money may begin with a dollar."""
    case = _read(tmp_path, case_toml="""
[case]
question = "Value"
[money]
budget = "$250,000"
burden = "30 %"
interest = 0.05
paid = "storm"
cleanup_round = false
fuel.gas = "4 USD/gal"
fuel.blend = "1 USD/L"
[crew]
drivers = 4
[solve]
time_limit = "90 s"
[assumptions]
plow_speed = "10 mph"
most_parcels = 6
""")
    money = case.money
    assert (case.question, money.budget_usd) == ("value", 250000)
    assert (money.paid, money.cleanup_round) == ("storm", False)
    assert (money.burden, money.interest) == pytest.approx((0.3, 0.05))
    assert money.fuel_price("gas") == pytest.approx(4 / 3.785411784)
    assert money.fuel_price("blend") == pytest.approx(1)
    assert (case.crew.drivers, case.solve.time_limit_s) == (4, pytest.approx(90))
    assert case.assumptions.plow_speed_m_per_min == pytest.approx(10 * 1609.344 / 60)
    assert case.assumptions.overridden == ("plow_speed", "most_parcels")


def test_a_case_in_si_units_takes_the_occupant_mass_of_its_rule(tmp_path: Path) -> None:
    """150 lb (49 CFR 567.4(g)(3)) in US cases, 75 kg (EU 1230/2012, Annex I) in SI cases."""
    assert read_case(SMALL).assumptions.occupant_mass_kg == pytest.approx(150 * 0.45359237)
    assert _read(tmp_path, case_toml='[case]\nunits = "si"\n').assumptions.occupant_mass_kg == 75


def test_an_override_outside_its_published_range_is_a_warning(tmp_path: Path) -> None:
    """A plowing speed of 20 mph is used, and a warning names the published 4 to 14 mph."""
    case, problems = check_case(_copy(tmp_path, case_toml='[assumptions]\nplow_speed = "20 mph"\n'))
    assert case is not None and case.assumptions.plow_speed_m_per_min == pytest.approx(20 * 26.8224)
    assert [(p.severity, p.value) for p in problems] == [("warning", "20 mph")]
    assert "4 mph to 14 mph" in str(problems[0].expected)


def test_the_same_truck_in_kilograms_and_meters_is_the_same_record(tmp_path: Path) -> None:
    """A table typed in SI units gives the record that the same table in US units gives."""
    row = "x,7050,3900,4150,2850,2100,140,1,16,0.12"
    us = _truck(tmp_path / "us", row, ",city [mi/gal],work_fuel [gal/h]")
    masses = ",".join(repr(pounds * 0.45359237) for pounds in (7050, 3900, 4150, 2850, 2100))
    heading = (TRUCK + ",city [L/100km],work_fuel [L/h]").replace("[lb]", "[kg]").replace("[in]", "[m]")
    # 100 km at 16 mi/gal: 100000/1609.344/16 gallons of 3.785411784 L
    litres = 100000 / 1609.344 / 16 * 3.785411784
    row = f"x,{masses},3.556,1,{litres!r},{0.12 * 3.785411784!r}"
    si = _read(tmp_path / "si", trucks_csv=f"{heading}\n{row}\n")
    for field in fields(us.trucks[0]):
        ours, theirs = getattr(us.trucks[0], field.name), getattr(si.trucks[0], field.name)
        assert theirs == (pytest.approx(ours, rel=1e-12) if isinstance(ours, float) else ours), field.name
