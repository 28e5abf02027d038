"""optibuild new"""

from pathlib import Path
from shlex import quote

import click

from optibuild.cli.streams import say
from optibuild.errors import UsageError


@click.command(short_help="Write a small working case to begin from.")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--workbook", "as_workbook", is_flag=True, help="Write one workbook instead of text tables.")
def new(folder: Path, as_workbook: bool) -> None:
    """Write a small invented case into DIR: three trucks, four sites, every column, ready to edit.

    Nothing that is there already is written over.

    Example: optibuild new my-case
    """
    from optibuild.inputs import write_template
    from optibuild.report import paragraph

    if folder.suffix.lower() == ".xlsx":
        raise UsageError(f"'{folder}' is the name of a workbook; name a folder, and add --workbook")
    if folder.is_file():
        raise UsageError(f"'{folder}' is a file; name a folder")
    names = write_template(folder, as_workbook)
    case = folder / names[0] if as_workbook else folder
    plan = folder.parent / f"{folder.resolve().name}-plan" if folder.name else Path("plan")
    written = paragraph(f"Written to {folder}: {', '.join(names)}. Everything in it is invented. Write your "
                        "own figures over it; `optibuild columns` says what columns and keys mean. Then run:")
    say(f"{written}\n\n  optibuild check {_word(case)}\n  optibuild plan {_word(case)} --out {_word(plan)}")


def _word(path: Path) -> str:
    """A path as it is typed in a shell."""
    return quote(str(path))
