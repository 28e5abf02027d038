"""Builds that another matches or beats in everything that counts, which no plan needs."""

import numpy as np
from numba import njit

from optibuild.integer_program.problem import Floats, Ints, LoopProblem


def undominated(problem: LoopProblem, builds: Ints, own: Floats | None = None) -> Ints:
    """Of builds [B] with one start and end, those that no other matches or beats in everything that counts.

    The beaten one's loops can all be run by the other at no higher cost or price, with no more of an item
    that can run out, so leaving it out never changes the optimum. Of equals the first stays.

    Where builds cost `own` [B] before they drive at duals of items and budget, these are paid for: then no
    loop of one that is beaten has less reduced cost than the other's.
    """
    rowed = problem.held | problem.scarce
    price = problem.own_price_usd if np.isfinite(problem.budget_usd) else np.zeros(problem.start.size)
    paid = (np.concatenate([np.stack([problem.own_cost_usd, price], axis=1), problem.uses[:, rowed]], axis=1)
            if own is None else own[:, None])
    money = [part for kind in problem.rounds for part in (kind.drive_usd_per_min, kind.drive_usd_per_m)]
    few = np.concatenate(
        [paid, np.stack([-problem.fill_kg, problem.reload_min], axis=1), *money], axis=1)[builds]
    order = np.lexsort((builds, few[:, 0]))
    many = [part.reshape(len(part), -1)
            for part in (problem.stop_usd, *(kind.minutes for kind in problem.rounds))]
    # stops that few builds make tell builds apart soonest
    columns = np.argsort(np.isfinite(many[-1][builds]).sum(axis=0), kind="stable")
    kept = np.zeros(builds.size, dtype=np.int64)
    count = _keep(few[order], builds[order], tuple(many), columns, kept)
    return np.sort(builds[order[kept[:count]]])


@njit(cache=True, nogil=True)
def _keep(few, rows, many, columns, kept):  # type: ignore[no-untyped-def]
    """Places, in order, of the builds that none kept before beats: by few figures [n, F], then by figures of
    their stops, tables of [B, .] whose rows are `rows` [n]. Returns how many there are."""
    count = 0
    for b in range(len(few)):
        beaten = False
        for k in range(count - 1, -1, -1):
            other = kept[k]
            beats = True
            for f in range(few.shape[1]):
                if few[other, f] > few[b, f]:
                    beats = False
                    break
            if not beats:
                continue
            for table in many:
                for c in columns:
                    if table[rows[other], c] > table[rows[b], c]:
                        beats = False
                        break
                if not beats:
                    break
            if beats:
                beaten = True
                break
        if not beaten:
            kept[count] = b
            count += 1
    return count
