"""Ways in which people and disks spoil the tables of a case: cells, headings, structure, encodings, bytes.

Every mutation takes a random generator and the files of a case, changes the files, and says whether the case
must still be read, and read the same (`HARMLESS`), or not (`ANY`).
"""

import csv
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from random import Random

from optibuild.inputs import TABLES
from optibuild.units import SPELLINGS

Files = dict[str, bytes]
Grid = list[list[str]]
Mutation = Callable[[Random, Files], bool]
HARMLESS, ANY = True, False
SMALL = Path(__file__).parent / "data" / "small"

NASTY = (
    "nan", "inf", "-inf", "1e999", "-0", "0", "-1", "1,250", "1.250", "1,250,000", "1.250.000", "1.250,5",
    "12,5", "12.5", ".5", "5.", ",5", "5,", "0,500", "0.500", "12,34", "1,2345", "7'6\"", "7 ft", "$5",
    "$ 5", "5$", "-$5", "5 %", "5%", "0.5 %", "% 5", "٣", "１２", "1_000", "0x10", "1e3", "1E-2", "1e",
    "1.250e3", "TRUE", "true", "no", "Y", "N/A", "NA", "null", "None", "-", "--5", "+5", "+ 5", "- 5",
    "2026-11-25", "3/4", "1 1/2", "7:30", "=1+1", "@x", "'=x", "'5", "007", "1 250", "1\xa0250",
    "1\u202f250.5", "1 25", "12 500", "\u22125", "5\u200b", "\u202e5", "\ufeff5", "\x00", "\x07",
    "\x1b[31m", "5\n", "a\nb", 'a"b', '"', '""', "a;b", "a\tb", "a,b", "é", "“5”", "½", "5²", "(5)", "5 lb",
    "5kg", "lb", "#REF!", "#N/A", "1" * 400, "x" * 70, "y" * 2100, "  ", "\xa0", "ht", "salt", "4wd",
    "Side", "PLOW", "gas", "1.5.2", "1,25.5", "1.25,5", "1e5,5", "9" * 25, "1e-400",
)
IN_MANY_WAYS = ("1.250", "1,250", "2,5", "2.5", "1.250,5", "1,250.5", "3", "0,250", "1 250", "1.250.000",
                "$1.250", "1,250 %", "1.250e2", "5.")
LETTERS = "0123456789.,;-+eE$% '\"[]=ab_#\t\n\r\\/\u00a0é\u200b٣"
SEPARATORS = (";", "\t")


def cells(content: bytes) -> Grid:
    """The cells of a table of the case, or of whatever it has become."""
    return list(csv.reader(StringIO(content.decode("utf-8", "replace"), newline="")))


def text(grid: Grid, separator: str = ",") -> bytes:
    """Cells as a text file, in quotes where needed."""
    lines = StringIO(newline="")
    csv.writer(lines, delimiter=separator, lineterminator="\n").writerows(grid)
    return lines.getvalue().encode()


def any_table(rng: Random, files: Files) -> tuple[str, Grid]:
    """One table that is there and has a row."""
    grids = {name: cells(content) for name, content in sorted(files.items()) if name.endswith(".csv")}
    return rng.choice([(name, grid) for name, grid in grids.items() if len(grid) > 1 and grid[0] and grid[1]])


def edited(rng: Random, old: str) -> str:
    """A text with a letter put in, taken out, changed or doubled."""
    at = rng.randint(0, max(0, len(old) - 1))
    letter = rng.choice(LETTERS)
    before, after = old[:at], old[at + 1:]
    return rng.choice([before + letter + old[at:], before + after, before + letter + after,
                       old[:at + 1] + old[at:], old + letter])


def any_cell(rng: Random, grid: Grid) -> tuple[int, int]:
    """Row and column of a cell below the heading."""
    row = rng.randrange(1, len(grid))
    return row, rng.randrange(max(1, len(grid[row])))


def cell_nasty(rng: Random, files: Files) -> bool:
    """A cell holds what people and programs leave in cells."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    if grid[row]:
        grid[row][column] = rng.choice(NASTY)
    files[name] = text(grid)
    return ANY


def cell_edited(rng: Random, files: Files) -> bool:
    """A slip of the finger in a cell."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    if grid[row]:
        grid[row][column] = edited(rng, grid[row][column])
    files[name] = text(grid)
    return ANY


def cell_raw(rng: Random, files: Files) -> bool:
    """The same with nobody minding the quotes."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    if grid[row] and (old := grid[row][column]):
        files[name] = files[name].replace(old.encode(), rng.choice(NASTY).encode(), 1)
    return ANY


def column_swapped(rng: Random, files: Files) -> bool:
    """Two columns change places, headings and all."""
    name, grid = any_table(rng, files)
    one, other = rng.randrange(len(grid[0])), rng.randrange(len(grid[0]))
    if len({len(row) for row in grid}) > 1:
        return ANY
    for row in grid:
        row[one], row[other] = row[other], row[one]
    files[name] = text(grid)
    return HARMLESS


def column_nasty(rng: Random, files: Files) -> bool:
    """A whole column holds numbers written in several ways."""
    name, grid = any_table(rng, files)
    column = rng.randrange(len(grid[0]))
    for row in grid[1:]:
        if column < len(row):
            row[column] = rng.choice(NASTY) if rng.random() < 0.5 else str(rng.randint(1, 5000))
    files[name] = text(grid)
    return ANY


def heading_changed(rng: Random, files: Files) -> bool:
    """A heading with a slip, another unit, another case, other brackets; twice, or of another column."""
    name, grid = any_table(rng, files)
    column = rng.randrange(len(grid[0]))
    old = grid[0][column]
    columns = [declared.name for declared in TABLES.get(name.removesuffix(".csv"), TABLES["sites"])]
    unit = rng.choice(list(SPELLINGS))
    grid[0][column] = rng.choice([
        edited(rng, old), edited(rng, old), old.upper(), old.replace("_", " ").title(), old.partition("[")[0],
        f"{old.partition('[')[0]}[{unit}]", f"{old.partition('[')[0]}[ {unit.upper()} ]",
        old.replace("[", "(").replace("]", ")"), f"[{old}]", f"{old} [{unit}]", f"note {old}", f"  {old} ",
        "", rng.choice(columns), f"{rng.choice(columns)} [{unit}]", rng.choice(grid[0]), rng.choice(NASTY)])
    files[name] = text(grid)
    return ANY


def row_moved(rng: Random, files: Files) -> bool:
    """A row is gone, there twice, or another row's place is its own."""
    name, grid = any_table(rng, files)
    row = rng.randrange(len(grid))
    grid[row:row + 1] = rng.choice([[], [grid[row], grid[row]], [grid[row], grid[0]], [["x"], grid[row]]])
    files[name] = text(grid)
    return ANY


def rows_sorted(rng: Random, files: Files) -> bool:
    """The rows stand in another order, with blank ones between them."""
    name, grid = any_table(rng, files)
    body = [*grid[1:], *([""] * rng.randint(0, len(grid[0])) for _ in range(rng.randint(0, 3)))]
    rng.shuffle(body)
    files[name] = text([grid[0], *body])
    return HARMLESS


def blank_columns(rng: Random, files: Files) -> bool:
    """Empty columns at the end of every row."""
    name, grid = any_table(rng, files)
    more = [rng.choice(["", " ", "\u00a0"])] * rng.randint(1, 4)
    files[name] = text([[*row, *more] for row in grid])
    return HARMLESS


def cells_miscounted(rng: Random, files: Files) -> bool:
    """A row with a cell too many, or one too few, anywhere."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    if rng.random() < 0.5:
        grid[row].insert(column, rng.choice(["", "5", "x"]))
    else:
        del grid[row][column:column + rng.randint(1, 3)]
    files[name] = text(grid)
    return ANY


def separators(rng: Random, files: Files) -> bool:
    """Other marks between the cells, and some or all decimals with a comma."""
    share = rng.choice([0.0, 0.2, 1.0, 1.0])
    mark = rng.choice(SEPARATORS)
    swap = str.maketrans(",.", ".,")
    for name in rng.sample(sorted(files), 4):
        if name.endswith(".csv"):
            numbers = {cell for row in cells(files[name]) for cell in row if not cell.strip("0123456789.,-")}
            grid = cells(files[name])
            for row in grid:
                row[:] = [cell.translate(swap) if cell in numbers and rng.random() < share else cell
                          for cell in row]
            files[name] = text(grid, mark)
    return ANY


def decimals_added(rng: Random, files: Files) -> bool:
    """A file between semicolons whose numbers are written in many ways."""
    name, grid = any_table(rng, files)
    for row in grid[1:]:
        for column, cell in enumerate(row):
            if cell and not cell.strip("0123456789.,") and rng.random() < 0.4:
                row[column] = rng.choice(IN_MANY_WAYS)
    files[name] = text(grid, rng.choice(SEPARATORS))
    return ANY


def exponent_with_groups(rng: Random, files: Files) -> bool:
    """Thousands and an exponent in one number: its comma cannot be told."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    if grid[row]:
        grid[row][column] = rng.choice(["1,250e2", "1,250e-1", "$1,250E0", "1,250.5e1"])
    files[name] = text(grid, rng.choice([",", *SEPARATORS]))
    return ANY


def truncated(rng: Random, files: Files) -> bool:
    """A file that ends too soon, in the middle of anything."""
    name = rng.choice(sorted(files))
    files[name] = files[name][:rng.randint(0, len(files[name]))]
    return ANY


def files_mixed(rng: Random, files: Files) -> bool:
    """A file is gone, empty, another's, or joined with another."""
    one, other = rng.sample(sorted(files), 2)
    change = rng.randrange(4)
    if change == 0:
        del files[one]
    elif change == 1:
        files[one] = b""
    elif change == 2:
        files[one], files[other] = files[other], files[one]
    else:
        files[one] += files[other]
    return ANY


def reencoded(rng: Random, files: Files) -> bool:
    """A table, or all of them, in another encoding of Unicode and with other ends of lines."""
    encoding = rng.choice(["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
    ends = rng.choice(["\n", "\r\n", "\r"])
    names = [name for name in sorted(files) if name.endswith(".csv")]
    for name in names if rng.random() < 0.5 else [rng.choice(names)]:
        files[name] = files[name].decode("utf-8", "replace").replace("\n", ends).encode(encoding)
    return HARMLESS


def accents(rng: Random, files: Files) -> bool:
    """Words with accents, saved as Windows-1252, as UTF-8, or one so and one so."""
    name, grid = any_table(rng, files)
    row, column = any_cell(rng, grid)
    word = rng.choice(["Café", "“Größe”", "10 €", "Ærø", "Þór – x", "5\u00a0"])
    if grid[row]:
        grid[row][column] = "@@"
    parts = text(grid).split(b"@@")
    files[name] = word.encode(rng.choice(["cp1252", "utf-8"])).join(parts)
    if rng.random() < 0.3:
        files[name] += word.encode(rng.choice(["cp1252", "utf-8"]))
    return ANY


def bytes_changed(rng: Random, files: Files) -> bool:
    """Bytes flipped, put in or taken out."""
    name = rng.choice(sorted(files))
    content = bytearray(files[name] or b"x")
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(content) + 1)
        new = rng.choice([b"", rng.randbytes(1), b"\0", b"\xff", b"\xef\xbb\xbf"])
        content[at:at + rng.randint(0, 2)] = new
    files[name] = bytes(content)
    return ANY
