"""Text as people type and save it: encodings, line ends, blanks, quotes; and files that are refused."""

import csv
import os
import shutil
from pathlib import Path

import pytest

from optibuild.errors import Problem
from optibuild.inputs import check_case
from optibuild.records import Case

SMALL = Path(__file__).parent / "data" / "small"
FILES = sorted(path.name for path in SMALL.glob("*.csv"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the small case to be spoiled."""
    return Path(shutil.copytree(SMALL, tmp_path / "small"))


def _without(case: Case | None) -> object:
    """What a case holds but where it was read from."""
    assert case is not None
    return {name: value for name, value in vars(case).items() if name not in ("given_as", "inputs")}


def _original() -> object:
    return _without(check_case(SMALL)[0])


def _codes(problems: tuple[Problem, ...]) -> list[str]:
    return [problem.code for problem in problems]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_every_unicode_encoding_gives_the_same_case(encoding: str, folder: Path) -> None:
    """UTF-8 with and without its mark and UTF-16 in either order, marked or not, are one case, unsaid."""
    for path in [*folder.glob("*.csv"), folder / "case.toml"]:
        path.write_bytes(path.read_text(encoding="utf-8").encode(encoding))
    case, problems = check_case(folder)
    assert _without(case) == _original() and problems == ()


def test_windows_1252_is_read_and_said(folder: Path) -> None:
    """A file of the Windows code page is read as such, and the line that shows it is quoted."""
    path = folder / "sites.csv"
    text = path.read_text(encoding="utf-8").replace("Invented Bank", "Café “Nord”")
    path.write_bytes(text.encode("cp1252"))
    case, problems = check_case(folder)
    assert case is not None and case.sites[0].name == "Café “Nord”"
    assert _codes(problems) == ["file.encoding"] and problems[0].severity == "warning"
    assert problems[0].places[0].row == 2 and "Café" in str(problems[0].value)


def test_a_mixture_of_encodings_is_refused(folder: Path) -> None:
    """One cell in UTF-8 and another in Windows-1252: whichever is chosen, one would be misread."""
    path = folder / "sites.csv"
    head, _, rest = path.read_text(encoding="utf-8").replace("Invented Bank", "Café").partition("Café")
    path.write_bytes(head.encode() + "Café".encode("cp1252") + rest.encode() + "Größe,".encode())
    assert _codes(check_case(folder)[1]) == ["file.text"]


@pytest.mark.parametrize("byte", [b"\x81", b"\x8d", b"\x9d"])
def test_a_byte_of_no_encoding_is_refused(byte: bytes, folder: Path) -> None:
    """Windows-1252 leaves five bytes undefined: a file with one is no text (its table, from memory)."""
    path = folder / "plows.csv"
    path.write_bytes(path.read_bytes() + byte)
    assert _codes(check_case(folder)[1]) == ["file.text"]


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_every_line_end_gives_the_same_case(ends: str, folder: Path) -> None:
    """Line ends of every system, and blank rows at the end, change nothing."""
    for path in folder.glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines()
        width = lines[0].count(",")
        path.write_bytes(ends.join([*lines, "", "," * width, "  " + "," * width, ""]).encode())
    case, problems = check_case(folder)
    assert _without(case) == _original() and problems == ()


def test_blank_columns_at_the_end_change_nothing(folder: Path) -> None:
    """A spreadsheet that saves three empty columns more gives the same case."""
    for path in folder.glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines()
        path.write_text("".join(f"{line},, ,\n" for line in lines), encoding="utf-8")
    case, problems = check_case(folder)
    assert _without(case) == _original() and problems == ()


def test_cells_with_line_breaks_and_quotes_are_read_whole(folder: Path) -> None:
    """A quoted name may hold commas, quotes, line breaks (RFC 4180, section 2), and rows still count."""
    path = folder / "sites.csv"
    text = path.read_text(encoding="utf-8").replace("Invented Bank", '"First ""big""\nbank, north"')
    path.write_text(text.replace(",end,plow,4,", ",end,plow,-4,"), encoding="utf-8")
    _, problems = check_case(folder)
    assert [problem.places[0].row for problem in problems] == [4]
    path.write_text(text, encoding="utf-8")
    case, problems = check_case(folder)
    assert case is not None and case.sites[0].name == 'First "big"\nbank, north' and problems == ()


def _with_cell(folder: Path, file: str, old: str, new: str) -> tuple[Case | None, tuple[Problem, ...]]:
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return check_case(folder)


@pytest.mark.parametrize("typed", ["7050", "7050.0", "+7050", '"7,050"', "7 050", "7\u00a0050", "7\u202f050",
                                   " 7050 ", "\u00a07050\u00a0", "7.05e3", "7050."])
def test_one_weight_in_every_way_people_type_it(typed: str, folder: Path) -> None:
    """7,050 lb is the same mass with separators of thousands, blanks around it or an exponent."""
    case, problems = _with_cell(folder, "trucks.csv", '"7,050"', typed)
    assert problems == () and case is not None
    assert case.trucks[0].gvwr_kg == pytest.approx(7050 * 0.45359237, rel=1e-12)


@pytest.mark.parametrize(("typed", "price"), [("$41,000", 41000), ("$ 41000", 41000), ("41000.50", 41000.5)])
def test_dollars(typed: str, price: float, folder: Path) -> None:
    """A leading dollar sign belongs to money."""
    case, problems = _with_cell(folder, "trucks.csv", '"38,000"', f'"{typed}"')
    assert problems == () and case is not None and case.trucks[0].price_usd == price


@pytest.mark.parametrize("typed", ["20%", "20 %", "20", "20.0"])
def test_percentages(typed: str, folder: Path) -> None:
    """A share may repeat the percent sign of its heading."""
    path = folder / "trucks.csv"
    text = path.read_text(encoding="utf-8").replace(",note\n", ",resale [%]\n")
    path.write_text(text.replace(",invented\n", f",{typed}\n"), encoding="utf-8")
    case, problems = check_case(folder)
    assert problems == () and case is not None
    assert case.trucks[0].resale_usd == pytest.approx(0.2 * case.trucks[0].price_usd)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('"7,050"', "7050 lb", "Leave out 'lb'"),
    ('"7,050"', "3150 kg", "Write 6944.56, the number alone. Or put [kg] in the heading"),
    ('"7,050"', "7.05k", "Write 7050."),
    ('"7,050"', "7050 x", "the number must be in the unit of the heading"),
    ('"7,050"', "=3000+4050", "A formula in a text file is not calculated"),
    ('"7,050"', '"7050,5"', "write 7050.5"),
    ('"7,050"', "7050 1/2", "Write 7050.5"),
    ('"7,050"', "2026-11-25", "looks like a date"),
])
def test_half_readable_numbers_are_refused(old: str, new: str, said: str, folder: Path) -> None:
    """A unit, a formula, a decimal comma, a fraction or a date in a cell is never guessed at."""
    _, problems = _with_cell(folder, "trucks.csv", old, new)
    assert _codes(problems) == ["value.number"] and said in problems[0].remedy


@pytest.mark.parametrize(("typed", "unit", "figure"), [
    ("7'6\"", "in", "90"), ("7' 6\"", "in", "90"), ("7'", "in", "84"), ("7'6\"", "ft", "7.5"),
    ("7 ft 6 in", "in", "90"), ("7'6\"", "cm", "228.6"), ("7’6”", "in", "90"),
])
def test_feet_and_inches_are_refused_with_the_figure_to_write(typed: str, unit: str, figure: str,
                                                              folder: Path) -> None:
    """7 ft 6 in is 90 in, 7.5 ft or 228.6 cm (1 ft = 12 in, 1 in = 2.54 cm): the remedy says which."""
    path = folder / "plows.csv"
    with open(path, newline="", encoding="utf-8") as file:
        heading, *rows = csv.reader(file)
    column = heading.index("width [in]")
    heading[column] = f"width [{unit}]"
    for row in rows:
        row[column] = typed
    with open(path, "w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([heading, *rows])
    _, problems = check_case(folder)
    assert set(_codes(problems)) == {"value.number"} and f"Write {figure}," in problems[0].remedy


@pytest.mark.parametrize(("typed", "unit", "figure"), [("3:30", "h", "3.5"), ("0:45", "min", "45")])
def test_a_clock_time_is_refused_with_the_figure_to_write(typed: str, unit: str, figure: str,
                                                          folder: Path) -> None:
    """3:30 is three hours and a half."""
    _with_cell(folder, "sites.csv", "plow_every [h]", f"plow_every [{unit}]")
    _, problems = _with_cell(folder, "sites.csv", ",end,plow,4,", f",end,plow,{typed},")
    assert "value.number" in _codes(problems)
    assert any(f"Write {figure}," in problem.remedy for problem in problems)


def test_a_clock_time_is_told_to_be_a_length_of_time(folder: Path) -> None:
    """Who types 7:00 as a deadline means seven in the morning perhaps: it is told what the column counts."""
    problem, = _with_cell(folder, "sites.csv", ",side,plow,3,,,", ",side,plow,3,,7:00,")[1]
    assert problem.remedy == (
        "A length of time belongs here, no time of day: first service finished so long after the start. "
        "Write 7, the number alone, for 7 h 0 min.")


@pytest.mark.parametrize("text", ["\x1b[31mred", "a\x07b", "right\u202eto left", "zero\u200bwidth", "x\x7f"])
def test_characters_that_cannot_be_printed_are_refused_in_words(text: str, folder: Path) -> None:
    """A name may not steer the terminal or hide letters."""
    _, problems = _with_cell(folder, "sites.csv", "Invented Bank", text)
    assert _codes(problems) == ["value.control"] and text not in str(problems[0])


@pytest.mark.parametrize(("typed", "code"), [
    ("=1+1", "value.id"), ("+1", "value.id"), ("@a", "value.id"), ("-5", "value.id"),
    ("a\u200bb", "value.id"), ("x" * 61, "value.long"),
])
def test_ids_that_look_like_formulas_or_cannot_be_printed_are_refused(typed: str, code: str,
                                                                      folder: Path) -> None:
    """An id goes into tables, file names and screens."""
    _, problems = _with_cell(folder, "sites.csv", "\nbank,", f"\n{typed},")
    assert code in _codes(problems)


@pytest.mark.parametrize("typed", ["007", "NA", "null", "1e5", "TRUE", "3/4", "Ä-1", "12 b"])
def test_ids_stay_as_typed(typed: str, folder: Path) -> None:
    """007 is not 7, NA is not missing and 1e5 is no number where an id stands."""
    case, problems = _with_cell(folder, "sites.csv", "\nbank,", f"\n{typed},")
    assert problems == () and case is not None and case.sites[0].id == typed


def test_words_that_look_like_a_formula_are_words(folder: Path) -> None:
    """'=HYPERLINK(...)' in a description is text; so is the same with the guard our exports put before it."""
    for typed in ('=HYPERLINK("x")', "'=HYPERLINK(\"x\")"):
        shutil.copy(SMALL / "sites.csv", folder)
        quoted = '"' + typed.replace('"', '""') + '"'
        case, problems = _with_cell(folder, "sites.csv", "Invented Bank", quoted)
        assert problems == () and case is not None and case.sites[0].name == '=HYPERLINK("x")'


def test_a_row_with_fewer_cells_is_said(folder: Path) -> None:
    """RFC 4180, section 2: every line has the same number of fields; a short one is read, and told."""
    path = folder / "ballast.csv"
    path.write_text(path.read_text(encoding="utf-8").rpartition(",")[0] + "\n", encoding="utf-8")
    case, problems = check_case(folder)
    assert case is not None and _codes(problems) == ["row.short"] and problems[0].severity == "warning"


def test_a_file_too_large_is_refused_unread(folder: Path) -> None:
    """A sparse file of 2 GB is told in no time and takes no memory."""
    with open(folder / "sites.csv", "r+b") as file:
        file.truncate(2_000_000_000)
    assert _codes(check_case(folder)[1]) == ["file.large"]


@pytest.mark.parametrize("line", ["," * 2_000_000, "id" + ",a" * 1500, '"' + "x" * 1_500_000])
def test_a_row_of_far_too_many_cells_is_refused(line: str, folder: Path) -> None:
    """A million columns, a thousand and more, a cell of a million characters: none is a table."""
    (folder / "sites.csv").write_text(line + "\n", encoding="utf-8")
    assert set(_codes(check_case(folder)[1])) <= {"file.large", "file.csv"}


def test_a_row_of_endless_lines_is_refused(folder: Path) -> None:
    """Quoted line breaks, cell after cell, cannot make one row of the whole file."""
    (folder / "sites.csv").write_text('id,name\n' + '"\n",' * 300_000, encoding="utf-8")
    assert _codes(check_case(folder)[1]) == ["file.large"]


def test_a_pipe_is_refused_and_not_waited_for(folder: Path) -> None:
    """A named pipe has no end: it is no file."""
    (folder / "sites.csv").unlink()
    os.mkfifo(folder / "sites.csv")
    assert _codes(check_case(folder)[1]) == ["file.missing"]


@pytest.mark.parametrize("path", ["/etc/passwd.csv", "C:\\sites.csv", "\\\\host\\x.csv", "C:sites.csv",
                                  "sites.csv#a", "sites.txt", "a\x07.csv", ""])
def test_paths_that_are_not_allowed(path: str, folder: Path) -> None:
    """Absolute paths, drives, shares, other endings and sheets of text files are refused unread."""
    toml = folder / "case.toml"
    toml.write_text(f"tables.sites = {path!r}\n".replace("'", '"').replace("\\x07", "\\u0007")
                    + toml.read_text(encoding="utf-8"), encoding="utf-8")
    assert "file.path" in _codes(check_case(folder)[1])
