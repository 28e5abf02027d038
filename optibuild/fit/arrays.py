"""Array types, and catalog columns as arrays."""

from collections.abc import Sequence
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optibuild.records import Item

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def column(rows: Sequence[Item], field: str, none: float = 0.0) -> Floats:
    """One catalog column as an array [rows + 1]; the last entry is what "none" counts as.

    Indexing with NONE (-1) therefore finds the value of an attachment that is not there.
    """
    return np.array([*(getattr(row, field) for row in rows), none], dtype=np.float64)


def flat(values: NDArray[Any]) -> NDArray[Any]:
    """All axes but the first as one, seen in the same memory."""
    return values.reshape(len(values), prod(values.shape[1:]))
