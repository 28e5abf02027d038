"""A drill: what is late and left out when a truck is lost."""

from optibuild.records.drill import Drill, LostTruck
from optibuild.report.charts.chart import MOST_ROWS, Chart, named, shown_of
from optibuild.report.charts.lying_bars import Bars, Row, lying_bars, stacked
from optibuild.report.console import number
from optibuild.report.drill_screen import lost_table, worst_words

BARS = Bars(("late",), "minutes late, summed over the sites")


def truck_losses(found: Drill) -> Chart | None:
    """Minutes late for each truck lost, those alike in one bar; None where nothing comes late."""
    if not any(row.left.late_min for row in found.lost):
        return None
    shown = sorted(found.lost, key=_bad, reverse=True)[:MOST_ROWS]
    told = ("A bar for each truck lost, the worst first: by how many minutes the others are "
            "late after planning again, summed over the sites; beside it how many sites are not served.")
    rows = [Row(f"without truck {_numbers(row)} \u2013 {named(row.build)}", _note(row),
                stacked((row.left.late_min,))) for row in shown]
    title = worst_words(found) + shown_of(shown, found.lost, "losses that are worst")
    return lying_bars("truck-losses", title, told, lost_table(found), BARS, rows)


def _bad(row: LostTruck) -> tuple[int, float]:
    """What is worse first: sites left out, then minutes late."""
    return len(row.left.not_served), row.left.late_min


def _numbers(row: LostTruck) -> str:
    return " or ".join(map(str, row.truck_nos))


def _note(row: LostTruck) -> str:
    left, late = _bad(row)
    missed = [f"{left} not served"] if left else []
    minutes = [f"{number(late, 1)} min"] if late or not left else []
    return ", ".join(minutes + missed) + ("" if row.left.proved else " (not proved)")
