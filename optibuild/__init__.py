"""Chooses trucks, plows, spreaders and ballast for snow and ice control, and the loops they drive.

The public names load when they are first used, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    __version__: str
    from optibuild.errors import InputProblems, OptibuildError
    from optibuild.explain import shortfall
    from optibuild.inputs import check_case, read_case
    from optibuild.pipeline import fit_builds, from_json, make_plan, recheck, to_json
    from optibuild.records import Builds, Case, Plan, Recheck

HOMES = {
    "read_case": "inputs", "check_case": "inputs", "fit_builds": "pipeline", "make_plan": "pipeline",
    "recheck": "pipeline", "to_json": "pipeline", "from_json": "pipeline", "shortfall": "explain",
    "Case": "records", "Builds": "records", "Plan": "records", "Recheck": "records",
    "OptibuildError": "errors", "InputProblems": "errors",
}
"""Public name -> the part that holds it."""

__all__ = [
    "Builds", "Case", "InputProblems", "OptibuildError", "Plan", "Recheck", "check_case", "fit_builds",
    "from_json", "make_plan", "read_case", "recheck", "shortfall", "to_json",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("optibuild")
    if name not in HOMES:
        raise AttributeError(f"module 'optibuild' has no attribute '{name}'")
    return getattr(import_module(f"optibuild.{HOMES[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
