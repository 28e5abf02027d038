"""Everything that is written of a plan beside plan.json: tables, workbook, map file, page and sheets."""

from typing import Any

from optibuild.records import Case, Plan
from optibuild.report.csv_tables import plan_csv_files
from optibuild.report.geojson import plan_geojson
from optibuild.report.page import page, sheets
from optibuild.report.plan_tables import plan_workbook


def plan_files(plan: Plan, case: Case, case_book: Any) -> dict[str, str | bytes]:
    """File name to content. `case_book`: the case as a workbook of openpyxl; None where it cannot be one."""
    return {**plan_csv_files(plan, case.units), "plan.xlsx": plan_workbook(plan, case, case_book),
            "plan.geojson": plan_geojson(plan, case), "report.html": page(plan, case),
            "sheets.html": sheets(plan, case)}
