"""The table of mounts: what may not be mounted on what, from the file to the recheck."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import small_plan as sp
from fit_cases import fit_case, judged, plow, spreader, the, truck

from optibuild.fit import builds as builds_module
from optibuild.inputs import check_case, read_case
from optibuild.plan import recheck
from optibuild.records import Case, Mount

SMALL = Path(__file__).parent / "data" / "small"
HEADING = "truck,attachment,allowed,note\n"


def mounts_case(*mounts: tuple[str, str, bool]) -> Case:
    """Two trucks, two plows and two spreaders that fit each other in every way, and a table of mounts."""
    case = fit_case([truck("a"), truck("b")], [plow("p", blade=400, mount=50), plow("q")],
                    [spreader("s", empty=300, holds=500), spreader("t", holds=500)])
    return replace(case, mounts=tuple(Mount(*row) for row in mounts))


def rejected(case: Case) -> set[str]:
    """Names of the builds that do not fit."""
    builds = judged(case)
    return {builds.names[row] for row in np.flatnonzero(~builds.fits).tolist()}


def test_a_forbidden_pair_rejects_every_build_with_it():
    """Plow p on truck a and spreader t on truck b: three builds of a and three of b, and no other."""
    assert rejected(mounts_case()) == set()
    assert rejected(mounts_case(("a", "p", False), ("b", "t", False))) == {
        "a+p+s", "a+p+t", "a+p+-", "b+p+t", "b+q+t", "b+-+t"}


def test_an_allowed_pair_changes_nothing():
    """A row with allowed = yes says what holds anyway; what no row names is allowed."""
    assert rejected(mounts_case(("a", "p", True))) == set()


def test_an_id_that_a_plow_and_a_spreader_share_means_both():
    """Ids are given once in a table; one that two tables give is forbidden in both."""
    case = mounts_case(("a", "p", False))
    case = replace(case, spreaders=(replace(case.spreaders[0], id="p"), case.spreaders[1]))
    assert rejected(case) == {"a+p+p", "a+p+t", "a+p+-", "a+q+p", "a+-+p"}


def test_the_reason_names_the_table_and_the_mass_it_keeps_off():
    """Plow p of 400 + 50 lb and spreader s of 300 lb, both forbidden: 750 lb against none, beside nothing
    else."""
    builds = judged(mounts_case(("a", "p", False), ("a", "s", False)))
    reason, = builds.reasons[the(builds, "a+p+s")]
    assert (reason.rating, reason.state, reason.limit, reason.unit) == ("mounts table", "", 0, "kg")
    assert round(reason.load / 0.45359237, 6) == 750
    assert builds.binds[the(builds, "a+p+s")] == "mounts table"


def test_blocks_of_the_catalog_read_the_table_by_id(monkeypatch):
    """Worked through truck by truck or plow by plow, the second truck's row still means the second truck."""
    for size in (1, 9):
        monkeypatch.setattr(builds_module, "BLOCK", size)
        assert rejected(mounts_case(("b", "q", False))) == {"b+q+s", "b+q+t", "b+q+-"}


def with_mounts(folder: Path, rows: str) -> Path:
    """The four-site case with a table of mounts."""
    case = shutil.copytree(SMALL, folder / "case")
    (case / "mounts.csv").write_text(HEADING + rows, encoding="utf-8")
    return case


def test_the_table_is_read_and_is_optional(tmp_path):
    """Ids stay text as typed, yes and no are read; without the file there are no rows."""
    case = read_case(with_mounts(tmp_path, "ht,p90,no,too heavy\not,hop,yes,\n"))
    assert case.mounts == (Mount("ht", "p90", False), Mount("ot", "hop", True))
    assert read_case(SMALL).mounts == ()


def test_an_id_that_no_row_has_is_told_with_the_nearest(tmp_path):
    """'tqtt' is no truck but nearly one, 'hopp' nearly a spreader; a spreader is no truck."""
    found = check_case(with_mounts(tmp_path, "tqtt,p75,no,\nht,hopp,no,\nhop,p75,no,\n"))[1]
    told = [(problem.code, problem.places[0].row, problem.places[0].column, problem.remedy.split("?")[0])
            for problem in found]
    assert [row[:3] for row in told] == [("id.unknown", 2, "truck"), ("id.unknown", 3, "attachment"),
                                         ("id.unknown", 4, "truck")]
    assert [row[3] for row in told[:2]] == ["Did you mean 'tqt'", "Did you mean 'hop'"]


def test_a_pair_that_is_there_twice_is_told(tmp_path):
    """The same pair twice, whatever the rows say, is one problem that names both places."""
    problem, = check_case(with_mounts(tmp_path, "ht,p90,no,\nht,p75,no,\nht,p90,yes,\n"))[1]
    assert (problem.code, [place.row for place in problem.places]) == ("id.twice", [4, 2])


def test_the_recheck_knows_the_table():
    """A plan with a forbidden pair fails the check of what may be mounted, at the attachment."""
    for attachment in ("blade", "hopper"):
        case = replace(sp.CASE, mounts=(Mount("light", attachment, False), Mount("light", "other", False)))
        broken = [row for row in recheck(sp.PLAN, case).checks if not row.passed]
        assert [(row.name, row.worst, row.where) for row in broken] == [
            ("attachments allowed", -1, f"truck 1, {attachment}")]
    allowed = replace(sp.CASE, mounts=(Mount("light", "blade", True),))
    assert recheck(sp.PLAN, allowed).passed
