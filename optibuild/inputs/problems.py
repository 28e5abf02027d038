"""Every kind of problem, declared once, and the list they are collected in."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from optibuild.errors import Place, Problem

# difflib compares with every candidate: beyond this many it would take longer than reading the case
MOST_CANDIDATES = 2000


@dataclass(frozen=True)
class Code:
    """A kind of problem: stable code, title, what to do about it."""

    code: str
    title: str
    remedy: str
    severity: str = "error"


CODES: dict[str, Code] = {row.code: row for row in (
    Code("file.missing", "A table is not there", "Add the file, or name the right one under [tables]."),
    Code("file.path", "A path that is not allowed",
         "Give a relative path to a .csv file, with no links on the way."),
    Code("file.text", "A file that is not UTF-8 text", "Save it as CSV UTF-8."),
    Code("file.csv", "A file that is not a table with commas",
         "Save it as comma-separated values, quotes closed."),
    Code("file.toml", "case.toml cannot be read", "Mend the line that the message names."),
    Code("key.unknown", "A key that does not exist", "For every key see the column tables in README.md."),
    Code("heading.missing", "A needed column is not there",
         "Add the column; see the column tables in README.md."),
    Code("heading.unknown", "A column that does not exist",
         "Correct the heading, or begin it with 'note' to have it ignored."),
    Code("heading.twice", "A column that is there twice", "Keep one of them."),
    Code("unit.missing", "A unit is missing",
         "Write the unit: in a heading as 'gvwr [lb]', in a value as '22 mph'."),
    Code("unit.wrong", "A unit of the wrong kind", "Use one of the units that the message lists."),
    Code("unit.unwanted", "A unit where none belongs", "Leave the unit out."),
    Code("row.long", "A row with more cells than the heading",
         "Put cells that hold a comma between quotes, or remove the extra cells."),
    Code("value.missing", "A needed value is blank", "Fill in the value."),
    Code("value.kind", "A value of the wrong kind", "Write the value as the message says."),
    Code("value.number", "Text where a number belongs", "Write digits only; the unit stands in the heading."),
    Code("value.finite", "A number that is not finite",
         "Write an ordinary number; leave the cell blank for no limit."),
    Code("value.whole", "A fraction where a whole number belongs", "Write a whole number."),
    Code("value.range", "A number out of range", "Check sign, decimal point and unit."),
    Code("value.word", "A word that is not in the list", "Use one of the listed words."),
    Code("value.id", "A name that cannot be used", "Rename it: printed characters only."),
    Code("id.twice", "The same id twice", "Give each row its own id."),
    Code("id.unknown", "An id that no row has", "Correct the id, or add the row it should name."),
    Code("table.empty", "A table without rows", "Add at least one row."),
    Code("truck.ratings", "Axle ratings that add up to less than the gross rating",
         "Copy gvwr, gawr_front and gawr_rear from the certification label."),
    Code("truck.curb", "A truck heavier than its gross rating",
         "Check the axle weights (curb_front, curb_rear) and gvwr."),
    Code("truck.curb_axle", "An axle that is over its rating before anything is mounted",
         "Check the axle weights; no build of this truck can fit.", "warning"),
    Code("truck.turning", "A turning circle smaller than the wheelbase allows",
         "Give the diameter of the circle, curb to curb, or leave it blank and give steer_angle."),
    Code("truck.seats", "More occupants than seats", "Lower crew.occupants, or correct the column seats."),
    Code("site.limit", "A work without its cycle limit",
         "Fill in plow_every where snow is plowed, and deice_every or plow_every where the site is deiced."),
    Code("site.pay", "Pay that is half given", "Fill in both pay_by and pay, or neither."),
    Code("assumption.range", "An assumption outside the published range",
         "Keep it if you know better; the result names it.", "warning"),
)}


class Fault(Exception):
    """A value that cannot be read: the problem's code, what to say, what was expected, a hint."""

    def __init__(self, code: str, text: str, expected: str, hint: str = "") -> None:
        super().__init__(text)
        self.code, self.text, self.expected, self.hint = code, text, expected, hint


@dataclass
class Collector:
    """Gathers problems while reading goes on, so that one run shows them all."""

    problems: list[Problem] = field(default_factory=list)

    def add(self, code: str, text: str, *places: Place, value: str | None = None,
            expected: str | None = None, hint: str = "") -> None:
        """One problem more; `hint` goes before the code's own remedy."""
        kind = CODES[code]
        remedy = f"{hint} {kind.remedy}".strip()
        self.problems.append(Problem(code, kind.title, text, remedy, places, value, expected, kind.severity))

    def add_fault(self, fault: Fault, place: Place, value: str) -> None:
        """The problem that a value which cannot be read makes at its place."""
        self.add(fault.code, fault.text, place, value=value, expected=fault.expected, hint=fault.hint)

    @property
    def failed(self) -> bool:
        """Whether any of them is an error."""
        return any(problem.severity == "error" for problem in self.problems)

    def in_order(self) -> tuple[Problem, ...]:
        """All of them, sorted by place."""
        return tuple(sorted(self.problems, key=lambda problem: (problem.places, problem.code, problem.text)))


def nearest(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate that looks most like a word, letter case aside; None where none does."""
    by_folded = {candidate.casefold(): candidate for candidate in candidates}
    if len(by_folded) > MOST_CANDIDATES:
        return by_folded.get(word.casefold())
    close = get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None


def did_you_mean(word: str, candidates: Iterable[str]) -> str:
    """The hint that names the nearest candidate, or an empty one."""
    found = nearest(word, candidates)
    return f"Did you mean '{found}'?" if found else ""
