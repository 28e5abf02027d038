"""Words for the verdicts: what binds a build that fits, and everything a rejected one breaks."""

from collections.abc import Sequence

import numpy as np

from optibuild.fit.mounting import RULES, Rule
from optibuild.fit.ratings import MIN_FRONT_SHARE, RATINGS, shares_asked
from optibuild.records import CREWS, LOAD_STATES, Case, Reason
from optibuild.records.build import Bools, Floats, Ints

_BIND_WORDS = np.array([f"{rating}, {state}" for state in LOAD_STATES for _ in CREWS for rating in RATINGS])


def least_margins(over_kg: Floats, scale_kg: Floats) -> tuple[str, ...]:
    """Rating and state with the least margin relative to its rating, e.g. 'rear GAWR, off full'.

    over_kg [E, 4, 2, R] with nan where a build has no such corner; scale_kg [E, R]. Where a rating limits the
    fill its margin is zero, so it is the one named.
    """
    relative = (over_kg / scale_kg[:, None, None, :]).reshape(len(over_kg), len(_BIND_WORDS))
    worst = np.argmax(np.where(np.isnan(relative), -np.inf, relative), axis=1)
    return tuple(_BIND_WORDS[worst].tolist())


def first_words(reasons: tuple[Reason, ...]) -> str:
    """The first reason in the form of what binds."""
    first = reasons[0]
    return f"{first.rating}, {first.state}" if first.state else first.rating


def mounting_reasons(rules: Sequence[Rule]) -> list[list[Reason]]:
    """For each combination, the mounting rules it breaks, in the order of RULES."""
    result: list[list[Reason]] = [[] for _ in rules[0].broken]
    for (name, unit), rule in zip(RULES, rules, strict=True):
        for row in np.flatnonzero(rule.broken).tolist():
            load, limit = float(rule.found[row]), float(rule.limit[row])
            result[row].append(Reason("", "", name, load, limit, abs(load - limit), unit))
    return result


def rating_reasons(case: Case, curb_kg: Floats, loads_kg: Floats, limits: Floats,
                   broken: Bools) -> list[list[Reason]]:
    """For each entry, the ratings it breaks, in order of state, crew and rating.

    `curb_kg` is [E], `loads_kg` [E, 4, 2, 2], `limits` [E, R] and `broken` [E, 4, 2, R]. Shares are told as
    shares of their base, the others in kg.
    """
    result: list[list[Reason]] = [[] for _ in loads_kg]
    entry, state, crew, rating = np.nonzero(broken)
    load = _loads_shown(case, curb_kg[entry], loads_kg[entry, state, crew], rating)
    limit = _limits_shown(case, limits[entry, rating], rating)
    columns = (column.tolist() for column in (entry, state, crew, rating, load, limit))
    for row, s, c, r, found, allowed in zip(*columns, strict=True):
        unit, over = "share" if r >= MIN_FRONT_SHARE else "kg", abs(found - allowed)
        result[row].append(Reason(LOAD_STATES[s], CREWS[c], RATINGS[r], found, allowed, over, unit))
    return result


def fill_reason(fill_kg: float, least_kg: float) -> Reason:
    """A fill too small to be worth mounting the spreader."""
    return Reason("", "", "least useful fill", fill_kg, least_kg, least_kg - fill_kg, "kg")


def _loads_shown(case: Case, curb_kg: Floats, loads_kg: Floats, rating: Ints) -> Floats:
    front, rear = loads_kg[:, 0], loads_kg[:, 1]
    gross = front + rear
    base = curb_kg if case.fit.front_share_of == "curb" else gross
    shown = np.stack([front, rear, gross, front, rear, front / gross, front / base, rear / gross])
    return np.asarray(shown[rating, np.arange(len(rating))], dtype=np.float64)


def _limits_shown(case: Case, limits: Floats, rating: Ints) -> Floats:
    return np.where(rating >= MIN_FRONT_SHARE, shares_asked(case.fit)[rating], limits)
