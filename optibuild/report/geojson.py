"""A plan on a map: depots, sites and loops as GeoJSON (RFC 7946), which map programs read."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from optibuild.records import Case, Depot, Plan, PlannedSite, PlannedTruck, Site
from optibuild.report.plan_tables import Round, rounds

STRAIGHT = "straight lines from stop to stop, not the roads driven"

Position = list[float]
"""Longitude and latitude [deg, WGS 84], in this order (RFC 7946, section 3.1.1)."""


def plan_geojson(plan: Plan, case: Case) -> str:
    """Depots and sites as points, each kind of round of each truck as a line in its order, as GeoJSON text.

    Properties are in the units of plan.json: m, min, kg, USD. A loop across the 180th meridian is not cut
    in two, as section 3.1.9 recommends.
    """
    places: tuple[Depot | Site, ...] = (*case.depots, *case.sites)
    at = {row.id: [row.lon_deg, row.lat_deg] for row in places}
    planned = {row.id: row for row in plan.sites}
    features = [*(_depot(row, plan, at) for row in case.depots),
                *(_site(row, planned.get(row.id), plan, at) for row in case.sites),
                *(_loop(truck, told, at) for truck in plan.trucks for told in rounds(truck.loop))]
    collection = {"type": "FeatureCollection", "bbox": _bbox([*at.values()]), "features": features}
    return json.dumps(collection, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _bbox(positions: Sequence[Position]) -> list[float]:
    """West, south, east, north (section 5)."""
    west_south, east_north = ([pick(axis) for axis in zip(*positions, strict=True)] for pick in (min, max))
    return [*west_south, *east_north]


def _feature(ident: str, shape: str, coordinates: object, properties: Mapping[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "id": ident, "geometry": {"type": shape, "coordinates": coordinates},
            "properties": properties}


def _depot(row: Depot, plan: Plan, at: Mapping[str, Position]) -> dict[str, Any]:
    trucks = [truck.truck_no for truck in plan.trucks if truck.depot == row.id]
    return _feature(f"depot {row.id}", "Point", at[row.id],
                    {"kind": "depot", "depot": row.id, "trucks": trucks})


def _site(row: Site, planned: PlannedSite | None, plan: Plan, at: Mapping[str, Position]) -> dict[str, Any]:
    """A site; where no plan exists, with the works that are out of reach."""
    told: dict[str, Any] = {"kind": "site", "site": row.id, "name": row.name, "work": row.work}
    if planned is not None:
        told |= {key: value for key, value in asdict(planned).items() if key != "id"}
    if plan.shortfall is not None:
        told["out_of_reach"] = [away.work for away in plan.shortfall.unreachable if away.site == row.id]
    return _feature(f"site {row.id}", "Point", at[row.id], told)


def _loop(truck: PlannedTruck, told: Round, at: Mapping[str, Position]) -> dict[str, Any]:
    """A round from the depot to its stops in order, by the depot where the truck reloads, and back."""
    kind, visits, limit_min, takes = told
    places = [truck.depot]
    for site, reloads in visits:
        places += [truck.depot, site] if reloads else [site]
    places.append(truck.depot)
    return _feature(f"truck {truck.truck_no}, {kind} round", "LineString", [at[place] for place in places], {
        "kind": "loop", "truck_no": truck.truck_no, "round": kind, "build": truck.build, "depot": truck.depot,
        "sites": [site for site, _ in visits], "places": places, "lines": STRAIGHT, "limit_min": limit_min,
        "duration_min": takes.duration_min, "drive_min": takes.drive_min, "distance_m": takes.distance_m,
        "reloads": takes.reloads})
