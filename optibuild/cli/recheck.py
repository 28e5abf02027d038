"""optibuild recheck"""

from dataclasses import asdict, replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import json_option, open_case, say_json
from optibuild.cli.plan_file import read_plan
from optibuild.cli.streams import say
from optibuild.errors import RecheckFailed, UsageError

if TYPE_CHECKING:
    from optibuild.records import Case, Plan


@click.command(short_help="Recompute every promise of a written plan.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@click.option("--case", "case_path", metavar="CASE", help="Where the case is now, if it has moved.")
@json_option
def recheck(plan_dir: Path, case_path: str | None, as_json: bool) -> None:
    """Recompute every promise of the plan in PLAN_DIR from its case, and see that the inputs are the same.

    Example: optibuild recheck bid-plan
    """
    from optibuild import pipeline
    from optibuild.report import recheck_text

    plan = read_plan(plan_dir)
    case = _case(plan, case_path, as_json)
    found = pipeline.recheck(plan, case)
    if as_json:
        say_json(asdict(found))
    else:
        say(recheck_text(found, case.units))
    if not found.passed:
        click.get_current_context().exit(RecheckFailed.exit_code)


def _case(plan: "Plan", case_path: str | None, as_json: bool) -> "Case":
    """The case a plan was made from, with the gap that was asked then; RecheckFailed where a file differs."""
    path = case_path if case_path is not None else plan.case.given_as
    if not Path(path).exists():
        raise UsageError(f"the case of this plan is not at '{path}'; say where with --case")
    folder = Path(path) if Path(path).is_dir() else Path(path).parent
    _must_be_same(plan, {name: _digest(folder / name) for name in plan.case.inputs})
    case = open_case(path, as_json)
    _must_be_same(plan, dict(case.inputs))
    asked = plan.outcome.asked_gap
    return case if asked is None else replace(case, solve=replace(case.solve, gap=asked))


def _digest(path: Path) -> str | None:
    try:
        return sha256(path.read_bytes()).hexdigest() if path.is_file() else None
    except OSError:
        return None


def _must_be_same(plan: "Plan", now: "dict[str, str] | dict[str, str | None]") -> None:
    """Every file that was read then and no other, each with the same bytes."""
    then = plan.case.inputs
    changed = sorted(name for name in {*then, *now} if then.get(name) != now.get(name))
    if changed:
        raise RecheckFailed("the inputs are no longer those the plan was made from; changed: "
                            f"{', '.join(changed)}. Run `optibuild plan` again.")
