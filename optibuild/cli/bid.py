"""optibuild bid"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optibuild.cli.cases import json_option, known, say_json
from optibuild.cli.folder import Kind, check_writable, write_told
from optibuild.cli.plan_file import case_files, case_option, rechecked_plan
from optibuild.cli.progress import watched
from optibuild.cli.streams import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optibuild.records import Bid, Case, Marginal, Plan

OURS = Kind(("bid_sites.csv", "bid_prices.csv", "bid_risk.csv", "bid_without.csv", "bid.xlsx"), "bid.json",
            "optibuild-bid/")


@click.command(short_help="What to ask for every site, form by form, and what each form risks.")
@click.argument("plan_dir", type=click.Path(path_type=Path))
@case_option
@json_option
@click.option("--site", "sites", metavar="ID", multiple=True,
              help="Tell what each form risks at this site. May be repeated.")
@click.option("--without", metavar="ID", multiple=True,
              help="Solve again without this site: what the fleet would save. May be repeated.")
@click.option("--out", "folder", metavar="DIR", type=click.Path(path_type=Path),
              help="Folder for the bid as JSON, CSV and workbook; PLAN_DIR will do.")
def bid(plan_dir: Path, case_path: str | None, as_json: bool, sites: tuple[str, ...],
        without: tuple[str, ...], folder: Path | None) -> None:
    """Price the written plan in PLAN_DIR, site by site: cost, prices in every form of contract, and the
    spread of profit over many seasons.

    Example: optibuild bid my-plan --out my-plan
    """
    from optibuild.bidding import price_bid
    from optibuild.report import bid_files

    plan, case = rechecked_plan(plan_dir, case_path)
    served = [row.id for row in plan.sites if row.served]
    for site in (*sites, *without):
        known("served site", site, served, "the plan")
    if folder is not None:
        check_writable(folder, case_files(case), OURS)
    found = price_bid(case, plan)
    marginal = _marginal(case, plan, without)
    if folder is not None:
        write_told(folder, bid_files(found, marginal, case.units))
    _say(found, marginal, case, sites, as_json)


def _marginal(case: "Case", plan: "Plan", without: tuple[str, ...]) -> "tuple[Marginal, ...]":
    from optibuild.explain import marginal_costs

    if not without:
        return marginal_costs(case, plan)
    with watched(case) as progress:
        return marginal_costs(case, plan, without, progress)


def _say(found: "Bid", marginal: "Sequence[Marginal]", case: "Case", sites: tuple[str, ...],
         as_json: bool) -> None:
    from optibuild.report import bid_document, bid_text, site_bid_text

    if as_json:
        say_json(bid_document(found, marginal))
        return
    asked = [row for row in found.sites if row.site in sites]
    say("\n\n".join(site_bid_text(row, case) for row in asked) if asked else bid_text(found, marginal, case))
