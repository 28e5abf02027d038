"""What is said once of a column or key: name, meaning, dimension, default, range, words.

The one declaration reads cells, checks them, words the problem and prints the guide.
"""

from dataclasses import dataclass
from functools import cache
from math import inf
from typing import Any

from optibuild.units import Conversion, quantity, shown_unit

NO_LIMIT = "no limit"
PLAIN = ("id", "item_id", "text", "word", "yes_no", "count", "number")
SUFFIXES = {
    "mass": "_kg", "length": "_m", "area": "_m2", "volume": "_m3", "density": "_kg_per_m3", "time": "_min",
    "life": "_year", "speed": "_m_per_min", "mass_rate": "_kg_per_min", "areal_rate": "_kg_per_m2",
    "fuel_use": "_l_per_m", "fuel_rate": "_l_per_min", "money": "_usd", "money_per_time": "_usd_per_min",
    "money_per_year": "_usd_per_year", "money_per_mass": "_usd_per_kg", "money_per_volume": "_usd_per_l",
    "money_per_length": "_usd_per_m", "angle": "_rad", "temperature": "_degc",
}
# beyond these nothing in this trade is meant; they keep sums finite
WIDEST = {
    "mass": "1000 t", "length": "1000 km", "area": "10000 ha", "volume": "1000 m^3",
    "density": "10000 kg/m^3", "time": "8784 h", "life": "100 year", "speed": "200 km/h",
    "mass_rate": "10000 kg/min", "areal_rate": "10000 g/m^2", "fuel_use": "1000 L/100km",
    "fuel_rate": "1000 L/h", "money": "1000000000 USD", "money_per_time": "10000 USD/h",
    "money_per_year": "1000000000 USD/year", "money_per_mass": "1000 USD/kg",
    "money_per_volume": "1000 USD/L", "money_per_length": "1000 USD/km", "angle": "80 deg",
    "share": "100 %", "temperature": "60 degC", "count": "1000000", "number": "1000000",
}
YES = ("yes", "true", "1", "y")
NO = ("no", "false", "0", "n")


# each is made once: compared and hashed as itself, which keeps the cached bounds cheap
@dataclass(frozen=True, eq=False)
class Declaration:
    """One column of a table, or one key of case.toml.

    `dimension` is one of `PLAIN` or of `optibuild.units.DIMENSIONS`; `or_dimension` is a second one that the
    heading's unit may choose. `default` is what a blank means, as a user would type it; `derived` says in
    words what a blank becomes where that depends on other cells. `low` and `high` are typed with a unit
    ("0" needs none). `usual` is the unit that the heading has in a US case: where none is named the one that
    such figures are printed in, and empty where no unit is taken. `likely` is the range, typed likewise,
    outside which a legal value is doubted, and `because` says why: common practice, no source, where it names
    none. A needed column with `derived` must have its heading, but its cells may be blank.
    """

    name: str
    meaning: str
    dimension: str
    needed: bool = False
    default: str | None = None
    derived: str = ""
    low: str = "0"
    above_low: bool = False
    high: str = ""
    below_high: bool = False
    choices: tuple[str, ...] = ()
    or_dimension: str = ""
    stored_as: str = ""
    likely: tuple[str, str] | None = None
    because: str = ""
    usual: str = ""

    def __post_init__(self) -> None:
        if self.takes_unit and not self.usual:
            object.__setattr__(self, "usual", shown_unit(self.dimension, "us"))

    @property
    def heading(self) -> str:
        """The column as it is headed in a US case: its name, with its unit where it takes one."""
        return f"{self.name} [{self.usual}]" if self.takes_unit else self.name

    @property
    def field(self) -> str:
        """The field of the record that holds it: the name with its unit as suffix."""
        last = self.name.rpartition(".")[2]
        return self.stored_as or last + SUFFIXES.get(self.or_dimension or self.dimension, "")

    @property
    def takes_unit(self) -> bool:
        """Whether heading or value must say a unit."""
        return self.dimension not in PLAIN


@cache
def bounds(declared: Declaration, dimension: str) -> tuple[float, float]:
    """Least and greatest value in inner units; the widest sensible ones where nothing else is declared."""
    low = "-90 degC" if dimension == "temperature" and declared.low == "0" else declared.low
    own = declared.high if dimension == declared.dimension else ""
    return _bound(low, dimension), _bound(own or WIDEST[dimension], dimension)


def _bound(text: str, dimension: str) -> float:
    return 0.0 if text == "0" else quantity(text, dimension)


def in_range(value: float, declared: Declaration, dimension: str) -> bool:
    """Whether a value in inner units keeps the declared range (`nan` does not)."""
    low, high = bounds(declared, dimension)
    keeps_low = value > low if declared.above_low else value >= low
    return keeps_low and (value < high if declared.below_high else value <= high)


def blank_value(declared: Declaration) -> Any:
    """What a blank cell or an absent key means, in inner units; None where it is left to other cells."""
    text = declared.default
    if text is None:
        return "" if declared.dimension == "text" else None
    if text == NO_LIMIT:
        return inf
    if declared.dimension == "yes_no":
        return text in YES
    if declared.dimension in ("word", "text", "id"):
        return text
    value = quantity(text, declared.dimension)
    if declared.or_dimension:
        return declared.dimension, value
    return int(value) if declared.dimension == "count" else value


def expected_words(declared: Declaration, unit: str = "", conversion: Conversion | None = None,
                   dimension: str = "") -> str:
    """What a cell should hold, in the user's unit: "a number in lb, above 0 and at most 2,204,620"."""
    kind = dimension or declared.dimension
    if declared.choices:
        return " or ".join(declared.choices)
    if kind == "yes_no":
        return "yes or no"
    if kind in ("id", "item_id", "text"):
        return _NAMES[kind]
    figure = "a whole number" if kind == "count" else "a number"
    noun = f"{figure} in {_UNIT_WORDS.get(unit, unit)}" if unit else figure
    return f"{noun}, {_range_words(declared, kind, conversion or Conversion(1.0))}"


_UNIT_WORDS = {"in": "inches"}
_NAMES = {
    "text": "words that can be printed",
    "id": "a name of at most 60 characters that does not begin with = + - or @",
    "item_id": "a name of at most 60 characters, without '+', that does not begin with = - or @",
}


def _range_words(declared: Declaration, dimension: str, conversion: Conversion) -> str:
    low, high = bounds(declared, dimension)
    if conversion.inverse:
        return f"at least {_figure(conversion.from_inner(high))}"
    lower = "above" if declared.above_low else "at least"
    upper = "below" if declared.below_high else "at most"
    return f"{lower} {_figure(conversion.from_inner(low))} and {upper} {_figure(conversion.from_inner(high))}"


def _figure(number: float) -> str:
    return f"{float(f'{number:.6g}'):,.10g}"
