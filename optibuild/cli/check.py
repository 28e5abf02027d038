"""optibuild check"""

import click

from optibuild.cli.cases import case_argument, json_option, say_json
from optibuild.cli.streams import say
from optibuild.errors import InputProblems


@click.command(short_help="Read a case and list every problem.")
@case_argument
@json_option
def check(case: str, as_json: bool) -> None:
    """Read CASE and list every problem with its file, row, column and remedy.

    Example: optibuild check my-case
    """
    from optibuild.inputs import check_case
    from optibuild.report import check_document, check_text

    found, problems = check_case(case)
    if as_json:
        say_json(check_document(found, problems))
    else:
        say(check_text(found, problems))
    if found is None:
        click.get_current_context().exit(InputProblems.exit_code)
