"""The stops of a plan as the map and its table tell them."""

from dataclasses import dataclass

from optibuild.records import Plan, PlannedStop, PlannedTruck
from optibuild.report.console import number
from optibuild.report.plan_tables import rounds


@dataclass(frozen=True)
class Visit:
    """One stop of one truck; `place` is its number in the loop, `of` the parcels of its site."""

    truck: PlannedTruck
    place: int
    stop: PlannedStop
    of: int

    @property
    def label(self) -> str:
        """Truck and stop, as the map marks it."""
        return f"{self.truck.truck_no}.{self.place}"

    @property
    def parcels(self) -> str:
        """How many parcels of how many."""
        return f"{self.stop.parcels} of {self.of} parcel{'s' if self.of > 1 else ''}"

    @property
    def minutes(self) -> str:
        """When the truck is there, in every round and in the last one, and by when it must have been."""
        stop, told = self.stop, []
        if stop.arrive_min is not None and stop.leave_min is not None:
            told.append(f"from {number(stop.arrive_min, 1)} to {number(stop.leave_min, 1)} min")
        if stop.end_arrive_min is not None and stop.end_leave_min is not None:
            told.append(f"in the last round from {number(stop.end_arrive_min, 1)} to "
                        f"{number(stop.end_leave_min, 1)} min")
        if stop.deadline_min is not None:
            told.append(f"deadline {number(stop.deadline_min, 0)} min")
        return ", ".join(told)


def visits(plan: Plan) -> list[Visit]:
    """Every stop of every truck, in the order of the loops."""
    parcels = {site.id: site.parcels for site in plan.sites}
    return [Visit(truck, place, stop, parcels[stop.site]) for truck in plan.trucks
            for place, stop in enumerate(truck.loop.stops, 1)]


def route(truck: PlannedTruck) -> list[str]:
    """The places of a loop in order, those of its last round where it has one: the depot comes first, last,
    and where it reloads."""
    found = [truck.depot]
    for site, reload in rounds(truck.loop)[-1][1]:
        found += [truck.depot, site] if reload else [site]
    return [*found, truck.depot]
