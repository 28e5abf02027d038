"""A site's own timing is refused where its plow clears nothing: no minutes could be scaled by it."""

import shutil
from pathlib import Path

import pytest

from optibuild.inputs import check_case

DATA = Path(__file__).parent / "data"


def _timed(folder: Path, snow_goes: str, overlap: str) -> Path:
    """The small case with its bank timed with the 7.5 ft plow, and an overlap of passes."""
    case = shutil.copytree(DATA / "small", folder / "case")
    sites = (DATA / "bad" / "site.timed" / "sites.csv").read_text(encoding="utf-8")
    sites = sites.replace("25,ht,,3", "25,ht,p75,3").replace("45,side,plow", f"45,{snow_goes},plow")
    (case / "sites.csv").write_text(sites, encoding="utf-8")
    keys = (case / "case.toml").read_text(encoding="utf-8")
    (case / "case.toml").write_text(f'{keys}\n[assumptions]\noverlap = "{overlap}"\n', encoding="utf-8")
    return case


@pytest.mark.parametrize(("snow_goes", "overlap", "reach"), [
    ("side", "77.95 in", "77.9423 in"),
    ("side", "77.94 in", None),
    ("end", "77.95 in", None),
    ("end", "90 in", "90 in"),
    ("end", "89.9 in", None),
])
def test_a_plow_no_wider_than_the_overlap_times_nothing(snow_goes: str, overlap: str, reach: str | None,
                                                        tmp_path: Path) -> None:
    """90 in at 30 degrees reach 90 x 0.8660254 = 77.9423 in to the side, and all of 90 in to the end."""
    found = [problem for problem in check_case(_timed(tmp_path, snow_goes, overlap))[1]
             if problem.code != "assumption.range"]
    assert [problem.code for problem in found] == ["site.timed"] * (reach is not None)
    for problem in found:
        assert f"reaches {reach} across" in problem.text and problem.value == "p75"
        assert [(place.file, place.row, place.column) for place in problem.places] == [
            ("sites.csv", 2, "timed_plow"), ("plows.csv", 2, "width [in]"),
            ("case.toml", 21, "assumptions.overlap")]
