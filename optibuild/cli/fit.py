"""optibuild fit"""

from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, known, open_case, say_json
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.records import Builds, Case

BARE = "-"


@click.command(short_help="Axle loads of every build, what fits, what binds.")
@case_argument
@json_option
@click.option("--rejected", is_flag=True, help="Only the builds that do not fit, with their first reason.")
@click.option("--near-rating", is_flag=True, help="Only builds that turn within catalog uncertainty.")
@click.option("--truck", metavar="ID", help="Only builds with this truck.")
@click.option("--plow", metavar="ID", help="Only builds with this plow; - for none.")
@click.option("--spreader", metavar="ID", help="Only builds with this spreader; - for none.")
@click.option("--explain", metavar="BUILD", help="One build in full: TRUCK+PLOW+SPREADER, - for none.")
def fit(case: str, as_json: bool, rejected: bool, near_rating: bool, truck: str | None, plow: str | None,
        spreader: str | None, explain: str | None) -> None:
    """Axle loads of every truck with every plow and spreader against every rating.

    Ballast and rated fill are solved together; what is rejected keeps its reasons, and --explain tells what
    would make it fit.

    Example: optibuild fit my-case --rejected
    """
    from optibuild.pipeline import build_details, fit_builds, fit_cautions, verdicts
    from optibuild.report import build_sheet, fit_document, fit_text

    read = open_case(case)
    builds = fit_builds(read)
    chosen = _chosen(read, builds, truck, plow, spreader)
    if explain is not None:
        known("build", explain, builds.names)
        chosen = [b for b in chosen if builds.names[b] == explain]
    if rejected:
        chosen = [b for b in chosen if not builds.fits[b]]
    whole = rejected or as_json or near_rating or explain is not None
    near = _near(read, builds, [b for b in chosen if whole or builds.fits[b]])
    if near_rating:
        chosen = [b for b in chosen if b in near]
    shown = [b for b in chosen if whole or builds.fits[b]]
    details = {b: build_details(read, builds, b) for b in shown} if explain is not None else {}
    if as_json:
        say_json(fit_document(read, builds, shown, verdicts(read, builds, shown), near, details))
    elif explain is not None:
        say("\n\n".join(build_sheet(read, builds, b, details[b]) for b in shown))
    else:
        say(fit_text(read, builds, chosen, rejected, verdicts(read, builds, shown), near,
                     fit_cautions(read, builds, shown)))


def _near(case: "Case", builds: "Builds", rows: list[int]) -> set[int]:
    """Which of these builds are near a rating."""
    from optibuild.pipeline import near_rating

    return {b for b, near in zip(rows, near_rating(case, builds, rows).tolist(), strict=True) if near}


def _chosen(case: "Case", builds: "Builds", truck: str | None, plow: str | None,
            spreader: str | None) -> list[int]:
    """The builds that hold what was asked for."""
    kept = list(range(len(builds)))
    for kind, asked, rows, index in (("truck", truck, case.trucks, builds.truck),
                                     ("plow", plow, case.plows, builds.plow),
                                     ("spreader", spreader, case.spreaders, builds.spreader)):
        if asked is not None:
            ids = [row.id for row in rows]
            wanted = -1 if asked == BARE else ids.index(known(kind, asked, ids))
            kept = [b for b in kept if index[b] == wanted]
    return kept
