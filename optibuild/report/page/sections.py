"""The page as a whole: sections in order, put into the template, under a policy that lets nothing in."""

import hashlib
from base64 import b64encode
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from optibuild.records import Case, Plan
from optibuild.report.console import number
from optibuild.report.page import end_sections, found_sections, plan_sections
from optibuild.report.page.blocks import Section
from optibuild.report.page.found import Found
from optibuild.report.page.svg import harmless
from optibuild.report.tables import Cell, Column, Table

HOME = Path(__file__).parent
NONE_READ: Mapping[str, str] = MappingProxyType({})
LONG = 26
"""A text with more letters may wrap within its cell."""
QUESTIONS = {
    "cover": "Which trucks, attachments and loops serve the list at the least cost of a season?",
    "value": "Which trucks, attachments and loops serve the most contract value within the budget?",
    "profit": "Which trucks, attachments and loops leave the most profit of a season?",
}


def page(plan: Plan, case: Case, found: Found | None = None, beside: Mapping[str, str] = NONE_READ) -> str:
    """One HTML file with everything that is known of a plan. It loads nothing and runs nothing.

    Figures are rounded from plan.json and stand unrounded, in the unit shown, in `data-value`. `beside` names
    the files that `found` was read from, each with its sha256.
    """
    css = (HOME / "page.css").read_text(encoding="utf-8")
    return template("page.html.jinja").render(
        name=plan.case.name or case.name, question=QUESTIONS[plan.case.question], css=css,
        policy=policy(css), sections=sections(plan, case, found or Found(), beside), version=plan.version)


def sections(plan: Plan, case: Case, found: Found, beside: Mapping[str, str]) -> list[Section]:
    """The sections that have something to say, in order."""
    made = (
        plan_sections.answer_section(plan, case), plan_sections.map_section(plan, case),
        plan_sections.loops_section(plan, case), plan_sections.axles_section(plan, case),
        plan_sections.money_section(plan), found_sections.bid_section(plan, case, found.bid, found.marginal),
        found_sections.binds_section(plan, case, found.why),
        found_sections.changes_section(plan, case, found.why),
        found_sections.drill_section(case, found.drill),
        found_sections.variations_section(found.comparison),
        found_sections.frontier_section(case, found.frontiers),
        end_sections.assumptions_section(plan, case), end_sections.cautions_section(plan, found.bid),
        end_sections.provenance_section(plan, case, beside))
    return [section for section in made if section is not None]


def policy(css: str) -> str:
    """Content Security Policy (W3C, Level 3): nothing but the one style sheet, by its digest."""
    digest = b64encode(hashlib.sha256(css.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


@cache
def template(name: str) -> Any:
    """A template of this folder: what it shows is escaped and harmless; a name not given is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
                       finalize=_shown, loader=FileSystemLoader(HOME))
    made.globals |= {"cell": _cell, "exact": repr, "column_kinds": _column_kinds}
    return made.get_template(name)


def _shown(value: object) -> object:
    """Texts made harmless; what is markup already, as a picture is, stays as it is."""
    return harmless(value) if isinstance(value, str) and not hasattr(value, "__html__") else value


def _cell(column: Column, value: Cell) -> str:
    """A cell as shown."""
    if value is None:
        return "–"
    return value if isinstance(value, str) else number(value, column.decimals or 0)


def _column_kinds(table: Table) -> list[str]:
    """The class of each column as an attribute: numbers, texts long enough to wrap, or short texts."""
    kinds = []
    for k, column in enumerate(table.columns):
        texts = [column.heading, *(row[k] for row in table.rows if isinstance(row[k], str))]
        long = max(map(len, map(str, texts))) > LONG
        kinds.append(' class="n"' if column.decimals is not None else ' class="long"' if long else "")
    return kinds
