"""optibuild columns"""

from dataclasses import asdict

import click

from optibuild.cli.cases import json_option, known, say_json
from optibuild.cli.streams import say
from optibuild.errors import UsageError


@click.command(short_help="What may stand in a case: columns, keys, defaults, units.")
@click.argument("tables", metavar="[TABLE]...", nargs=-1)
@json_option
@click.option("--markdown", is_flag=True, help="Print the guide as Markdown.")
def columns(tables: tuple[str, ...], as_json: bool, markdown: bool) -> None:
    """Every column with its unit, range and default: of each TABLE that is named, or of all.

    TABLE is a table's name, or keys (of case.toml), assumptions (the default figures) or units.

    Example: optibuild columns sites keys
    """
    from optibuild.inputs import column_guide
    from optibuild.report import guide_markdown, guide_text

    if as_json and markdown:
        raise UsageError("--json and --markdown are two forms of one result; give one of them")
    guide = column_guide()
    if tables:
        guide = guide.only([known("table", table, guide.names, "the guide") for table in tables])
    if as_json:
        say_json(asdict(guide))
    else:
        say(guide_markdown(guide) if markdown else guide_text(guide))
