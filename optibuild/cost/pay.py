"""What drivers are paid for an event: hours worked and stood by, shifts, overtime; and how many trucks drive.

In an event of duration T a truck has k = ceil(T/shift) drivers in turn. They are paid the minutes worked,
`standby` of T where none is, and k times the start minutes. Of a driver's D = T/k + start minutes on duty
those beyond the threshold cost the premium. Paid minutes are taken as spread evenly over D, so that each of
them costs the same factor of its event, and standby is counted as if rounds ended with the event: loops stay
sums of their parts. The forms of pay are common practice, no source. Axis: E event classes.
"""

from math import inf, isfinite

import numpy as np

from optibuild.records.build import Floats
from optibuild.records.case import Case, Money

NOISE = 1e-9


def wage_usd_per_min(money: Money) -> float:
    """Wage with its burden [USD/min]."""
    return money.wage_usd_per_min * (1 + money.burden)


def standby(money: Money) -> float:
    """Share of the wage paid for what is not worked of an event: all where whole storms are paid."""
    return 1.0 if money.paid == "storm" else money.standby


def drivers_in_turn(case: Case) -> Floats:
    """Drivers who take a truck in turn in an event of each class [E]: enough that no shift is too long.

    Source: operators for continuous cover = ceil(24/shift) times trucks (two shifts of 12 h as recommended by
    Utah DOT study UT-16.06, 2016).
    """
    duration = np.array([event.duration_min for event in case.season])
    return np.maximum(np.ceil(duration / case.crew.shift_min - NOISE), 1.0)


def drivers_a_truck(case: Case) -> int:
    """Drivers that every truck takes of those there are: as many as in the event that takes most."""
    count = np.array([event.count for event in case.season])
    return int(drivers_in_turn(case)[count > 0].max(initial=1.0))


def most_trucks(case: Case) -> float:
    """Trucks that can be out at the same time."""
    drivers = case.crew.drivers
    return float(drivers // drivers_a_truck(case)) if isfinite(drivers) else inf


def pay_factors(case: Case) -> Floats:
    """What a paid minute of each event class costs over the plain wage [E]: 1 + overtime·max(0, D - after)/D.

    D is what a driver is on duty: a share of the event, and getting ready.
    """
    duration = np.array([event.duration_min for event in case.season])
    on_duty = duration / drivers_in_turn(case) + case.crew.start_minutes_min
    late = np.maximum(on_duty - case.money.overtime_after_min, 0.0)
    return np.asarray(1.0 + case.money.overtime * late / on_duty)


def fixed_minutes(case: Case) -> Floats:
    """Minutes that a truck's drivers are paid in an event of each class whatever they work [E]: standby over
    all of it, and getting ready."""
    duration = np.array([event.duration_min for event in case.season])
    return standby(case.money) * duration + drivers_in_turn(case) * case.crew.start_minutes_min
