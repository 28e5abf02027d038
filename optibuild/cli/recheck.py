"""optibuild recheck"""

from dataclasses import asdict
from pathlib import Path

import click

from optibuild.cli.cases import json_option, say_json
from optibuild.cli.plan_file import case_of, case_option, read_plan
from optibuild.cli.streams import say
from optibuild.errors import RecheckFailed


@click.command(short_help="Recompute every promise of a written plan.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@json_option
def recheck(plan_dir: Path, case_path: str | None, as_json: bool) -> None:
    """Recompute every promise of the plan in PLAN_DIR from its case, and see that the inputs are the same.

    Example: optibuild recheck my-plan
    """
    from optibuild import pipeline
    from optibuild.report import recheck_text

    plan = read_plan(plan_dir)
    case = case_of(plan, case_path)
    found = pipeline.recheck(plan, case)
    if as_json:
        say_json(asdict(found))
    else:
        say(recheck_text(found, case.units))
    if not found.passed:
        click.get_current_context().exit(RecheckFailed.exit_code)
