"""optibuild vary"""

import json
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import case_argument, json_option, open_variants, say_json
from optibuild.cli.folder import Kind, check_writable, write_folder
from optibuild.cli.plan import NO_PLAN
from optibuild.cli.plan_file import case_files
from optibuild.cli.streams import live, note, rewrite, say
from optibuild.errors import StoppedWithoutPlan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optibuild.records import Case, Variant
    from optibuild.records.sweep import SweepProgress
    from optibuild.what_if import Varied

SOLVED = "solved"
"""Folder of the results already there, from which an interrupted run goes on."""
SORTS = ("cost", "capital", "name")
NAMED, MARK = "vary.json", "optibuild-vary/"
PLAN_PATH, PLAN_MARK = re.compile(r"plans/[A-Za-z0-9_-][A-Za-z0-9._-]*/plan\.json"), "optibuild-plan/"
PAGE = "report.html"
"""The page of the base's plan, with the variations."""
TABLES = ("vary.csv", "vary_swaps.csv", "vary_items.csv", "vary_sizes.csv", "vary.xlsx", PAGE)


@click.command(short_help="Variations and sweeps of a case side by side.")
@case_argument
@click.option("--out", "folder", required=True, metavar="DIR", type=click.Path(path_type=Path),
              help="Folder for the comparison, and for every plan in DIR/plans/NAME.")
@click.option("--workers", metavar="N", type=click.IntRange(1), default=1, show_default=True,
              help="Solve so many cases at once, one thread each.")
@click.option("--cluster", metavar="ADDRESS", default="",
              help="Solve on a Dask cluster that is there already; needs the extra 'cluster'.")
@click.option("--settle", is_flag=True,
              help="Solve further what is undecided: a smaller gap, more time, up to three times.")
@click.option("--sort", type=click.Choice(SORTS), default="cost", show_default=True,
              help="Order of the rows; cost stands for whatever the question asks for.")
@json_option
def vary(case: str, folder: Path, workers: int, cluster: str, settle: bool, sort: str, as_json: bool) -> None:
    """Plan CASE and every variation of it in variations.toml beside it, and tell what differs.

    Example: optibuild vary examples/planner-what-if --out variations
    """
    from optibuild import what_if

    variants = open_variants(case)
    homes = what_if.plan_folders([row.name for row in variants])
    kind = Kind((*TABLES, *(f"{home}/plan.json" for home in homes)), NAMED, MARK)
    check_writable(folder, {path for row in variants for path in case_files(row.case)}, kind)
    try:
        with _told() as progress:
            solve = partial(what_if.solve_many, folder=folder / SOLVED, workers=workers, cluster=cluster,
                            progress=progress)
            found = what_if.vary(variants, solve, settle)
    except KeyboardInterrupt:
        raise StoppedWithoutPlan(f"interrupted; what was done is kept in '{folder / SOLVED}', and the same "
                                 "command goes on from there", True) from None
    if all(plan is None for plan in found.plans):
        raise StoppedWithoutPlan("every search stopped before any plan was found; give them more time with "
                                 "solve.time_limit")
    _write(folder, found, variants[0].case, sort)
    _say(found, variants, sort, as_json)
    if not any(plan and plan.money for plan in found.plans):
        click.get_current_context().exit(NO_PLAN)


def _write(folder: Path, found: "Varied", base: "Case", sort: str) -> None:
    from optibuild.pipeline import to_json
    from optibuild.report import Found, page, paragraph, vary_files

    files = vary_files(found.comparison, sort)
    if found.plans[0] is not None:
        files[PAGE] = page(found.plans[0], base, Found(comparison=found.comparison))
    plans = {row.plan: to_json(plan) for row, plan in zip(found.comparison.rows, found.plans, strict=True)
             if plan is not None and row.plan is not None}
    former = _former(folder)
    # vary.json first: where this is ended midway, the folder is known for ours, and the same command goes on
    write_folder(folder, {NAMED: files[NAMED], **plans, **files})
    _remove(folder, former - {*plans, *files})
    note(paragraph(f"Written to {folder}: {', '.join(files)}, and {len(plans)} plans in plans/."))


def _former(folder: Path) -> set[str]:
    """The files that may not be there again: those that an earlier vary.json of ours tells of."""
    with suppress(OSError, ValueError, KeyError, TypeError):
        tree = json.loads((folder / NAMED).read_text(encoding="utf-8"))
        if tree["format"].startswith(MARK):
            plans = {row["plan"] for row in tree["rows"] if row["plan"] and PLAN_PATH.fullmatch(row["plan"])}
            return plans | ({"vary_sizes.csv"} if tree["maps"] else set())
    return set()


def _remove(folder: Path, names: Iterable[str]) -> None:
    """Take out files of ours, and a plan's own folder where nothing else is in it."""
    for path in (folder / name for name in names):
        with suppress(OSError):
            if path.name == "plan.json" and PLAN_MARK not in path.read_text(errors="replace")[:200]:
                continue
            path.unlink()
            if path.parent != folder:
                path.parent.rmdir()


def _say(found: "Varied", variants: "Sequence[Variant]", sort: str, as_json: bool) -> None:
    from optibuild.report import vary_document, vary_text

    if as_json:
        say_json(vary_document(found.comparison))
    else:
        say(vary_text(found.comparison, variants[0].case.name, sort))


@contextmanager
def _told() -> "Iterator[Callable[[SweepProgress], None] | None]":
    """Gives what to tell progress to, where there is a terminal; clears its line at the end."""
    if not live():
        yield None
        return
    try:
        yield lambda at: rewrite(progress_line(at))
    finally:
        rewrite("")


def progress_line(at: "SweepProgress") -> str:
    """How far a sweep is, in one line."""
    left = "" if at.left_s is None or at.done == at.total else f", about {_time(at.left_s)} left"
    return f"{at.done:,} of {at.total:,} cases{left}"


def _time(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
