"""How often loops go round and sites are plowed in the events of a season."""

import numpy as np

from optibuild.cost.pay import pay_factors
from optibuild.records.build import Floats
from optibuild.records.case import Case, Event
from optibuild.records.loop import SeasonRounds

NOISE = 1e-9


def _turns(duration_min: float, clocks_min: Floats) -> Floats:
    """Rounds that fit in an event's duration, one at least [K]."""
    return np.maximum(np.ceil(duration_min / clocks_min - NOISE), 1.0)


def fillings(snowfall_m: float, trigger_m: Floats) -> Floats:
    """How often the snow of an event reaches each trigger, at least 1 [N]; no limit where the trigger is 0.
    The arguments broadcast."""
    with np.errstate(divide="ignore", invalid="ignore"):
        times = np.floor(snowfall_m / np.asarray(trigger_m) + NOISE)
    return np.where(np.asarray(trigger_m) > 0, np.maximum(times, 1.0), np.inf)


def push_count(
    duration_min: float, snowfall_m: float, trigger_m: Floats, clocks_min: Floats, cleanup: bool
) -> Floats:
    """Plow rounds of an event by trigger and clock [K, N]: as many as the snow fills and the hours hold.

    One clean-up more where asked; none where the snow stays below the trigger.
    """
    during = np.minimum(_turns(duration_min, clocks_min)[:, None], fillings(snowfall_m, trigger_m))
    reached = snowfall_m >= np.asarray(trigger_m) * (1 - NOISE)
    return np.where(reached, during + cleanup, 0.0)


def _pushes(case: Case, event: Event, clocks_min: Floats) -> Floats:
    triggers = np.array([site.trigger_m for site in case.sites])
    plowed = np.array([site.plowed for site in case.sites], dtype=bool)
    count = push_count(event.duration_min, event.snowfall_m, triggers, clocks_min, case.money.cleanup_round)
    return np.where(plowed, count, 0.0)


def _rounds(case: Case, event: Event, clocks_min: Floats, pushes: Floats) -> Floats:
    """Rounds of a loop in an event [K]: by the least trigger of the case; 0 where there is nothing to do, and
    1 where there is only what waits for the last round."""
    plowed = bool((pushes > 0).any())
    if not plowed and not any(site.deiced_each for site in case.sites):
        return np.full(len(clocks_min), float(any(site.deiced_at_end for site in case.sites)))
    least = np.array(min(site.trigger_m for site in case.sites))
    during = np.minimum(_turns(event.duration_min, clocks_min), fillings(event.snowfall_m, least))
    return during + (1.0 if case.money.cleanup_round and plowed else 0.0)


def season_rounds(case: Case, clocks_min: Floats) -> SeasonRounds:
    """Rounds, pushes and the depth of a push in one event of each class, for loops of these clocks [K].

    The depth of a push is the event's snow shared among its pushes, at least the least plowable depth.
    """
    pushes = np.array([_pushes(case, event, clocks_min) for event in case.season])
    rounds = [_rounds(case, event, clocks_min, pushes[n]) for n, event in enumerate(case.season)]
    snow = np.array([event.snowfall_m for event in case.season])[:, None, None]
    depth = np.maximum(snow / np.maximum(pushes, 1.0), case.assumptions.least_depth_m)
    count = np.array([event.count for event in case.season])
    return SeasonRounds(count, np.array(rounds), pushes, depth, pay_factors(case))
