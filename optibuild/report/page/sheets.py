"""The sheets to hand out: one a truck for the shop, one a driver, one a site for its customer."""

from collections.abc import Mapping

from optibuild.records import Bid, Case, Plan
from optibuild.report.page.sections import HOME, policy, template
from optibuild.report.page.sheets_driver import driver_sheet
from optibuild.report.page.sheets_site import site_sheet
from optibuild.report.page.sheets_truck import truck_sheet
from optibuild.report.page.sheets_words import Sheet

PAPER = {"us": "letter", "si": "A4"}
GROUPS = {"truck": "Trucks, for the shop", "driver": "Drivers", "site": "Sites, for their customers"}


def sheets(plan: Plan, case: Case, bid: Bid | None = None) -> str:
    """sheets.html: loads nothing, runs nothing, prints each sheet on a page of its own and no contents; with
    the prices of a bid where one was made.

    Of a plan without trucks one line says that there is nothing to hand out. Figures of tables are rounded
    and stand unrounded in `data-value`, as on the page.
    """
    css = f"{(HOME / 'sheets.css').read_text(encoding='utf-8')}@page {{ size: {PAPER[case.units]}; }}\n"
    made = all_sheets(plan, case, bid)
    contents: Mapping[str, list[Sheet]] = {
        title: [sheet for sheet in made if sheet.kind == kind] for kind, title in GROUPS.items()}
    return str(template("sheets.html.jinja").render(
        name=plan.case.name or case.name, css=css, policy=policy(css), sheets=made, version=plan.version,
        contents=contents if made else {}))


def all_sheets(plan: Plan, case: Case, bid: Bid | None) -> list[Sheet]:
    """Trucks, then drivers, then the sites that are served, each in the order of the plan."""
    if not plan.trucks:
        return []
    sites = {site.id: site for site in case.sites}
    parcels = {site.id: site.parcels for site in plan.sites}
    served = [row for row in plan.sites if row.served]
    offered = {} if bid is None else {row.site: row for row in bid.sites}
    return [*(truck_sheet(truck, plan, case) for truck in plan.trucks),
            *(driver_sheet(truck, plan, case, sites, parcels) for truck in plan.trucks),
            *(site_sheet(k, row, sites[row.id], case, offered.get(row.id))
              for k, row in enumerate(served, 1))]
