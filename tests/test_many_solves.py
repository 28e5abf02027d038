"""Many cases solved: alike with any number of workers, nothing lost or wrong where something is killed."""

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import psutil
import pytest
from many_solves import do_or_die, lasting, undisturbed, wages, without_dual_bounds
from towns import town

from optibuild.errors import OptibuildError, UsageError
from optibuild.inputs import read_case
from optibuild.pipeline import make_plan
from optibuild.records import Case
from optibuild.records.sweep import SweepProgress
from optibuild.what_if import results, solve_each, solve_many, solving

HERE = Path(__file__).parent
SMALL = HERE / "data" / "small"
COUNT = 6
SWEPT = 20
"""Cases of a sweep that is ended midway: so many that it is not over before."""


def small(count: int = COUNT) -> list[Case]:
    """Changes of the small case, to be proved best."""
    case = read_case(SMALL)
    return wages(replace(case, solve=replace(case.solve, gap=0.0)), count)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the results of the small case's changes, as two workers left it."""
    folder = tmp_path_factory.mktemp("small") / "results"
    solve_many(small(), folder, 2)
    return folder


@pytest.fixture(scope="module")
def town_case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A town whose changes take about a second each."""
    return town(tmp_path_factory.mktemp("town") / "case", 10, gap="0.005")


@pytest.fixture(scope="module")
def town_plans(town_case: Path) -> list[str]:
    """The plans of its changes, one after the other; of fewer changes they are the first of these, for each
    begins with the loops of the first case and nothing else."""
    return undisturbed(wages(read_case(town_case), SWEPT))


def files(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Content and time of every result in a folder."""
    return {file.name: (file.read_bytes(), file.stat().st_mtime_ns) for file in folder.glob("*.result")}


def texts(folder: Path, cases: list[Case]) -> list[str]:
    """The plans in a folder, all of which must be there, but for how long they took."""
    def nobody(*_: object) -> None:
        pytest.fail("a case was solved that was done")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("optibuild.what_if.sweep.Processes", nobody)
        return [lasting(plan) for plan in solve_many(cases, folder)]


def test_each_plan_is_that_of_a_cold_run(done: Path) -> None:
    """Six changes of the small case, begun from the first one's loops and proved best: every plan.json is
    that of a cold run, byte for byte but for the seconds and what duals prove of the sites."""
    cold = [lasting(make_plan(case)) for case in small()]
    assert texts(done, small())[0] == cold[0]
    assert list(map(without_dual_bounds, texts(done, small()))) == list(map(without_dual_bounds, cold))


def test_the_number_of_workers_changes_nothing(done: Path, tmp_path: Path) -> None:
    """One worker ends with the same files as two, by name, and with the same plans but for the seconds."""
    solve_many(small(), tmp_path / "one", 1)
    assert files(tmp_path / "one").keys() == files(done).keys()
    assert texts(tmp_path / "one", small()) == texts(done, small())


def test_what_is_done_is_not_solved_again_and_equal_cases_are_solved_once(done: Path) -> None:
    """With all in the folder no process is started and no file touched; a case given three times is told
    three times from one file; without cases nothing happens."""
    before = files(done)
    assert len(before) == COUNT
    cases = small()
    again = texts(done, [*cases, cases[2], cases[2]])
    assert again[:COUNT] == texts(done, cases) and again[2] == again[-1] == again[-2]
    assert files(done) == before
    assert solve_many([], done) == ()


def test_progress_counts_up_and_tells_the_time_left(done: Path, tmp_path: Path) -> None:
    """Cases are counted one by one up to all; the time left is not known before a second one is done, and
    nothing at the end. What was in the folder is counted too."""
    told: list[SweepProgress] = []
    solve_many(small(3), tmp_path / "new", 1, progress=told.append)
    assert [(at.done, at.total) for at in told] == [(1, 3), (2, 3), (3, 3)]
    assert told[0].left_s is None and told[2].left_s == 0.0
    assert told[1].left_s is not None and told[1].left_s > 0.0
    told.clear()
    solve_many(small(3), tmp_path / "new", 1, progress=told.append)
    assert [at.done for at in told] == [1, 2, 3]


@pytest.mark.parametrize("cut", [0, 10, 65, 200, -1])
def test_a_truncated_result_is_solved_again(cut: int, done: Path, tmp_path: Path) -> None:
    """A file cut off anywhere, and one with a byte changed, count as not there: the case is solved again and
    the file is whole."""
    folder = tmp_path / "results"
    folder.mkdir()
    for name, (content, _) in files(done).items():
        (folder / name).write_bytes(content)
    last = sorted(folder.glob("*.result"))[-1]
    whole = last.read_bytes()
    last.write_bytes(whole[:cut] if cut >= 0 else whole[:-30] + b"7" + whole[-29:])
    plans = [lasting(plan) for plan in solve_many(small(), folder, 1)]
    assert plans == texts(done, small())
    assert len(last.read_bytes()) > 1_000
    assert texts(folder, small()) == plans


def test_results_of_other_versions_are_left_alone(done: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Under another version of a solver, and with another start, every name is another, so that nothing made
    otherwise is taken; with the same it is the same."""
    case = small()[0]
    names = {results.key_of(case, None), results.key_of(case, solving.COLD), results.key_of(small()[1], None)}
    assert len(names) == 3 and results.key_of(small()[0], None) in names
    monkeypatch.setattr(results, "made_with", lambda: "optibuild 0.0")
    assert results.key_of(case, None) not in names
    assert not (done / f"{results.key_of(case, None)}.result").exists()


def test_another_source_of_the_same_version_is_another_make(tmp_path: Path,
                                                            monkeypatch: pytest.MonkeyPatch) -> None:
    """A changed line in any module is told, though the version stays: its results are not mixed with older
    ones; the same line again is the same make."""
    module = tmp_path / "optibuild" / "fit" / "loads.py"
    module.parent.mkdir(parents=True)
    monkeypatch.setattr(solving, "__file__", str(tmp_path / "optibuild" / "what_if" / "solving.py"))
    told = []
    for line in ("x = 1", "x = 2", "x = 1"):
        module.write_text(line)
        told.append(solving.made_with.__wrapped__())
    assert told[0] == told[2] != told[1]


def test_a_worker_of_another_version_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where what a worker solves was made with other versions than those here, the sweep ends and says both;
    its result is not kept."""
    monkeypatch.setattr("optibuild.what_if.sweep.made_with", lambda: "optibuild 9.9")
    with pytest.raises(OptibuildError, match="this machine has optibuild 9.9"):
        solve_many(small(1), tmp_path / "results", 1)
    assert not (tmp_path / "results").exists()


def test_a_stopped_search_is_told_as_none(tmp_path: Path) -> None:
    """A case of which no plan is found in no time at all gives None, now and from the folder."""
    case = small(1)[0]
    hasty = replace(case, question="profit", solve=replace(case.solve, time_limit_s=0.0))
    poor = replace(case, money=replace(case.money, budget_usd=10.0))
    first, second = solve_many([poor, hasty], tmp_path, 1), solve_many([poor, hasty], tmp_path, 1)
    assert first[0] is not None and first[0].money is None
    assert first == second


def processes(of: psutil.Process) -> list[psutil.Process]:
    """The workers of a process: what it has started that solves."""
    return [one for one in of.children() if "spawn_main" in " ".join(one.cmdline())]


def test_a_killed_worker_loses_nothing(town_case: Path, town_plans: list[str], tmp_path: Path) -> None:
    """Both workers are killed with signal 9 when the second case of six is done, while one of them is at
    another: all six plans come, each the one that is made undisturbed."""
    cases, killed = wages(read_case(town_case), COUNT), []

    def kill(at: SweepProgress) -> None:
        if at.done == 2:
            for one in multiprocessing.active_children():
                os.kill(one.pid or 0, signal.SIGKILL)
                killed.append(one.pid)

    plans = [lasting(plan) for plan in solve_many(cases, tmp_path / "killed", 2, progress=kill)]
    assert len(killed) == 2
    assert plans == town_plans[:COUNT]


def test_a_case_that_always_loses_its_worker_is_named(tmp_path: Path) -> None:
    """Where every worker is killed as soon as it is there, the sweep ends after three, naming the case."""
    over = threading.Event()
    killed = set()

    def kill() -> None:
        while not over.is_set():
            for one in multiprocessing.active_children():
                os.kill(one.pid or 0, signal.SIGKILL)
                killed.add(one.pid)
            time.sleep(0.01)

    killer = threading.Thread(target=kill)
    killer.start()
    try:
        with pytest.raises(OptibuildError, match="'wage 0' was not solved: .* 3 times"):
            solve_many(small(2), tmp_path, 1)
    finally:
        over.set()
        killer.join()
    assert len(killed) == 3


def test_the_others_are_solved_before_a_case_that_loses_its_worker(tmp_path: Path,
                                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    """Of four cases the second ends its process each time: it is named at the end, with the three others in
    the folder."""
    monkeypatch.setattr("optibuild.what_if.workers.do", do_or_die)
    told: list[int] = []
    with pytest.raises(OptibuildError, match="^'wage 1' was not solved: .* 3 times"):
        solve_many(small(4), tmp_path, 1, progress=lambda at: told.append(at.done))
    assert told == [1, 2, 3] and len(files(tmp_path)) == 3


def started(*words: object) -> subprocess.Popen[str]:
    """A sweep in a process of its own, which hears Ctrl-C though these tests run in the background."""
    return subprocess.Popen([sys.executable, str(HERE / "many_solves.py"), *map(str, words)],
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                            preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL))


@pytest.fixture(params=[signal.SIGKILL, signal.SIGINT], ids=["killed", "Ctrl-C"])
def ended(request: pytest.FixtureRequest, town_case: Path, tmp_path: Path) -> Iterator[Path]:
    """The folder of a sweep that was killed, or interrupted, when the third of its cases was done; its
    workers are gone within ten seconds."""
    parent = started(town_case, tmp_path / "results", SWEPT)
    assert parent.stdout is not None
    for line in parent.stdout:
        if int(line) >= 3:
            break
    workers = processes(psutil.Process(parent.pid))
    assert workers
    parent.send_signal(request.param)
    parent.communicate()
    assert parent.returncode != 0
    assert psutil.wait_procs(workers, timeout=10)[1] == []
    yield tmp_path / "results"


def test_a_killed_or_interrupted_sweep_goes_on_from_what_is_done(
        ended: Path, town_case: Path, town_plans: list[str]) -> None:
    """Of the cases at least three are in the folder and not all. Asked again, those are not touched, and
    all plans are the ones of a sweep that nobody disturbed."""
    before = files(ended)
    assert 3 <= len(before) < SWEPT
    cases = wages(read_case(town_case), SWEPT)
    plans = [lasting(plan) for plan in solve_many(cases, ended, 2)]
    after = files(ended)
    assert len(after) == SWEPT and before.items() <= after.items()
    assert plans == town_plans


def test_a_full_disk_loses_nothing_that_was_done(tmp_path: Path) -> None:
    """Where no file may have more than 22,000 bytes the first result, which holds the loops that others begin
    with, cannot be written: the sweep says so and leaves no file; with room for it, it goes on."""
    done = started(SMALL, tmp_path / "results", 3, 22_000)
    _, said = done.communicate()
    assert done.returncode != 0 and "UsageError" in said and "a result was not written" in said
    assert list((tmp_path / "results").iterdir()) == []
    done = started(SMALL, tmp_path / "results", 3, 100_000)
    assert done.communicate() and done.returncode == 0
    cases = wages(read_case(SMALL), 3)
    cold = [without_dual_bounds(lasting(make_plan(case))) for case in cases]
    assert list(map(without_dual_bounds, texts(tmp_path / "results", cases))) == cold


def test_a_disk_that_fills_midway_keeps_what_is_written(done: Path, tmp_path: Path) -> None:
    """Results of three cases, then no room for more than 100 bytes: the others are not written, the three are
    as they were, and with room again all six are there."""
    folder = tmp_path / "results"
    solve_many(small(3), folder, 1)
    before = files(folder)
    code = ("import resource, sys; sys.path.insert(0, sys.argv[1])\n"
            "from pathlib import Path\nfrom test_many_solves import small, solve_many\n"
            "if __name__ == '__main__':\n"
            "    resource.setrlimit(resource.RLIMIT_FSIZE, (100, resource.RLIM_INFINITY))\n"
            "    solve_many(small(), Path(sys.argv[2]), 1)\n")
    script = tmp_path / "full.py"
    script.write_text(code)
    full = subprocess.run([sys.executable, str(script), str(HERE), str(folder)], capture_output=True,
                          text=True)
    assert full.returncode != 0 and "a result was not written" in full.stderr
    assert files(folder) == before and len(list(folder.iterdir())) == 3
    solve_many(small(), folder, 1)
    assert texts(folder, small()) == texts(done, small())


def test_a_folder_that_cannot_be_is_said(tmp_path: Path) -> None:
    """Where the folder is a file, the sweep ends with what is wrong."""
    (tmp_path / "results").write_text("mine")
    with pytest.raises(UsageError, match="a result was not written to"):
        solve_many(small(1), tmp_path / "results", 1)
    assert (tmp_path / "results").read_text() == "mine"


def test_who_stops_listening_stops_the_workers(tmp_path: Path) -> None:
    """The generator closed after the first case leaves no process behind; that case is in the folder."""
    each = solve_each(small(), tmp_path / "results", 2)
    assert next(each)[0] == 0
    each.close()  # type: ignore[attr-defined]
    assert multiprocessing.active_children() == []
    assert len(files(tmp_path / "results")) == 1
