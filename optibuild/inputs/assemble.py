"""Values that passed every check to the records of a case."""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from math import inf, sqrt
from typing import Any, TypeVar

from optibuild.assumptions import ASSUMPTIONS
from optibuild.inputs.checking.checks import steer_angle
from optibuild.inputs.checking.winters import mean_counts
from optibuild.inputs.declared.columns import count_column
from optibuild.inputs.declared.keys import KEYS
from optibuild.inputs.reading.case_file import Settings
from optibuild.inputs.reading.tables import Table
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
    Plow,
    Site,
    SolveSettings,
    Spreader,
    Storm,
    Timing,
    Truck,
    Winter,
)
from optibuild.records.catalog import first_end_year

_Section = TypeVar("_Section", Storm, Crew, FitLimits, SolveSettings, BidSettings)


def assemble(tables: Mapping[str, Table], settings: Settings, name: str, given_as: str,
             inputs: tuple[tuple[str, str], ...]) -> Case:
    """The case, once nothing in it is wrong."""
    winters = _winters(tables["past_winters"], tables["season"].ids())
    only_material = (tables["materials"].ids() or [""])[0]
    season = _season(tables["season"], winters)
    storms_min = season_storms_min(season)
    return Case(
        name=settings.values["case.name"] or name, question=settings.values["case.question"],
        units=settings.values["case.units"], given_as=given_as,
        trucks=tuple(Truck(**_truck(row.values, storms_min)) for row in tables["trucks"].rows),
        plows=tuple(Plow(**_owning(row.values, storms_min)) for row in tables["plows"].rows),
        spreaders=tuple(Spreader(**_spreader(row.values, storms_min, only_material))
                        for row in tables["spreaders"].rows),
        ballast=tuple(Ballast(**_owning(row.values, storms_min)) for row in tables["ballast"].rows),
        materials=tuple(Material(**row.values) for row in tables["materials"].rows),
        depots=tuple(Depot(**row.values) for row in tables["depots"].rows),
        sites=tuple(Site(**_site(row.values)) for row in tables["sites"].rows),
        season=season,
        travel=tuple(Leg(**row.values) for row in tables["travel"].rows),
        mounts=tuple(Mount(**row.values) for row in tables["mounts"].rows),
        timings=tuple(Timing(**row.values) for row in tables["timings"].rows),
        past_winters=winters,
        contracts=tuple(Contract(**row.values) for row in tables["contracts"].rows),
        bid=_section(BidSettings, "bid", settings),
        storm=_section(Storm, "storm", settings), money=_money(settings),
        crew=_section(Crew, "crew", settings), fit=_section(FitLimits, "fit", settings),
        solve=_solve(settings), assumptions=_assumptions(settings), inputs=inputs,
    )


def season_storms_min(season: Sequence[Event]) -> float:
    """Hours of the storms of an expected season [min]."""
    return sum(event.count * event.duration_min for event in season)


def _owning(values: dict[str, Any], storms_min: float) -> dict[str, Any]:
    """Price, resale, life and worth of an owned item, each from the others where it is blank. Its worth stays
    None where the fall of its value tells it."""
    price = values["price_usd"] or 0.0
    kind, resale = values.get("resale_usd") or ("money", 0.0)
    owned_value, remaining = values.get("owned_value_usd"), values.get("remaining_life_year")
    if owned_value is None and values.get("value_falls") is None:
        owned_value = price / 2
    worked = values.get("worked_min_per_year") or storms_min
    life = first_end_year(values["life_year"], values.get("worked_life_min", inf), worked)
    return values | {
        "price_usd": price, "resale_usd": resale if kind == "money" else resale * price,
        "owned_value_usd": owned_value, "worked_min_per_year": worked,
        "remaining_life_year": life / 2 if remaining is None else remaining,
    }


def _truck(values: dict[str, Any], storms_min: float) -> dict[str, Any]:
    circle = values["turning_circle_m"]
    steer = None if circle is None else steer_angle(values["wheelbase_m"], circle, values["track_m"])
    return _owning(values, storms_min) | ({} if steer is None else {"steer_angle_rad": steer})


def _spreader(values: dict[str, Any], storms_min: float, only_material: str) -> dict[str, Any]:
    center = values["material_center_m"]
    return _owning(values, storms_min) | {"material": values["material"] or only_material,
                              "material_center_m": values["center_m"] if center is None else center}


def _site(values: dict[str, Any]) -> dict[str, Any]:
    every, length = values["deice_every_min"], values["pass_length_m"]
    if every is None and values["work"] != "plow":
        every = values["plow_every_min"]
    return values | {"deice_every_min": every, "pay_usd": values["pay_usd"] or 0.0,
                     "pass_length_m": sqrt(values["area_m2"]) if length is None else length}


def _winters(table: Table, events: list[str]) -> tuple[Winter, ...]:
    """The winters, their counts in the order of the season."""
    columns = [count_column(event).field for event in events]
    return tuple(Winter(row.values["id"], tuple(float(row.values[column]) for column in columns))
                 for row in table.rows)


def _season(table: Table, winters: tuple[Winter, ...]) -> tuple[Event, ...]:
    """The events; a blank count is the mean over past winters."""
    means = dict(zip(table.ids(), mean_counts(winters), strict=False))
    return tuple(Event(**row.values | {"count": means[row.values["id"]]}) if row.values["count"] is None
                 else Event(**row.values) for row in table.rows)


def _section_values(section: str, settings: Settings) -> dict[str, Any]:
    return {KEYS[key].field: value for key, value in settings.values.items() if key.startswith(f"{section}.")}


def _section(record: type[_Section], section: str, settings: Settings) -> _Section:
    return record(**_section_values(section, settings))


def _money(settings: Settings) -> Money:
    return Money(fuel_usd_per_l=tuple(settings.fuels.items()), **_section_values("money", settings))


def _solve(settings: Settings) -> SolveSettings:
    values = _section_values("solve", settings)
    return SolveSettings(**values | {"time_limit_s": 60.0 * values["time_limit_s"]})


def _assumptions(settings: Settings) -> Assumptions:
    names = {row.field: f"assumptions.{row.name}" for row in ASSUMPTIONS}
    overridden = tuple(row.name for row in ASSUMPTIONS if f"assumptions.{row.name}" in settings.given)
    figures = {field.name: settings.values[names[field.name]] for field in fields(Assumptions)
               if field.name in names}
    return Assumptions(**figures, overridden=overridden)
