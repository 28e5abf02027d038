"""Many cases solved by the workers of a real Dask cluster, one of which is killed."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import dask
import pytest
from distributed import Client, LocalCluster
from many_solves import lasting, undisturbed, wages
from towns import town

from optibuild.errors import OptibuildError, UsageError
from optibuild.inputs import read_case
from optibuild.records.sweep import SweepProgress
from optibuild.what_if import solve_many


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """Three worker processes of one thread each; a nanny starts a new one where one is lost."""
    with LocalCluster(n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        yield made


def pids(address: str) -> list[int]:
    """The worker processes of a cluster."""
    with Client(address, set_as_default=False) as client:
        return sorted(client.run(os.getpid).values())


def test_a_cluster_gives_the_same_plans_though_a_worker_is_killed(cluster: Any, tmp_path: Path) -> None:
    """One of three workers is killed with signal 9 when the second of eight cases is done: all plans come,
    and are those found without any cluster; asked again, the cluster is not needed. It is left
    running."""
    cases = wages(read_case(town(tmp_path / "case", 10, gap="0.005")), 8)
    before, address = pids(cluster.scheduler_address), cluster.scheduler_address

    def kill(at: SweepProgress) -> None:
        if at.done == 2:
            os.kill(before[0], signal.SIGKILL)

    found = solve_many(cases, tmp_path / "results", cluster=address, progress=kill)
    assert [lasting(plan) for plan in found] == undisturbed(cases)
    assert [file.suffix for file in (tmp_path / "results").iterdir()] == 8 * [".result"]
    after = pids(address)
    assert before[0] not in after and set(before[1:]) <= set(after)
    assert solve_many(cases, tmp_path / "results", cluster="tcp://127.0.0.1:1") == found


def test_a_worker_of_another_version_is_refused(
        cluster: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the cluster solves with other versions than this machine's, the sweep ends, nothing is kept."""
    monkeypatch.setattr("optibuild.what_if.sweep.made_with", lambda: "optibuild 9.9")
    with pytest.raises(OptibuildError, match="the cluster solves with optibuild 0"):
        solve_many(wages(read_case(Path(__file__).parent / "data" / "small"), 1), tmp_path / "results",
                   cluster=cluster.scheduler_address)
    assert not (tmp_path / "results").exists()


def test_a_cluster_that_does_not_answer_is_said(tmp_path: Path) -> None:
    """Where nothing listens at the address, or the address is none, the sweep ends with what is wrong."""
    case = wages(read_case(Path(__file__).parent / "data" / "small"), 1)
    for address in ("tcp://127.0.0.1:1", "nonsense"):
        with dask.config.set({"distributed.comm.timeouts.connect": "1s"}), pytest.raises(
                UsageError, match="no cluster answers at"):
            solve_many(case, tmp_path / "results", cluster=address)
