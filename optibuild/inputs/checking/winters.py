"""Past winters and the season: which events they count, and how many of each are expected."""

from collections.abc import Iterable, Mapping
from statistics import fmean

from optibuild.inputs.declared.columns import WINTER, count_column
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.tables import Row, Table
from optibuild.records import Winter

FEWEST = 5
"""Fewer winters than this hardly tell how much winters differ (common practice, no source)."""
CLOSE = 0.005
"""A count this near to the mean is the mean, rounded by hand."""


def mean_counts(winters: Iterable[Winter]) -> tuple[float, ...]:
    """Mean number of events of each class over the winters [E]; nothing where there are none."""
    return tuple(map(fmean, zip(*(winter.counts for winter in winters), strict=True)))


def check_winters(tables: Mapping[str, Table | None], collector: Collector) -> None:
    """Expected counts are given or follow from the winters, which are not few, and do not contradict them."""
    season, winters = tables["season"], tables["past_winters"]
    if season is None or winters is None:
        return
    if winters.rows:
        _check_few(winters, collector)
    for row in season.rows:
        if winters.rows:
            _check_name(season, row, winters, collector)
            _check_mean(season, row, winters, collector)
        elif row.values.get("count", 0.0) is None:
            collector.add("value.missing", "'count' is blank, and there are no past winters",
                          season.place(row, "count"), winters.place(), value="",
                          expected="a number, or the table past_winters")


def _check_few(winters: Table, collector: Collector) -> None:
    given = len(winters.rows)
    if given < FEWEST:
        said = "winter is" if given == 1 else "winters are"
        collector.add("winter.few", f"{given} past {said} given", winters.place(), value=str(given),
                      expected=f"{FEWEST} or more: how winters differ is taken from these alone")


def _check_name(season: Table, row: Row, winters: Table, collector: Collector) -> None:
    if row.values.get("id") == WINTER.name:
        collector.add("value.id", f"in past_winters the column '{WINTER.name}' holds the winters' names",
                      season.place(row, "id"), winters.place(), value=WINTER.name,
                      expected="another name for the event class")


def _check_mean(season: Table, row: Row, winters: Table, collector: Collector) -> None:
    """A typed count is that of the winters; passed over where one of theirs could not be read."""
    typed, field = row.values.get("count"), count_column(row.values.get("id", "")).field
    counts = [winter.values[field] for winter in winters.rows if field in winter.values]
    if typed is None or len(counts) < len(winters.rows):
        return
    mean = fmean(counts)
    if abs(typed - mean) > CLOSE * mean:
        collector.add("winter.count", f"count is {typed:.6g}, the mean of the past winters is {mean:.6g}",
                      season.place(row, "count"), winters.place(), value=f"{typed:.6g}",
                      expected=f"{mean:.6g}, or a blank, which means the same")
