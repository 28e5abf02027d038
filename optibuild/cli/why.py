"""optibuild why"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import json_option, known, say_json
from optibuild.cli.folder import Kind, check_writable, write_told
from optibuild.cli.plan_file import case_files, case_option, rechecked_plan
from optibuild.cli.progress import watched
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.records import Case, Plan

OURS = Kind(("why_loops.csv", "why_next.csv", "why_items.csv", "why_confirmed.csv", "why_limits.csv",
             "why.xlsx"), "why.json", "optibuild-why/")


@click.command(short_help="Why this plan: what binds, who is next best, which price would change it.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@click.option("--confirm", metavar="ITEM", multiple=True,
              help="Solve again with lower prices of this unused item, until a plan uses it. May be "
                   "repeated.")
@click.option("--site", "sites", metavar="ID", multiple=True,
              help="Solve again with longer cycle limits for this site, until a plan is better. May be "
                   "repeated.")
@json_option
@click.option("--out", "folder", metavar="DIR", type=click.Path(path_type=Path),
              help="Folder for the reasons as JSON, CSV and workbook; PLAN_DIR will do.")
def why(plan_dir: Path, case_path: str | None, confirm: tuple[str, ...], sites: tuple[str, ...],
        as_json: bool, folder: Path | None) -> None:
    """Tell why the written plan in PLAN_DIR is as it is: what binds each loop, the next best truck of each
    site, and the price from which on an item left out would enter.

    Example: optibuild why my-plan
    """
    from optibuild.explain import why as reasons
    from optibuild.report import why_document, why_files, why_text

    plan, case = rechecked_plan(plan_dir, case_path)
    for item in confirm:
        known("unused item", item, _unused(case, plan))
    for site in sites:
        known("site", site, [row.id for row in case.sites])
    if folder is not None:
        check_writable(folder, case_files(case), OURS)
    with watched(case) as progress:
        found = reasons(case, plan, confirm, sites, progress)
    if folder is not None:
        write_told(folder, why_files(found, case.units))
    if as_json:
        say_json(why_document(found))
    else:
        say(why_text(found, case))


def _unused(case: "Case", plan: "Plan") -> list[str]:
    used = {row.id for row in plan.items}
    return [item.id for item in case.items if item.id not in used]
