"""Those who solve: processes of this machine, or the workers of a cluster. A case whose worker is lost is
solved again."""

import os
import signal
import threading
from collections import Counter, deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, Protocol

from optibuild.errors import OptibuildError, UsageError
from optibuild.records import Case
from optibuild.records.sweep import Start
from optibuild.what_if.solving import Solved, solve_case

MOST_TRIES = 3
ONE_THREAD = {"OPTIBUILD_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


@dataclass(frozen=True)
class Task:
    """A case to solve, known to who asked by its number."""

    number: int
    case: Case
    start: Start | None


class Lost(OptibuildError):
    """Cases (number to name) whose process was lost again and again; all others were solved before."""

    def __init__(self, names: Mapping[int, str], often: str) -> None:
        self.numbers, self.often = tuple(names), often
        named = ", ".join(f"'{name}'" for name in names.values())
        super().__init__(f"{named} {'was' if len(names) == 1 else 'were'} not solved: the process of each "
                         f"ended {often}, perhaps for want of memory. What was done is kept")


class Crew(Protocol):
    """Solves tasks and gives each as it is done."""

    def run(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Solved]]:
        """Number and result of each task, in the order in which they are done."""

    def close(self) -> None:
        """Stop whatever still runs."""


def do(task: Task) -> Solved:
    """What a worker does: solve on one thread."""
    os.environ.update(ONE_THREAD)
    return solve_case(task.case, task.start)


class Processes:
    """Processes of this machine, one case and one thread each.

    Each has a pool of its own, so that one that is lost takes no other along and tells by whose case it was
    lost. All end with this process, however that ends, for they watch a pipe that only it holds open.
    """

    def __init__(self, workers: int) -> None:
        self.context = get_context("spawn")
        self.watched, self.held = self.context.Pipe(duplex=False)
        self.pools = [self._pool() for _ in range(workers)]

    def _pool(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(1, self.context, _begin, (self.watched,))

    def run(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Solved]]:
        """Number and result of each task as it is done. One whose process is lost waits until the others are
        done; Lost names, at the end, those of which it is lost again and again."""
        lost: dict[int, str] = {}
        waiting, free, tries = deque(tasks), list(range(len(self.pools))), Counter[int]()
        busy: dict[Future[Solved], tuple[int, Task]] = {}
        while waiting or busy:
            while waiting and free:
                worker, task = free.pop(), waiting.popleft()
                busy[self._submit(worker, task)] = worker, task
            for future in wait(busy, return_when=FIRST_COMPLETED).done:
                worker, task = busy.pop(future)
                free.append(worker)
                if isinstance(future.exception(), BrokenProcessPool):
                    tries[task.number] += 1
                    if tries[task.number] == MOST_TRIES:
                        lost[task.number] = task.case.name
                    else:
                        waiting.append(task)
                else:
                    yield task.number, future.result()
        if lost:
            raise Lost(lost, f"{MOST_TRIES} times")

    def _submit(self, worker: int, task: Task) -> Future[Solved]:
        """Hand a task to a worker, to a new one where it is lost."""
        try:
            return self.pools[worker].submit(do, task)
        except BrokenProcessPool:
            self.pools[worker].shutdown()
            self.pools[worker] = self._pool()
            return self.pools[worker].submit(do, task)

    def close(self) -> None:
        """End the processes, also in the middle of a case."""
        self.held.close()
        for pool in self.pools:
            pool.shutdown(cancel_futures=True)
        self.watched.close()


def _begin(watched: Connection) -> None:
    """In a new process: Ctrl-C is for who started it, whose end it does not outlive."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.update(ONE_THREAD)
    threading.Thread(target=_end_with, args=(watched,), daemon=True).start()


def _end_with(watched: Connection) -> None:
    watched.poll(None)  # nothing is ever sent: this returns when the other end is closed
    os._exit(1)


class Cluster:
    """The workers of a Dask cluster that is there already. Its scheduler gives the cases of a lost worker to
    others, and ends a case by which several were lost."""

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise UsageError("a cluster needs the extra: pip install 'optibuild[cluster]'") from None
        try:
            self.client: Any = Client(address, set_as_default=False)
        except (OSError, ValueError) as error:
            raise UsageError(f"no cluster answers at '{address}': {error}") from None
        self.asked: dict[Any, Task] = {}

    def run(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Solved]]:
        """Number and result of each task as it is done. Lost names, at the end, those by which workers are
        lost again and again."""
        from distributed import KilledWorker, as_completed

        lost: dict[int, str] = {}
        self.asked = {self.client.submit(do, task, pure=False): task for task in tasks}
        for future in as_completed(list(self.asked), loop=self.client.loop):
            task = self.asked.pop(future)
            try:
                solved = future.result()
            except KilledWorker:
                lost[task.number] = task.case.name
            else:
                yield task.number, solved
        if lost:
            raise Lost(lost, "more often than the cluster allows")

    def close(self) -> None:
        """Take back what is not done, and leave the cluster as it was."""
        self.client.cancel(list(self.asked))
        self.client.close()
