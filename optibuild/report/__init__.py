"""Report: records as text for a terminal, as CSV tables and as plain trees for --json."""

from optibuild.report.check_screen import check_text
from optibuild.report.console import paragraph
from optibuild.report.csv_tables import plan_tables
from optibuild.report.documents import check_document, fit_document, problems_document, times_document
from optibuild.report.fit_screen import fit_text
from optibuild.report.fit_sheet import build_sheet
from optibuild.report.guide_markdown import guide_markdown
from optibuild.report.guide_screen import guide_text
from optibuild.report.plan_screen import plan_text
from optibuild.report.problems_screen import problems_text
from optibuild.report.recheck_screen import recheck_text
from optibuild.report.times_screen import stop_sheet, times_text

__all__ = [
    "build_sheet", "check_document", "check_text", "fit_document", "fit_text", "guide_markdown", "guide_text",
    "paragraph", "plan_tables", "plan_text", "problems_document", "problems_text", "recheck_text",
    "stop_sheet", "times_document", "times_text",
]
