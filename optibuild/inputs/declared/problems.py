"""Every kind of problem, declared once, and the list they are collected in."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

from optibuild.errors import Place, Problem

# difflib compares with every candidate: beyond this many it would take longer than reading the case
MOST_CANDIDATES = 2000
# a table of nothing but mistakes must not fill the memory with reports of them
MOST_PROBLEMS = 100_000


@dataclass(frozen=True)
class Code:
    """A kind of problem: stable code, title, what to do about it."""

    code: str
    title: str
    remedy: str
    severity: str = "error"


CODES: dict[str, Code] = {row.code: row for row in (
    Code("file.missing", "A table is not there", "Add it, or give its path with the key tables.NAME."),
    Code("file.path", "A path that is not allowed",
         "Give a relative path to a .csv or .xlsx file, with no links on the way."),
    Code("file.large", "A file too large to be a table", "Name the right file, or split it."),
    Code("file.text", "A file that is not text", "Save it as UTF-8 text; a spreadsheet calls it CSV UTF-8."),
    Code("file.encoding", "A file whose encoding is assumed",
         "Look at the letters with accents; save it as UTF-8 text to be sure.", "warning"),
    Code("file.csv", "A file that is not a table of cells",
         "Save it as comma-separated values, quotes closed."),
    Code("file.decimals", "Numbers that could be read in two ways",
         "See that the figures are right; save with commas between cells and decimal points to be sure.",
         "warning"),
    Code("file.unread", "A file that nobody reads",
         "Rename it, or give its path with the key tables.NAME.", "warning"),
    Code("file.workbook", "A workbook that cannot be read", "Open it in a spreadsheet and save it as .xlsx."),
    Code("file.unsafe", "A workbook that is refused", "Copy the tables into a new workbook."),
    Code("file.toml", "A .toml file that cannot be read", "Mend the line that the message names."),
    Code("sheet.missing", "A sheet that is not there", "Add it, or name the right one after '#'."),
    Code("sheet.unread", "A sheet that nobody reads",
         "Rename it, or begin its name with 'note' to have it ignored.", "warning"),
    Code("sheet.hidden", "A hidden sheet, row or column",
         "It is read like the others; delete it if it should not count.", "warning"),
    Code("sheet.merged", "Merged cells", "Unmerge them and fill in every cell."),
    Code("key.unknown", "A key that does not exist", "`optibuild columns` lists every key."),
    Code("key.twice", "A key that is there twice", "Keep one of them."),
    Code("heading.missing", "A needed column is not there",
         "Add the column; `optibuild columns` lists them all."),
    Code("heading.unknown", "A column that does not exist",
         "Correct the heading, or begin it with 'note' to have it ignored."),
    Code("heading.twice", "A column that is there twice", "Keep one of them."),
    Code("unit.missing", "A unit is missing",
         "Write the unit: in a heading as 'gvwr [lb]', in a value as '22 mph'."),
    Code("unit.wrong", "A unit of the wrong kind", "Use one of the units that the message lists."),
    Code("unit.unwanted", "A unit where none belongs", "Leave the unit out."),
    Code("row.long", "A row with more cells than the heading",
         "Put cells that hold a comma between quotes, or remove the extra cells."),
    Code("row.short", "A row with fewer cells than the heading",
         "See that no comma is missing; add the blank cells to be sure.", "warning"),
    Code("cell.formula", "A formula without a value",
         "Open the workbook in a spreadsheet, let it calculate and save it; or write the value."),
    Code("cell.error", "A cell that shows an error", "Mend the formula, or write the value."),
    Code("cell.date", "A date where none belongs",
         "Format the cell as a number, or an id's column as text, and type the value anew."),
    Code("cell.padded", "A number shown with other digits than it has",
         "Format the column as text and type the ids anew."),
    Code("value.missing", "A needed value is blank", "Fill in the value."),
    Code("value.kind", "A value of the wrong kind", "Write the value as the message says."),
    Code("value.number", "Text where a number belongs",
         "Write the number alone in a cell, with its unit in a key."),
    Code("value.ambiguous", "A number that can be read in two ways",
         "Write it so that only one reading is left."),
    Code("value.finite", "A number that is not finite",
         "Write an ordinary number; for no limit leave the cell blank or the key out."),
    Code("value.whole", "A fraction where a whole number belongs", "Write a whole number."),
    Code("value.range", "A number out of range", "Check sign, decimal point and unit."),
    Code("value.word", "A word that is not in the list", "Use one of the listed words."),
    Code("value.id", "A name that cannot be used", "Rename it, here and wherever it is named."),
    Code("value.control", "Characters that cannot be printed", "Type the text anew."),
    Code("value.long", "A text that is too long", "Shorten it."),
    Code("id.twice", "The same id twice", "Give each row its own id."),
    Code("id.unknown", "An id that no row has", "Correct the id, or add the row it should name."),
    Code("table.empty", "A table without rows", "Add at least one row."),
    Code("table.clocks", "Too many cycle limits",
         "Round plow_every, deice_every and end_within to a few values, or raise assumptions.tau_step."),
    Code("truck.ratings", "Axle ratings that add up to less than the gross rating",
         "Copy gvwr, gawr_front and gawr_rear from the certification label."),
    Code("truck.curb", "A truck heavier than its gross rating",
         "Check the axle weights (curb_front, curb_rear) and gvwr."),
    Code("truck.curb_axle", "An axle that is over its rating before anything is mounted",
         "Check the axle weights; no build of this truck can fit.", "warning"),
    Code("truck.turning", "A turning circle smaller than the wheelbase allows",
         "Give the diameter of the circle, curb to curb, or leave it blank and give steer_angle."),
    Code("truck.seats", "More occupants than seats", "Lower crew.occupants, or correct the column seats."),
    Code("truck.seat", "A seat behind the rear axle",
         "Give seat as the distance behind the front axle, and check its unit."),
    Code("item.loan", "A loan that is half given", "Fill in both loan_rate and loan_years, or neither."),
    Code("item.lease", "An item both leased and bought with a loan",
         "Leave blank either lease or the columns of the loan."),
    Code("item.declining", "A declining worth that ends at nothing",
         "Give a resale above 0, or let value_falls be straight."),
    Code("item.hired", "A hired truck that is bought or owned too",
         "Leave the other column blank; give a truck of your own a row of its own."),
    Code("spreader.center", "A load centered far from every bed",
         "Check the sign and the unit: distances run from the bed's end, positive to the rear."),
    Code("site.limit", "A work without its cycle limit",
         "Fill in plow_every where snow is plowed, and deice_every or plow_every where the site is deiced."),
    Code("site.pay", "Pay that is half given", "Fill in both pay_by and pay, or neither."),
    Code("site.timed", "A timing that cannot be used",
         "Fill in timed, timed_truck, timed_plow and timed_depth, or none of them."),
    Code("contract.band", "A band of depths that cannot be used",
         "Give bands to form event alone, each with to_depth above from_depth, and none over another."),
    Code("contract.cap", "A cap or overage that cannot be used",
         "Give cap and overage to form season alone, and overage only beside a cap."),
    Code("contract.twice", "A form of contract that is there twice", "Keep one of the rows."),
    Code("winter.few", "Few past winters", "Add winters: a risk that is drawn from so few says little.",
         "warning"),
    Code("winter.count", "A count that is not the mean of the past winters",
         "Leave count blank to follow the winters; a typed one is used for expected costs.", "warning"),
    Code("doubt.value", "A value that looks mistyped", "Check it against the range; keep it if it is right.",
         "warning"),
    Code("doubt.unit", "A value that looks typed in another unit",
         "Correct the value, or the unit in the heading.", "warning"),
    Code("doubt.payload", "A truck that can carry next to nothing",
         "Check the axle weights (curb_front, curb_rear), gvwr and their units.", "warning"),
    Code("doubt.curb", "A truck that looks too light",
         "Check the axle weights (curb_front, curb_rear), gvwr and their units.", "warning"),
    Code("doubt.twice", "A weight that looks typed twice",
         "Give blade_mass what comes off the truck, and mount_mass what stays on.", "warning"),
    Code("doubt.heavy", "A plow far too heavy for every truck",
         "Check its weights and their units, and the front axles of the trucks.", "warning"),
    Code("doubt.center", "A load centered outside every bed",
         "Check the sign, the unit and bed_length: distances run from the bed's end, positive to the rear.",
         "warning"),
    Code("doubt.far", "A site far from every depot", "Check lat and lon of the site and of the depots.",
         "warning"),
    Code("doubt.narrow", "A site narrower than every truck", "Check clear_width and its unit.", "warning"),
    Code("doubt.work", "A work that nothing can do", "Add what does it, or correct the sites' column work.",
         "warning"),
    Code("doubt.traction", "Wheels that cannot even move their truck",
         "Check assumptions.rolling and assumptions.mu_snow.", "warning"),
    Code("doubt.unused", "A value that nothing reads",
         "Leave it out, or correct what it goes with.", "warning"),
    Code("doubt.template", "Invented rows or keys of the case to begin from",
         "Type your own, or delete the table where it may be left out.", "warning"),
    Code("doubt.fuel", "A price of a fuel that no truck burns",
         "Correct the key, or the trucks' column fuel.", "warning"),
    Code("doubt.pay", "A question about pay, and no pay",
         "Fill in pay_by and pay, or ask question = \"cover\".", "warning"),
    Code("doubt.budget", "A budget below the price of every truck", "Check the budget and the prices.",
         "warning"),
    Code("variation.form", "A variation that is not understood", "Write it as the message says."),
    Code("variation.name", "A variation without a usable name",
         "Give each its own name, of at most 100 characters that can be printed; 'base' is taken."),
    Code("variation.twice", "A name that two variations have", "Give each its own name."),
    Code("variation.unknown", "A variation that names what is not there", "Correct the name."),
    Code("variation.circle", "Variations that inherit from each other", "Take one out of the circle."),
    Code("variation.rows", "A change that finds no row",
         "Correct where; leave it out to change every row of the table."),
    Code("variation.blank", "A blank cell that cannot be added to or scaled",
         "Fill it in, or change only filled cells: where = { the column = \"*\" }."),
    Code("variation.nothing", "A change that changes nothing", "Correct the change, or take it out.",
         "warning"),
    Code("variation.copied", "A copy of which other tables do not tell",
         "Copy these rows too, with the id of the copy, or drop the copy.", "warning"),
    Code("variation.same", "Two variations that are the same case", "Take one of them out.", "warning"),
    Code("variation.many", "Too many variations", "Give sweeps fewer values, or combine fewer of them."),
    Code("problems.many", "More problems than can be listed", "Mend those that are listed, and check again."),
    Code("assumption.range", "An assumption outside the published range",
         "Keep it if you know better; the result names it.", "warning"),
)}


SAYS_ALL = ("value.number", "value.ambiguous", "value.missing")
"""Codes whose hints say what to write: the general remedy would only repeat them."""


class Fault(Exception):
    """A value that cannot be read: the problem's code, what to say, what was expected, a hint."""

    def __init__(self, code: str, text: str, expected: str, hint: str = "") -> None:
        super().__init__(text)
        self.code, self.text, self.expected, self.hint = code, text, expected, hint


def printable(text: str) -> str:
    """A text with what cannot be printed written out, so that no file steers the screen that shows it."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def _prints(place: Place) -> bool:
    return place.column.isprintable() and place.file.isprintable() and place.sheet.isprintable()


def _printed(place: Place) -> Place:
    return replace(place, file=printable(place.file), sheet=printable(place.sheet),
                   column=printable(place.column))


@dataclass
class Collector:
    """Gathers problems while reading goes on, so that one run shows them all."""

    problems: list[Problem] = field(default_factory=list)
    unlisted: int = 0

    def add(self, code: str, text: str, *places: Place, value: str | None = None,
            expected: str | None = None, hint: str = "", remedy: str = "") -> None:
        """One problem more; `hint` goes before the remedy, the code's own unless one is given."""
        if len(self.problems) >= MOST_PROBLEMS:
            self.unlisted += 1
            return
        text, hint, remedy = printable(text), printable(hint), printable(remedy)
        value, expected = (None if said is None else printable(said) for said in (value, expected))
        places = tuple(place if _prints(place) else _printed(place) for place in places)
        kind = CODES[code]
        remedy = f"{hint} {remedy or kind.remedy}".strip()
        self.problems.append(Problem(code, kind.title, text, remedy, places, value, expected, kind.severity))

    def add_fault(self, fault: Fault, place: Place, value: str) -> None:
        """The problem that a value which cannot be read makes at its place."""
        how = {"remedy" if fault.code in SAYS_ALL else "hint": fault.hint}
        self.add(fault.code, fault.text, place, value=value, expected=fault.expected, **how)

    @property
    def failed(self) -> bool:
        """Whether any of them is an error."""
        return any(problem.severity == "error" for problem in self.problems)

    def in_order(self) -> tuple[Problem, ...]:
        """All of them, sorted by place; the last one counts those that were too many to list."""
        found = sorted(self.problems, key=lambda problem: (problem.places, problem.code, problem.text))
        if self.unlisted:
            kind = CODES["problems.many"]
            said = "problem is" if self.unlisted == 1 else "problems are"
            found.append(Problem(kind.code, kind.title, f"{self.unlisted:,} more {said} not listed",
                                 kind.remedy))
        return tuple(found)


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
