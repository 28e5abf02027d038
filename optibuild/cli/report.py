"""optibuild report"""

from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optibuild.cli.folder import Kind, check_writable, write_folder
from optibuild.cli.plan_file import case_files, case_of, case_option, read_plan, rechecked_plan
from optibuild.cli.streams import note
from optibuild.errors import UsageError

if TYPE_CHECKING:
    from optibuild.records import Case, Plan

OURS = Kind(("report.html", "sheets.html"), "plan.json", "optibuild-plan/")


@click.command(short_help="The page and the sheets of a plan drawn anew, with what else was asked of it.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@click.option("--with", "others", metavar="DIR", multiple=True, type=click.Path(path_type=Path),
              help="A further folder that bid, why, drill, vary or frontier wrote to. May be repeated.")
def report(plan_dir: Path, case_path: str | None, others: tuple[Path, ...]) -> None:
    """Draw report.html in PLAN_DIR anew, with what bid, why, drill, vary and frontier wrote there and to the
    folders named, and sheets.html with the prices of the bid.

    Example: optibuild report my-plan --with my-frontier
    """
    from optibuild.report import collected, page, paragraph, sheets

    plan, case = _opened(plan_dir, case_path)
    check_writable(plan_dir, case_files(case), OURS)
    found = {name: (record, digest) for name, record, digest in _read((plan_dir, *others))}
    read = {name: record for name, (record, _) in found.items()}
    for folder in others:
        if not any((folder / name).is_file() for name in _names()):
            raise UsageError(f"--with '{folder}' holds none of {', '.join(_names())}; name a folder that "
                             "bid, why, drill, vary or frontier wrote with --out")
    asked = collected(read, plan)
    beside = {name: digest for name, (_, digest) in found.items()}
    write_folder(plan_dir, {"report.html": page(plan, case, asked, beside),
                            "sheets.html": sheets(plan, case, asked.bid)})
    note(paragraph(f"Written to {plan_dir}: report.html, sheets.html"
                   f"{', with ' if read else ''}{', '.join(read)}."))


def _opened(folder: Path, case_path: str | None) -> "tuple[Plan, Case]":
    """The plan with its case, rechecked where it has trucks."""
    plan = read_plan(folder)
    if plan.trucks:
        return rechecked_plan(folder, case_path)
    return plan, case_of(plan, case_path)


def _names() -> list[str]:
    from optibuild.report import FOUND_FILES

    return [row.name for row in FOUND_FILES]


def _read(folders: Iterable[Path]) -> Iterator[tuple[str, Any, str]]:
    """Each file that is there, by its name, as its record with its sha256; of two with one name the later
    folder's."""
    from optibuild.pipeline import record_from_json
    from optibuild.report import FOUND_FILES

    for folder in folders:
        for row in FOUND_FILES:
            path = folder / row.name
            if path.is_file():
                try:
                    read = path.read_bytes()
                    yield (row.name, record_from_json(row.kind, read.decode(), row.format, row.word),
                           sha256(read).hexdigest())
                except (OSError, UnicodeDecodeError) as error:
                    raise UsageError(f"'{path}' cannot be read: {error}; move it away, or write it again"
                                     ) from None
                except UsageError as error:
                    raise UsageError(f"'{path}': {error}; move it away, or write it again") from None
