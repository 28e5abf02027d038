"""What would help a site that no build can serve."""

from optibuild.records import Case
from optibuild.report.console import number
from optibuild.report.reach import limit_min
from optibuild.report.tables import Units

COLUMNS = {"access: gross": "most_gross", "access: width": "most_width",
           "access: turning circle": "most_turning_circle"}

TOOLS = {"plow": "plow", "deice": "spreader", "both": "plow and a spreader"}


def remedies(case: Case, site_id: str, work: str, reason: str, over_by: float | None) -> tuple[str, ...]:
    """Changes that would bring the work within reach, the plainest first. `over_by` is in min, kg or m."""
    site = next(row for row in case.sites if row.id == site_id)
    if over_by is None:
        return (f"Add a build that fits with a {TOOLS[work]}: `optibuild fit CASE --rejected` tells what "
                "stands in the way.",)
    if reason == "fill":
        mass, unit = Units(case.units).any(over_by, "kg")
        return (_more_parcels(case), f"Add a build whose rated fill is {number(mass, 0)} {unit} larger.")
    if reason in COLUMNS:
        return (f"Add a smaller build, or raise {COLUMNS[reason]} if the site allows it.",)
    late = f"{number(over_by, 1)} min"
    if reason == "deadline":
        return (f"Move the deadline by at least {late}.", "Add a faster build.", "Add a depot nearer by.")
    limit = number(limit_min(site, work), 0)
    return (f"Agree on a cycle limit longer than {limit} min: the nearest build is {late} late.",
            _more_parcels(case), "Add a faster build, or a depot nearer by.")


def _more_parcels(case: Case) -> str:
    return ("Let more trucks share the site: raise its parcels, or assumptions.most_parcels "
            f"(now {case.assumptions.most_parcels}).")

