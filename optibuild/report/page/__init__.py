"""The page: a plan, and what was asked of it, as one HTML file that needs nothing but itself."""

from optibuild.report.page.found import FOUND_FILES, Found, collected
from optibuild.report.page.sections import page
from optibuild.report.page.sheets import sheets

__all__ = ["FOUND_FILES", "Found", "collected", "page", "sheets"]
