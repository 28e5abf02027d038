"""A case and its variations side by side: what each costs, what it buys, and which differences are sure."""

from dataclasses import dataclass
from typing import Literal

from optibuild.records.provenance import OfCase

Verdict = Literal["base", "less", "more", "equal", "undecided", "no plan", "base has no plan",
                  "another question"]
"""What is sure of a row against the base. `undecided`: the two ranges overlap."""


@dataclass(frozen=True)
class Swap:
    """So many trucks of the base have one build there and another here; None where there is none to match."""

    count: int
    base: str | None
    here: str | None


@dataclass(frozen=True)
class ItemChange:
    """How many of a catalog row are bought, and owned ones used, in the base and here."""

    id: str
    table: str
    base_bought: int
    here_bought: int
    base_owned: int
    here_owned: int


@dataclass(frozen=True)
class TightestPromise:
    """The promise of time of which the least share is left: "cycle limit", "last round" or "deadline" [min];
    `site` is that of a deadline. The reserve that the case keeps in every loop counts as left."""

    promise: str
    truck_no: int
    site: str | None
    left_min: float
    limit_min: float


@dataclass(frozen=True)
class Difference:
    """What a variation's best plan surely costs more than the base's best plan: between `from_usd` and
    `to_usd` (negative: less; None: not known). It is of the objective, what the question asks for the least
    of."""

    verdict: Verdict
    from_usd: float | None
    to_usd: float | None


@dataclass(frozen=True)
class Compared:
    """One case of a comparison. Figures are None where it has no plan.

    `changes` says in words what the case has other than the base, `at` where it stands in sweeps (name of the
    sweep, value). `trucks` counts those of the plan by size, `left_out` names sites. `swapped` and `items`
    compare with the base's plan. `plan` is where the plan lies, from the folder of results.
    """

    name: str
    changes: tuple[str, ...]
    at: tuple[tuple[str, str], ...]
    question: str
    proof: str
    stopped: str
    objective_usd: float | None
    cost_usd: float | None
    bound_usd: float | None
    gap: float | None
    capital_usd: float | None
    contract_value_usd: float | None
    trucks: dict[str, int]
    served: int
    sites: int
    left_out: tuple[str, ...]
    swapped: tuple[Swap, ...]
    items: tuple[ItemChange, ...]
    tightest: TightestPromise | None
    difference: Difference
    plan: str | None


@dataclass(frozen=True)
class SizeCell:
    """One cell of a two-way sweep: trucks by size, and the size or sizes of which the plan has most.

    `decided`: the plan is proved best, so that none with other sizes costs less.
    """

    name: str
    down: str
    across: str
    trucks: dict[str, int]
    leading: tuple[str, ...]
    objective_usd: float | None
    cost_usd: float | None
    proof: str
    decided: bool


@dataclass(frozen=True)
class SizeMap:
    """The map of answers of a two-way sweep: its sweeps by name, their values, a cell for each pair that
    there is, row by row; `sizes` in the order of the catalog."""

    down: str
    across: str
    down_values: tuple[str, ...]
    across_values: tuple[str, ...]
    sizes: tuple[str, ...]
    cells: tuple[SizeCell, ...]


@dataclass(frozen=True)
class Comparison:
    """Everything that `vary` says. The base is the first row; `undecided` names the rows whose difference
    from it is not sure, `rounds` is how often such were solved further, `interrupted` whether the user ended
    that. `case` is the base, None where that is not known."""

    rows: tuple[Compared, ...]
    undecided: tuple[str, ...]
    maps: tuple[SizeMap, ...]
    rounds: int
    interrupted: bool = False
    case: OfCase | None = None
