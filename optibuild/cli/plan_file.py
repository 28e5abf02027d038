"""Reading a plan back from the folder that a command wrote it to, and the case it was made from."""

from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import open_case, open_variants
from optibuild.errors import RecheckFailed, UsageError

if TYPE_CHECKING:
    from optibuild.records import Case, Plan

ANEW = "run `optibuild plan` again"
case_option = click.option("--case", "case_path", metavar="CASE",
                           help="Where the case is now, if it has moved.")


def read_plan(folder: Path) -> "Plan":
    """The plan in a folder; UsageError, naming the file, where there is none that can be read."""
    from optibuild.pipeline import from_json

    path = folder / "plan.json"
    try:
        return from_json(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise UsageError(f"'{path}' cannot be read: {error.strerror or error}; name the folder that "
                         "`optibuild plan CASE --out DIR` wrote") from None
    except UnicodeDecodeError:
        raise UsageError(f"'{path}' is no plan: it is not UTF-8 text; {ANEW}") from None
    except UsageError as error:
        raise UsageError(f"'{path}': {error}; {ANEW}") from None


def rechecked_plan(folder: Path, case_path: str | None) -> "tuple[Plan, Case]":
    """A written plan that has trucks, rechecked, and its case, for a command that works on from them.

    UsageError for a plan without trucks, RecheckFailed where a promise of it does not hold.
    """
    from optibuild.pipeline import recheck

    plan = read_plan(folder)
    if not plan.trucks:
        raise UsageError(f"'{folder}' holds no fleet to work with: its plan has no trucks; its report.html "
                         f"tells why: change the case and {ANEW}")
    case = case_of(plan, case_path)
    checked = recheck(plan, case)
    if not checked.passed:
        broken = ", ".join(row.name for row in checked.checks if not row.passed)
        raise RecheckFailed(f"nothing was done: the plan fails its recheck: {broken}; {ANEW}")
    return plan, case


def case_of(plan: "Plan", case_path: str | None) -> "Case":
    """The case or variation a plan was made from, with the gap that was asked then; RecheckFailed where a
    file differs."""
    path = case_path if case_path is not None else plan.case.given_as
    folder = Path(path) if Path(path).is_dir() else Path(path).parent
    now = {name: _digest(folder / name) for name in plan.case.inputs}
    if not Path(path).exists() or not any(now.values()):
        raise UsageError(f"the case of this plan is not at '{path}'; say where with --case")
    _must_be_same(plan, now)
    case = _opened(path, plan.case.variation)
    _must_be_same(plan, dict(case.inputs))
    asked = plan.outcome.asked_gap
    return case if asked is None else replace(case, solve=replace(case.solve, gap=asked))


def _opened(path: str, variation: str | None) -> "Case":
    """The case, or the variation of it, which its name then tells."""
    if variation is None:
        return open_case(path)
    cases = {row.name: row.case for row in open_variants(path)}
    if variation not in cases:
        raise RecheckFailed(f"the case of this plan has no variation '{variation}'; run `optibuild vary` "
                            "again")
    case = cases[variation]
    return replace(case, name=f"{case.name}, {variation}")


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
        command = "plan" if plan.case.variation is None else "vary"
        raise RecheckFailed("the inputs are no longer those the plan was made from; changed: "
                            f"{', '.join(changed)}. Run `optibuild {command}` again.")


def case_files(case: "Case") -> set[Path]:
    """The files that a case was read from."""
    given = Path(case.given_as)
    home = given if given.is_dir() else given.parent
    return {(home / name).resolve() for name, _ in case.inputs}
