"""optibuild frontier"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, open_case, say_json
from optibuild.cli.folder import Kind, check_writable, write_told
from optibuild.cli.plan import NO_PLAN, asked
from optibuild.cli.plan_file import case_files
from optibuild.cli.progress import watched
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.records import Case
    from optibuild.records.frontier import Frontier, FrontierKey


@click.command(short_help="Contract value against budget, drivers or snowfall rate, step by step.")
@case_argument
@click.option("--out", "folder", required=True, metavar="DIR", type=click.Path(path_type=Path),
              help="Folder to write the steps to, as JSON, CSV and workbook.")
@click.option("--key", type=click.Choice(["budget", "drivers", "rate"]), default="budget", show_default=True,
              help="What is changed: money.budget, crew.drivers or storm.snowfall_rate.")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, metavar="N",
              help="End after so many searches; what is not known then is told as a band.")
@click.option("--time-limit", metavar="TEXT",
              help="One search takes up to a quarter of this, as '2 min'; overrides solve.time_limit.")
@json_option
def frontier(case: str, folder: Path, key: "FrontierKey", most: int, time_limit: str | None,
             as_json: bool) -> None:
    """Tell how much contract value of CASE can be covered with more or less money, drivers or snow, and what
    each step up takes.

    Example: optibuild frontier my-case --key drivers --out my-frontier
    """
    from optibuild.report import frontier_files
    from optibuild.what_if import frontier as steps

    read = asked(open_case(case), None, time_limit)
    tables = (f"frontier_{key}.csv", f"frontier_{key}.xlsx")
    ours = Kind(tables, f"frontier_{key}.json", "optibuild-frontier/")
    check_writable(folder, case_files(read), ours)
    with watched(read) as progress:
        found = steps(read, key, most, progress)
    write_told(folder, frontier_files(found, read))
    _say(found, read, as_json)
    if not found.steps:
        click.get_current_context().exit(NO_PLAN)


def _say(found: "Frontier", case: "Case", as_json: bool) -> None:
    from optibuild.report import frontier_document, frontier_text

    if as_json:
        say_json(frontier_document(found))
    else:
        say(frontier_text(found, case))
