"""Many like cases solved: the first one cold, the others from its loops, what is done kept in a folder."""

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path

from optibuild.errors import OptibuildError
from optibuild.pipeline import from_json
from optibuild.records import Case, Plan
from optibuild.records.sweep import Start, SweepProgress
from optibuild.what_if.results import keep, kept, key_of
from optibuild.what_if.solving import Solved, made_with
from optibuild.what_if.workers import Cluster, Crew, Processes, Task

Tell = Callable[[SweepProgress], None]


def solve_many(cases: Sequence[Case], folder: Path, workers: int = 1, cluster: str = "",
               progress: Tell | None = None) -> tuple[Plan | None, ...]:
    """The plan of every case, in order; None for a search that was stopped without a plan.

    The first case is solved by a cold search. All others begin with its loops, so what they find depends
    neither on the number of workers nor on the order in which they end. A search that is begun may end at
    another plan than a cold one within the gap asked; where both are proved best they cost the same.

    Each result is written to `folder` as soon as it is there, under a name made of its case, its start and
    all versions; what is found there is not solved again. `workers` processes solve on one thread each; with
    the address of a `cluster`, its workers do. UsageError where the folder cannot be written or the cluster
    does not answer; Lost for cases whose process is lost again and again, when the others are done. After
    these and after Ctrl-C what was done is in the folder.
    """
    found = dict(solve_each(cases, folder, workers, cluster, progress))
    return tuple(found[number] for number in range(len(cases)))


def solve_each(cases: Sequence[Case], folder: Path, workers: int = 1, cluster: str = "",
               progress: Tell | None = None) -> Iterator[tuple[int, Plan | None]]:
    """The same one by one as they are done, each with the number of its case."""
    if cases:
        with closing(_Sweep(folder, len(cases), workers, cluster, progress)) as sweep:
            yield from sweep.solved(cases)


class _Sweep:
    """A sweep on its way: who solves, from the first case that is not in the folder on; what is done."""

    def __init__(self, folder: Path, total: int, workers: int, cluster: str, progress: Tell | None) -> None:
        self.folder, self.total, self.workers, self.cluster = folder, total, workers, cluster
        self.progress = progress
        self.done = 0
        self.crew: Crew | None = None

    def close(self) -> None:
        if self.crew is not None:
            self.crew.close()

    def solved(self, cases: Sequence[Case]) -> Iterator[tuple[int, Plan | None]]:
        """Number and plan of each case as it is done, the first one first."""
        start: Start | None = None
        for number, solved in self._solved([Task(0, cases[0], None)]):
            start = solved.start
            yield number, _plan(solved)
        for number, solved in self._solved([Task(k, case, start) for k, case in enumerate(cases) if k > 0]):
            yield number, _plan(solved)

    def _solved(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Solved]]:
        """Those in the folder, then the others as they are done; equal ones are solved once."""
        alike: dict[str, list[Task]] = {}
        for task in tasks:
            alike.setdefault(key_of(task.case, task.start), []).append(task)
        asked: dict[int, str] = {}
        for key, same in alike.items():
            solved = kept(self.folder, key)
            if solved is None:
                asked[same[0].number] = key
            else:
                yield from self._each(same, solved)
        if not asked:
            return
        began = time.monotonic()
        done = self._crew().run([task for task in tasks if task.number in asked])
        for count, (number, solved) in enumerate(done, 1):
            _check_versions(solved)
            keep(self.folder, asked[number], solved)
            left_s = (time.monotonic() - began) / count * (len(asked) - count)
            yield from self._each(alike[asked[number]], solved, left_s if number > 0 else None)

    def _each(self, same: Sequence[Task], solved: Solved,
              left_s: float | None = None) -> Iterator[tuple[int, Solved]]:
        """Tell and give a result that cases have in common."""
        self.done += len(same)
        self._tell(left_s)
        yield from ((task.number, solved) for task in same)

    def _tell(self, left_s: float | None) -> None:
        if self.progress:
            self.progress(SweepProgress(self.done, self.total, left_s))

    def _crew(self) -> Crew:
        if self.crew is None:
            self.crew = Cluster(self.cluster) if self.cluster else Processes(max(1, self.workers))
        return self.crew


def _plan(solved: Solved) -> Plan | None:
    return None if solved.plan is None else from_json(solved.plan)


def _check_versions(solved: Solved) -> None:
    """OptibuildError where a worker of the cluster has other versions, whose results would be mixed."""
    if solved.made_with != made_with():
        raise OptibuildError(f"the cluster solves with {solved.made_with}; this machine has {made_with()}. "
                             "Install the same versions on both")
