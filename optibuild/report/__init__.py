"""Report: records as text for a terminal, as CSV tables and as plain trees for --json."""

from optibuild.report.bid_files import bid_files
from optibuild.report.bid_screen import bid_document, bid_text, site_bid_text
from optibuild.report.calibration_screen import calibration_document, calibration_text
from optibuild.report.check_screen import check_text
from optibuild.report.console import paragraph
from optibuild.report.depths_screen import depths_document, depths_m, depths_text, middle_site
from optibuild.report.documents import (
    check_document,
    fit_document,
    stop_document,
    times_document,
)
from optibuild.report.drill_screen import drill_document, drill_files, drill_text
from optibuild.report.fit_screen import fit_text
from optibuild.report.fit_sheet import build_sheet
from optibuild.report.frontier_screen import frontier_document, frontier_files, frontier_text
from optibuild.report.guide_markdown import guide_markdown
from optibuild.report.guide_screen import guide_text
from optibuild.report.loop_screen import loop_document, loop_text
from optibuild.report.page import FOUND_FILES, Found, collected, page, sheets
from optibuild.report.parcels_screen import parcels_document, parcels_text
from optibuild.report.plan_files import plan_files
from optibuild.report.plan_screen import plan_text
from optibuild.report.problems_screen import problems_text
from optibuild.report.recheck_screen import recheck_text
from optibuild.report.times_screen import stop_sheet, times_text
from optibuild.report.vary_screen import vary_document, vary_files, vary_text
from optibuild.report.why_files import why_files
from optibuild.report.why_screen import why_document, why_text

__all__ = [
    "FOUND_FILES", "Found", "bid_document", "bid_files", "bid_text", "build_sheet", "calibration_document",
    "calibration_text", "check_document", "check_text", "collected", "depths_document", "depths_m",
    "depths_text", "drill_document", "drill_files", "drill_text", "fit_document", "fit_text",
    "frontier_document", "frontier_files", "frontier_text", "guide_markdown", "guide_text", "loop_document",
    "loop_text", "middle_site", "page", "paragraph", "parcels_document", "parcels_text", "plan_files",
    "plan_text", "problems_text", "recheck_text", "sheets", "site_bid_text", "stop_document",
    "stop_sheet", "times_document", "times_text", "vary_document", "vary_files", "vary_text", "why_document",
    "why_files", "why_text",
]
