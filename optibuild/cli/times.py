"""optibuild times"""

from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, known, open_case, say_json
from optibuild.cli.streams import say
from optibuild.errors import UsageError

if TYPE_CHECKING:
    from optibuild.records import Case


@click.command(short_help="Service minutes at every site; what is out of reach.")
@case_argument
@json_option
@click.option("--site", "sites", metavar="ID", multiple=True,
              help="Only this site, with every build that reaches it. May be repeated.")
@click.option("--explain", nargs=2, metavar="SITE BUILD", help="How the minutes of one stop come about.")
@click.option("--depths", is_flag=True, help="How fast each plow works at 1 to 4 in of snow, at one site.")
@click.option("--parcels", is_flag=True, help="What twice as many parcels of each site would change.")
@click.option("--loop", metavar="BUILD", help="The best order in which one build serves the sites of --site.")
@click.option("--calibrate", is_flag=True,
              help="The model beside timings of your own, and the job efficiency that fits them.")
def times(case: str, as_json: bool, sites: tuple[str, ...], explain: tuple[str, str] | None, depths: bool,
          parcels: bool, loop: str | None, calibrate: bool) -> None:
    """Minutes that every fitting build needs at every site, and why a site is out of reach.

    Example: optibuild times my-case --calibrate
    """
    asked = [name for name, given in (("--explain", explain), ("--depths", depths), ("--parcels", parcels),
                                      ("--loop", loop), ("--calibrate", calibrate)) if given]
    if len(asked) > 1:
        raise UsageError(f"{' and '.join(asked)} cannot be asked at once")
    if sites and (explain or parcels or calibrate):
        raise UsageError(f"{asked[0]} takes no --site")
    if depths and len(sites) > 1:
        raise UsageError("--depths takes one --site at most")
    read = open_case(case)
    ids = [row.id for row in read.sites]
    for site in sites:
        known("site", site, ids)
    if explain is not None:
        _explain(read, *explain, as_json)
    elif loop is not None:
        _loop(read, loop, sites, as_json)
    elif depths:
        _depths(read, sites, as_json)
    elif parcels:
        _parcels(read, as_json)
    elif calibrate:
        _calibrate(read, as_json)
    else:
        _times(read, sites, as_json)


def _told(as_json: bool, document: Callable[[], object], text: Callable[[], str]) -> None:
    if as_json:
        say_json(document())
    else:
        say(text())


def _times(case: "Case", sites: tuple[str, ...], as_json: bool) -> None:
    from optibuild.pipeline import roundabouts, stages
    from optibuild.report import times_document, times_text

    made = stages(case)
    ways = roundabouts(case, made.times.travel)
    _told(as_json, lambda: times_document(case, made.builds, made.times, ways, sites),
          lambda: times_text(case, made.builds, made.times, ways, sites))


def _explain(case: "Case", site: str, build: str, as_json: bool) -> None:
    """The sheet of one stop of one parcel, at the longest cycle limit at which the build can do it."""
    from optibuild.pipeline import explain_stop, sheet_clock_min, stages
    from optibuild.report import stop_document, stop_sheet

    ids = [row.id for row in case.sites]
    n = ids.index(known("site", site, ids))
    made = stages(case)
    b = made.builds.names.index(known("build", build, made.builds.names))
    clock = sheet_clock_min(case, made.times, b, n)
    lines = explain_stop(case, made.builds, b, n, clock, int(made.times.parcels[n]))
    _told(as_json, lambda: stop_document(site, build, lines), lambda: stop_sheet(case, site, build, lines))


def _loop(case: "Case", build: str, sites: tuple[str, ...], as_json: bool) -> None:
    from optibuild.pipeline import loop_report, stages
    from optibuild.report import loop_document, loop_text

    if not sites:
        raise UsageError("--loop needs the sites of the loop: --site ID, once for each")
    made = stages(case)
    b = made.builds.names.index(known("build", build, made.builds.names))
    found = loop_report(case, made.builds, made.times, b, sites)
    _told(as_json, lambda: loop_document(case, made.builds, made.times, found),
          lambda: loop_text(case, made.builds, made.times, found))


def _depths(case: "Case", sites: tuple[str, ...], as_json: bool) -> None:
    from optibuild.pipeline import fit_builds, working_rates
    from optibuild.report import depths_document, depths_m, depths_text, middle_site

    n = [row.id for row in case.sites].index(sites[0]) if sites else middle_site(case)
    rates = working_rates(case, fit_builds(case), n, depths_m(case))
    _told(as_json, lambda: depths_document(case, n, rates), lambda: depths_text(case, n, rates))


def _parcels(case: "Case", as_json: bool) -> None:
    from optibuild.pipeline import parcel_report, stages
    from optibuild.report import parcels_document, parcels_text

    made = stages(case)
    rows = parcel_report(case, made.builds, made.times)
    _told(as_json, lambda: parcels_document(rows), lambda: parcels_text(case, rows))


def _calibrate(case: "Case", as_json: bool) -> None:
    from optibuild.pipeline import calibrate
    from optibuild.report import calibration_document, calibration_text

    found = calibrate(case)
    _told(as_json, lambda: calibration_document(found), lambda: calibration_text(case, found))
