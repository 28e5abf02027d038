"""What would help a work that no build can do, in words: the changes that the engine found to suffice."""

from math import ceil

from optibuild.records import Case, OutOfReach, Remedy, Site
from optibuild.report.console import number
from optibuild.report.tables import Units

TOOLS = {"plow": "plow", "deice": "spreader", "both": "plow and a spreader"}
NO_WAY = ("No way leads from a depot there and back: look at the rows of the travel table with "
          "passable = no, or add a depot.")
NO_PUSH = ("Blades clear nothing (no wider than assumptions.overlap), or driven wheels slip: look at "
           "assumptions.mu_snow, rolling and sliding, at all-wheel drive, and at ballast over driven wheels.")
NOTHING = ("No single change of the site (snow to the side, more parcels, longer times, wider access), of "
           "the fill or of the blade is enough: change several, or add a depot nearer by.")


def remedies(case: Case, row: OutOfReach) -> tuple[str, ...]:
    """A sentence for each change that alone brings the work within reach; else what to look at."""
    if row.reason == "no way":
        return (NO_WAY,)
    if row.reason == "no plow can push the snow":
        return (NO_PUSH,)
    if row.nearest is None:
        return (f"Add a build that fits with a {TOOLS[row.work]}: `optibuild fit CASE --rejected` tells what "
                "stands in the way.",)
    site = next(one for one in case.sites if one.id == row.site)
    return tuple(_words(case, site, row, remedy) for remedy in row.remedies) or (NOTHING,)


def _words(case: Case, site: Site, row: OutOfReach, remedy: Remedy) -> str:
    if remedy.value is None:
        return "Let the snow go to the side (snow_goes = side)."
    least = _at_least(case, remedy.value, remedy.unit)
    if remedy.change == "parcels":
        now = site.parcels or case.assumptions.most_parcels
        return f"Let more trucks share the site: parcels = {least} (so far at most {number(now, 0)})."
    if remedy.change == "cycle limit":
        return _cycle_limit(site, row.work, remedy.value)
    if remedy.change == "end round":
        return f"Let the last round take {least} (end_within, now {_minutes(site.end_within_min)})."
    if remedy.change == "deadline":
        return f"Move the deadline to {least} after the start (now {_minutes(site.deadline_min)})."
    if remedy.change == "fill":
        return f"Add a build like those there are, but with {least} more rated fill."
    if remedy.change == "blade width":
        return (f"Put a blade {least} wide on {row.nearest}: that would do at the weight of the present one, "
                "but it is heavier, and the build must fit again.")
    return f"Allow {least} at the site (most_{remedy.change.replace(' ', '_')})."


def _cycle_limit(site: Site, work: str, least_min: float) -> str:
    limits = {"plow_every": site.plow_every_min if work != "deice" else None,
              "deice_every": site.deice_every_min if work != "plow" and site.deiced_each else None}
    short = {name: limit for name, limit in limits.items() if limit is not None and limit < least_min}
    return (f"Agree on a cycle limit of {_minutes(least_min)} ({' and '.join(short)}, "
            f"now {_minutes(min(short.values()))}).")


def _minutes(value: float) -> str:
    return f"{number(value, 0)} min"


def _at_least(case: Case, value: float, unit: str) -> str:
    """A figure in the units of the case, rounded up: less would not do."""
    figure, shown_as = Units(case.units).any(value, unit)
    decimals = {"in": 1, "m": 3}.get(shown_as, 0)
    up = ceil(figure * 10**decimals - 1e-6) / 10**decimals
    return number(up, decimals) if unit == "parcels" else f"{number(up, decimals)} {shown_as}"
