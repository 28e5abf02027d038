"""optibuild why"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import json_option, known, say_json
from optibuild.cli.plan_file import case_option, rechecked_plan
from optibuild.cli.progress import watched
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.records import Case, Plan


@click.command(short_help="Why this plan: what binds, who is next best, which price would change it.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@click.option("--confirm", metavar="ITEM", multiple=True,
              help="Solve again with the price of this unused item below its entry price. May be repeated.")
@click.option("--site", "sites", metavar="ID", multiple=True,
              help="Solve again with longer cycle limits for this site, until a plan costs less. May be "
                   "repeated.")
@json_option
def why(plan_dir: Path, case_path: str | None, confirm: tuple[str, ...], sites: tuple[str, ...],
        as_json: bool) -> None:
    """Tell why the written plan in PLAN_DIR is as it is: what binds each loop, the next best truck of each
    site, and the price from which on an item left out would enter.

    Example: optibuild why bid-plan
    """
    from optibuild.explain import why as reasons
    from optibuild.report import why_document, why_text

    plan, case = rechecked_plan(plan_dir, case_path, as_json)
    for item in confirm:
        known("item that the plan does not use", item, _unused(case, plan))
    for site in sites:
        known("site", site, [row.id for row in case.sites])
    with watched(case) as progress:
        found = reasons(case, plan, confirm, sites, progress)
    if as_json:
        say_json(why_document(found))
    else:
        say(why_text(found, case))


def _unused(case: "Case", plan: "Plan") -> list[str]:
    used = {row.id for row in plan.items}
    return [item.id for item in case.items if item.id not in used]
