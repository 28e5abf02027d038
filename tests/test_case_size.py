"""A case whose arrays would not fit in memory is refused before they are made."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from optibuild.cli import main
from optibuild.cycle_time import size

SMALL = Path(__file__).parent / "data" / "small"


def test_too_many_places_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The small case has 1 depot and 4 sites: with room for 4 places the command says so and ends with 3."""
    monkeypatch.setattr(size, "MOST_PLACES", 4)
    done = CliRunner().invoke(main, ["times", str(SMALL)])
    assert done.exit_code == 3
    assert "5 depots and sites" in done.stderr and done.stdout == ""


def test_too_many_service_times_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Builds x clocks x stops beyond the limit are refused with what would help."""
    monkeypatch.setattr(size, "MOST_MINUTES", 10)
    done = CliRunner().invoke(main, ["times", str(SMALL)])
    assert done.exit_code == 3
    assert "tau_step" in done.stderr


def test_the_small_case_is_far_below_the_limits() -> None:
    """The limits as shipped let the small case through."""
    assert CliRunner().invoke(main, ["times", str(SMALL)]).exit_code == 0
