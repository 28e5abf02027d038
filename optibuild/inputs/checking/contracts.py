"""What contracts must agree on: a form once for a site, bands apart, bands and caps where they belong."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import inf
from typing import Any

from optibuild.inputs.declared.declaration import blank_value
from optibuild.inputs.declared.problems import Collector
from optibuild.inputs.reading.tables import Row, Table
from optibuild.records import hundredths

OF_FORM = {"from_depth_m": "event", "to_depth_m": "event", "cap": "season", "overage_usd": "season"}
"""Columns that one form alone has."""
CODES = {"event": "contract.band", "season": "contract.cap"}
Band = tuple[float, float]
"""Snowfall from which and to which an event is paid for, in hundredths of an inch as it is compared."""


def check_contracts(contracts: Table, collector: Collector) -> None:
    """Bands and caps of every row, and the rows of one site among themselves."""
    blanks = {declared.field: blank_value(declared) for declared in contracts.declared}
    together: dict[tuple[str | None, str], list[Row]] = defaultdict(list)
    for row in contracts.rows:
        _check_form(contracts, row, blanks, collector)
        _check_overage(contracts, row, collector)
        _check_band(contracts, row, collector)
        if {"site", "form"} <= row.values.keys():
            together[row.values["site"], row.values["form"]].append(row)
    for (site, form), rows in together.items():
        check = _check_apart if form == "event" else _check_once
        check(contracts, rows, "every site" if site is None else f"'{site}'", collector)


def _check_form(contracts: Table, row: Row, blanks: Mapping[str, Any], collector: Collector) -> None:
    """A default that was typed does no harm, and a case written back may hold it."""
    typed = row.values.get("form")
    for field, form in OF_FORM.items():
        if typed not in (None, form) and row.values.get(field, blanks[field]) != blanks[field]:
            said = field.removesuffix("_m").removesuffix("_usd")
            collector.add(CODES[form], f"{said} is given, and form is {typed}", contracts.place(row, field),
                          contracts.place(row, "form"), value=typed,
                          expected=f"form {form}, or a blank {said}")


def _check_overage(contracts: Table, row: Row, collector: Collector) -> None:
    values = row.values
    if values.get("form") == "season" and values.get("cap") == inf and values.get("overage_usd") is not None:
        collector.add("contract.cap", "overage is given, and cap is blank", contracts.place(row, "cap"),
                      contracts.place(row, "overage_usd"), value="",
                      expected="how many events the amount includes")


def _band(row: Row) -> Band | None:
    """The band of a row of form event; None where it could not be read."""
    ends = row.values.get("from_depth_m"), row.values.get("to_depth_m")
    if row.values.get("form") != "event" or ends[0] is None or ends[1] is None:
        return None
    return hundredths(ends[0]), hundredths(ends[1])


def _check_band(contracts: Table, row: Row, collector: Collector) -> None:
    band = _band(row)
    if band and band[0] >= band[1]:
        collector.add("contract.band", f"no snowfall lies {_said(band)}", contracts.place(row, "to_depth_m"),
                      contracts.place(row, "from_depth_m"), value=_inches(band[1]),
                      expected=f"above {_inches(band[0])}, or a blank")


def _said(band: Band) -> str:
    if band[1] == inf:
        return f"from {_inches(band[0])} on"
    return f"from {_inches(band[0])} to below {_inches(band[1])}"


def _inches(depth: float) -> str:
    return f"{depth / 100:.10g} in"


def _check_apart(contracts: Table, rows: Iterable[Row], whose: str, collector: Collector) -> None:
    """No snowfall lies in two bands of one site."""
    sound = [(band, row) for row in rows if (band := _band(row)) and band[0] < band[1]]
    reaching: tuple[Band, Row] | None = None
    for band, row in sorted(sound, key=lambda one: (one[0], one[1].number)):
        if reaching and band[0] < reaching[0][1]:
            collector.add("contract.band", f"for {whose} there are bands {_said(reaching[0])} and "
                          f"{_said(band)}", contracts.place(row, "from_depth_m"),
                          contracts.place(reaching[1], "to_depth_m"), value=_inches(band[0]),
                          expected="bands that do not overlap")
        if reaching is None or band[1] > reaching[0][1]:
            reaching = band, row


def _check_once(contracts: Table, rows: Iterable[Row], whose: str, collector: Collector) -> None:
    first, *others = rows
    for row in others:
        form = row.values["form"]
        collector.add("contract.twice", f"form {form} for {whose} is there twice",
                      contracts.place(row, "form"), contracts.place(first, "form"), value=form,
                      expected="one row for a site and form")
