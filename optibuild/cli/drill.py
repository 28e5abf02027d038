"""optibuild drill"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import json_option, say_json
from optibuild.cli.folder import Kind, check_writable, write_told
from optibuild.cli.plan_file import case_files, case_option, rechecked_plan
from optibuild.cli.progress import watched
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from optibuild.records import Case
    from optibuild.records.drill import Drill

OURS = Kind(("drill_trucks.csv", "drill_late.csv", "drill_spares.csv", "drill_withstands.csv",
             "drill_broken.csv", "drill.xlsx"), "drill.json", "optibuild-drill/")


@click.command(short_help="Each truck lost in turn, spares, and what the plan withstands.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@click.option("--spares", is_flag=True, help="Tell what spare trucks add to the price of the bid.")
@json_option
@click.option("--out", "folder", metavar="DIR", type=click.Path(path_type=Path),
              help="Folder for the drill as JSON, CSV and workbook; PLAN_DIR will do.")
def drill(plan_dir: Path, case_path: str | None, spares: bool, as_json: bool, folder: Path | None) -> None:
    """Lose each truck of the plan in PLAN_DIR in turn: which sites come late, which spare helps most; and how
    much more snow, slower roads and weight the plan withstands.

    Example: optibuild drill my-plan --spares
    """
    from optibuild import explain
    from optibuild.report import drill_files

    plan, case = rechecked_plan(plan_dir, case_path)
    if folder is not None:
        check_writable(folder, case_files(case), OURS)
    with watched(case) as progress:
        found = explain.drill(case, plan, progress)
    if folder is not None:
        write_told(folder, drill_files(found, case.units))
    _say(found, case, spares, as_json)


def _say(found: "Drill", case: "Case", spares: bool, as_json: bool) -> None:
    from optibuild.report import drill_document, drill_text

    if as_json:
        say_json(drill_document(found))
    else:
        say(drill_text(found, case, spares))
