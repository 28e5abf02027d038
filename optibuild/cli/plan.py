"""optibuild plan"""

from dataclasses import replace
from functools import partial
from math import nextafter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, open_case
from optibuild.cli.folder import Kind, check_writable, write_folder
from optibuild.cli.plan_file import case_files, read_plan
from optibuild.cli.progress import watched
from optibuild.cli.streams import note, say
from optibuild.errors import StoppedWithoutPlan, UnitError, UsageError

if TYPE_CHECKING:
    from optibuild.pipeline import Answer, Stages
    from optibuild.records import Case, ChosenLoop, Plan

NO_PLAN = 4
BELOW_ALL = nextafter(1.0, 0.0)
"""The greatest gap: one of the whole cost says nothing of a plan."""
LOOKING = ("No plan was found. Looking for what stands in the way and what would help; this may take some "
           "minutes, and Ctrl-C ends it with what is known by then.")
TABLES = ("plan", "items", "builds", "trucks", "axle_loads", "loops", "stops", "sites", "money", "bid",
          "shortfall", "checks", "assumptions")
OURS = Kind((*(f"{name}.csv" for name in TABLES), "plan.xlsx", "plan.geojson", "report.html",
             "sheets.html"), "plan.json", "optibuild-plan/")


@click.command(short_help="The fleet, builds and loops of least cost, with proof.")
@case_argument
@click.option("--out", "folder", required=True, metavar="DIR", type=click.Path(path_type=Path),
              help="Folder to write plan.json and its tables to.")
@json_option
@click.option("--gap", metavar="TEXT", help="End the search at this gap, as '0.5 %'; overrides solve.gap.")
@click.option("--time-limit", metavar="TEXT",
              help="End the search after this time, as '2 min'; overrides solve.time_limit.")
@click.option("--program", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              help="Write the integer program as text with its legend: MPS to a FILE.mps, else LP.")
@click.option("--start", metavar="PLAN_DIR", type=click.Path(path_type=Path),
              help="Begin the search with the loops of an earlier plan, perhaps of other tables or prices.")
def plan(case: str, folder: Path, as_json: bool, gap: str | None, time_limit: str | None,
         program: Path | None, start: Path | None) -> None:
    """Choose what to buy and use, what to mount on it, and the loops to drive, so that CASE's promises hold.

    Example: optibuild plan my-case --out my-plan
    """
    earlier = read_plan(start) if start is not None else None
    read = asked(open_case(case), gap, time_limit)
    check_writable(folder, case_files(read), OURS)
    if program is not None:
        _check_program(program)
    found, answered = _answered(read, earlier)
    _write(folder, found, read)
    if program is not None:
        _write_program(program, read, answered)
    _say(found, read, as_json)
    _tell(f"Written to {folder}: report.html, sheets.html, plan.json, plan.xlsx, plan.geojson and "
          f"{len(TABLES)} tables (CSV).")
    if found.money is None:
        click.get_current_context().exit(NO_PLAN)


def asked(case: "Case", gap: str | None, time_limit: str | None) -> "Case":
    """The case with the options' gap and time limit."""
    settings = case.solve
    if gap is not None:
        settings = replace(settings, gap=_quantity(gap, "share", "--gap", 0.0, BELOW_ALL))
    if time_limit is not None:
        minutes = _quantity(time_limit, "time", "--time-limit", 1e-3, 1e6)
        settings = replace(settings, time_limit_s=60.0 * minutes)
    return replace(case, solve=settings)


def _check_program(path: Path) -> None:
    """UsageError, before the search, where the file has no folder, or is there without a legend of ours."""
    if not path.absolute().parent.is_dir():
        raise UsageError(f"--program '{path}': there is no folder '{path.parent}'; make it, or name another "
                         "file")
    mark = b"* " if path.suffix.lower() == ".mps" else b"\\ "
    if path.exists() and not path.read_bytes().startswith(mark):
        raise UsageError(f"--program '{path}' is there already and no program of ours; name another file")


def _quantity(text: str, dimension: str, option: str, low: float, high: float) -> float:
    from optibuild.units import quantity

    try:
        value = quantity(text, dimension)
    except UnitError as error:
        raise click.BadParameter(str(error), param_hint=option) from None
    if not low <= value <= high:
        bare = dimension == "share" and value >= 1.0 and "%" not in text
        hint = f": without a % sign 1 is the whole; write '{text} %'" if bare else ""
        raise click.BadParameter(f"'{text}' is out of range{hint}", param_hint=option)
    return value


def _answered(case: "Case", earlier: "Plan | None") -> "tuple[Plan, Answer | None]":
    """The plan, or one without trucks and with its shortfall where none exists."""
    from optibuild.explain import shortfall
    from optibuild.pipeline import answer

    try:
        with watched(case) as progress:
            found = answer(case, progress, partial(_begin, earlier) if earlier else None)
        if found.plan.money is not None:
            return found.plan, found
        _tell(LOOKING)
        return replace(found.plan, shortfall=shortfall(case, found.made)), found
    except StoppedWithoutPlan as stopped:
        return _stopped(case, stopped), None


def _begin(earlier: "Plan", made: "Stages") -> "list[ChosenLoop]":
    """What is still possible of an earlier plan, and how much that is, told before the search."""
    from optibuild.pipeline import earlier_loops

    found = earlier_loops(made, earlier)
    _tell(f"{sum(map(bool, found))} of {len(found)} loops of the earlier plan are still possible and were "
          "given to the search.")
    return [loop for loops in found for loop in loops]


def _stopped(case: "Case", stopped: StoppedWithoutPlan) -> "Plan":
    """Where the limits prove that nothing fits, no plan exists; else the search only ended too soon."""
    from optibuild.explain import shortfall, shows_no_plan
    from optibuild.pipeline import no_plan, planned_stages

    if stopped.interrupted:
        raise stopped
    made = planned_stages(case)
    _tell(LOOKING)
    found = shortfall(case, made)
    if not shows_no_plan(case, found):
        raise stopped
    return replace(no_plan(case, made, case.solve.time_limit_s), shortfall=found)


def _write(folder: Path, found: "Plan", case: "Case") -> None:
    from optibuild.inputs import case_workbook
    from optibuild.pipeline import to_json
    from optibuild.report import plan_files

    write_folder(folder, {**plan_files(found, case, case_workbook(case)), "plan.json": to_json(found)})


def _write_program(path: Path, case: "Case", answered: "Answer | None") -> None:
    from optibuild.explain import write_program

    if answered is None or answered.found is None or answered.plan.money is None:
        _tell(f"'{path}' was not written: there is no plan.")
    else:
        write_program(case, answered, str(path))


def _tell(text: str) -> None:
    """A note, wrapped to the screen."""
    from optibuild.report import paragraph

    note(paragraph(text))


def _say(found: "Plan", case: "Case", as_json: bool) -> None:
    from optibuild.pipeline import to_json
    from optibuild.report import plan_text

    say(to_json(found) if as_json else plan_text(found, case), nl=not as_json)
