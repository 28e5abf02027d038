"""Fit by plain scalar arithmetic: one corner, one rating, one ballast count at a time."""

from optibuild.records import Ballast, Case, Plow, Spreader, Truck


class Oracle:
    """One truck with one plow or none, one spreader or none, and one ballast kit or none."""

    def __init__(
        self, case: Case, truck: Truck, plow: Plow | None, spreader: Spreader | None, kit: Ballast | None
    ) -> None:
        self.case, self.truck, self.plow, self.spreader, self.kit = case, truck, plow, spreader, kit

    def loads(self, raised: bool, persons: int, units: int, fill: float) -> tuple[float, float]:
        """Front and rear axle load in one corner, mass by mass."""
        truck, masses = self.truck, []
        bed_end = truck.wheelbase_m + truck.rear_axle_to_bed_end_m
        masses.append((persons * self.case.assumptions.occupant_mass_kg, truck.seat_m))
        if self.plow:
            masses.append((self.plow.mount_mass_kg, -truck.front_axle_to_bumper_m))
        if self.plow and raised:
            masses.append((self.plow.blade_mass_kg, -truck.front_axle_to_bumper_m - self.plow.center_ahead_m))
        if self.spreader:
            masses.append((self.spreader.empty_mass_kg, bed_end + self.spreader.center_m))
            masses.append((fill, bed_end + self.spreader.material_center_m))
        if self.kit:
            masses.append((units * self.kit.unit_mass_kg, bed_end + self.kit.center_m))
        rear = sum(mass * place / truck.wheelbase_m for mass, place in masses)
        front = sum(mass for mass, _ in masses) - rear
        return truck.curb_front_kg + front, truck.curb_rear_kg + rear

    def crews(self) -> list[tuple[str, int]]:
        """The crews to check, by name and number of persons."""
        full = self.case.crew.occupants
        return [("driver", min(full, 1))] + ([("full", full)] if full > 1 else [])

    def broken(self, units: int, fill: float, full: bool) -> set[tuple[str, str, str]]:
        """Every (state, crew, rating) that breaks with this ballast and fill, in the empty or full states."""
        found = set()
        for raised in [True, False] if self.plow else [False]:
            for crew, persons in self.crews():
                front, rear = self.loads(raised, persons, units, fill if full else 0.0)
                first = not full and crew == "driver" and (raised or not self.plow)
                state = f"{'raised' if raised else 'off'} {'full' if full else 'empty'}"
                found |= {(state, crew, rating) for rating in self._over(front, rear, first)}
        return found

    def _over(self, front: float, rear: float, rear_share_asked: bool) -> list[str]:
        truck, limits, gross = self.truck, self.case.fit, front + rear
        reserve, near = limits.axle_reserve_kg, 1e-9 * truck.gvwr_kg
        base = truck.curb_front_kg + truck.curb_rear_kg if limits.front_share_of == "curb" else gross
        checks = [
            ("front GAWR", front - (truck.gawr_front_kg - reserve)),
            ("rear GAWR", rear - (truck.gawr_rear_kg - reserve)),
            ("GVWR", gross - (truck.gvwr_kg - reserve)),
            ("front tire capacity", front - truck.tire_capacity_front_kg),
            ("rear tire capacity", rear - truck.tire_capacity_rear_kg),
            ("min front share", limits.min_front_share * gross - front),
        ]
        if limits.max_front_share is not None:
            checks.append(("max front share", front - limits.max_front_share * base))
        if limits.min_rear_share is not None and rear_share_asked:
            checks.append(("min rear share", limits.min_rear_share * gross - rear))
        return [name for name, over in checks if over > near]

    def largest_fill(self, units: int) -> float | None:
        """Largest fill at this count by halving, to a milligram; None where the empty truck fails."""
        if self.broken(units, 0.0, False):
            return None
        held = 0.0
        if self.spreader:
            held = self.spreader.volume_m3 * self.case.material(self.spreader).bulk_density_kg_per_m3
        if not self.spreader or not self.broken(units, held, True):
            return held
        low, high = 0.0, held
        while high - low > 1e-6:
            middle = (low + high) / 2
            low, high = (low, middle) if self.broken(units, middle, True) else (middle, high)
        return low

    def best(self) -> tuple[int, float] | None:
        """Fewest units that reach the largest fill over all counts, None where no count passes."""
        counts = range((self.kit.most_units if self.kit else 0) + 1)
        fills = {n: fill for n in counts if (fill := self.largest_fill(n)) is not None}
        if not fills:
            return None
        largest = max(fills.values())
        units = min(n for n, fill in fills.items() if fill >= largest - 1e-5)
        return units, fills[units]
