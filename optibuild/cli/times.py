"""optibuild times"""

from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, known, open_case, say_json
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.pipeline import Stages


@click.command(short_help="Service minutes at every site; what is out of reach.")
@case_argument
@json_option
@click.option("--site", metavar="ID", help="Only this site, with every build that reaches it.")
@click.option("--explain", nargs=2, metavar="SITE BUILD", help="How the minutes of one stop come about.")
def times(case: str, as_json: bool, site: str | None, explain: tuple[str, str] | None) -> None:
    """Minutes that every fitting build needs at every site, and why a site is out of reach.

    Example: optibuild times examples/contract-bid --site clinic-east
    """
    from optibuild.pipeline import stages
    from optibuild.report import times_document, times_text

    read = open_case(case, as_json)
    if site is not None:
        known("site", site, (row.id for row in read.sites))
    made = stages(read)
    if explain is not None:
        _explain(made, *explain, as_json)
    elif as_json:
        say_json(times_document(read, made.builds, made.times, site))
    else:
        say(times_text(read, made.builds, made.times, site))


def _explain(made: "Stages", site: str, build: str, as_json: bool) -> None:
    """The sheet of one stop of one parcel, at the site's own cycle limit."""
    from optibuild.pipeline import explain_stop
    from optibuild.report import stop_sheet

    case = made.case
    ids = [row.id for row in case.sites]
    n = ids.index(known("site", site, ids))
    b = made.builds.names.index(known("build", build, made.builds.names))
    lines = explain_stop(case, made.builds, b, n, case.sites[n].cycle_limit_min, int(made.times.parcels[n]))
    if as_json:
        rows = [{"figure": label, "value": value, "dimension": kind} for label, value, kind in lines]
        say_json({"site": site, "build": build, "lines": rows})
    else:
        say(stop_sheet(case, site, build, lines))
