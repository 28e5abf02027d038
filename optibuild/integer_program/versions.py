"""Which libraries the search stands on: with the same versions the same inputs give the same plan."""

from importlib.metadata import version

SOLVERS = {"HiGHS": "highspy", "PuLP": "pulp", "numba": "numba", "numpy": "numpy"}
"""HiGHS solves the programs, PuLP hands them over, numba compiles the labelling over numpy's arrays."""


def solver_versions() -> dict[str, str]:
    """The version of each, by name."""
    return {name: version(package) for name, package in SOLVERS.items()}
