"""The recheck: a second, plain computation of every promise of a plan from the case's records.

It shares no formula with the parts that made the plan: one number at a time, in the order a person would
check it by hand. A plan that fails is never written.
"""

from optibuild.plan import recheck_end as end
from optibuild.plan import recheck_items as items
from optibuild.plan import recheck_leaving_out as leaving_out
from optibuild.plan import recheck_loads as loads
from optibuild.plan import recheck_loops as driving
from optibuild.plan import recheck_money as money
from optibuild.plan import recheck_mounting as mounting
from optibuild.plan import recheck_outcome as outcome
from optibuild.plan import recheck_pay as pay
from optibuild.plan import recheck_shares as shares
from optibuild.plan import recheck_sites as sites
from optibuild.plan.recheck_margins import check
from optibuild.plan.recheck_trucks import Mounted, mounted, name_margins
from optibuild.records import Case, Check, Plan, PlannedMoney, Recheck


def recheck(plan: Plan, case: Case) -> Recheck:
    """Every promise of a plan against the case it was made for.

    Each check carries its worst margin (negative = broken), its unit and where that is. A plan that names
    what the case does not have stops at the first check; one that promises nothing has no other.
    """
    names = check("names", "statement", "", name_margins(plan, case))
    if not names.passed:
        return Recheck(False, (names,))
    figures = check("assumptions", "figure", "", outcome.assumption_margins(plan, case))
    if plan.money is None:
        nothing = check("no plan, nothing promised", "statement", "", outcome.nothing_margins(plan))
        return _verdict((names, figures, nothing))
    units = mounted(plan, case)
    loops = driving.drive_loops(plan, units, case)
    seasons = [money.truck_season(loop, case) for loop in loops]
    return _verdict((names, figures, *_load_checks(units, case), *_mounting_checks(units, case),
                     *_loop_checks(loops, case), *_site_checks(plan, case, loops),
                     *_item_checks(plan, case, units), *_money_checks(plan, plan.money, case, loops, seasons),
                     *_share_checks(plan, case, loops, seasons), *_outcome_checks(plan, case)))


def _verdict(checks: tuple[Check, ...]) -> Recheck:
    return Recheck(all(row.passed for row in checks), checks)


def _load_checks(units: list[Mounted], case: Case) -> list[Check]:
    rows = [corner for unit in units for corner in loads.corners(unit, case)]
    return [
        check("front GAWR", "limit", "kg", loads.front_margins(rows, case)),
        check("rear GAWR", "limit", "kg", loads.rear_margins(rows, case)),
        check("GVWR", "limit", "kg", loads.gross_margins(rows, case)),
        check("tire capacity", "limit", "kg", loads.tire_margins(rows)),
        check("axle shares", "limit", "share", loads.share_margins(rows, case)),
        check("stated axle loads", "figure", "kg", loads.stated_load_margins(units, rows)),
        check("access: gross", "limit", "kg", mounting.access_gross_margins(units, rows, case)),
    ]


def _mounting_checks(units: list[Mounted], case: Case) -> list[Check]:
    return [
        check("rated fill", "limit", "kg", mounting.fill_margins(units, case)),
        check("ballast", "figure", "kg", mounting.ballast_margins(units)),
        check("attachments allowed", "statement", "", mounting.attachment_margins(units, case)),
        check("min GVWR", "limit", "kg", mounting.min_gvwr_margins(units)),
        check("bed length", "limit", "m", mounting.bed_margins(units)),
        check("access: width", "limit", "m", mounting.access_width_margins(units, case)),
        check("access: turning circle", "limit", "m", mounting.access_circle_margins(units, case)),
    ]


def _loop_checks(loops: list[driving.Driven], case: Case) -> list[Check]:
    return [
        check("service minutes", "figure", "min", driving.service_margins(loops, case)),
        check("material", "figure", "kg", driving.material_margins(loops, case)),
        check("arrivals", "figure", "min", driving.arrival_margins(loops)),
        check("loop totals", "figure", "min", driving.total_margins(loops)),
        check("loop distance", "figure", "m", driving.distance_margins(loops)),
        check("fill between reloads", "limit", "kg", driving.fill_margins(loops)),
        check("loop within its cycle limit", "limit", "min", driving.duration_margins(loops, case)),
        check("cycle limit of every stop", "limit", "min", driving.cycle_limit_margins(loops)),
        check("deadlines", "limit", "min", driving.deadline_margins(loops)),
        check("end round arrivals", "figure", "min", end.end_arrival_margins(loops)),
        check("end round totals", "figure", "min", end.end_total_margins(loops)),
        check("end round fill between reloads", "limit", "kg", end.end_fill_margins(loops)),
        check("end round within its time", "limit", "min", end.end_duration_margins(loops, case)),
    ]


def _site_checks(plan: Plan, case: Case, loops: list[driving.Driven]) -> list[Check]:
    return [
        check("coverage", "limit", "parcels", sites.coverage_margins(plan, case, loops)),
        check("stops", "statement", "", sites.stop_margins(plan, case, loops)),
        check("parcels", "statement", "", sites.parcel_count_margins(plan, case)),
        check("site rows", "figure", "min", sites.site_row_margins(plan, loops)),
    ]


def _item_checks(plan: Plan, case: Case, units: list[Mounted]) -> list[Check]:
    return [
        check("items used", "figure", "items", items.item_margins(plan, units)),
        check("stock", "limit", "items", items.stock_margins(plan, case)),
        check("item prices", "figure", "USD", items.item_price_margins(plan, case)),
        check("budget", "limit", "USD", items.budget_margins(plan, case)),
        check("drivers", "limit", "drivers", pay.driver_margins(units, case)),
    ]


def _money_checks(plan: Plan, stated: PlannedMoney, case: Case, loops: list[driving.Driven],
                  seasons: list[money.Season]) -> list[Check]:
    return [
        check("capital and owning", "figure", "USD", money.owning_margins(plan, stated, case)),
        check("truck hours", "figure", "h", money.hour_margins(loops, seasons)),
        check("truck seasons", "figure", "USD",
              money.truck_margins(loops, seasons, shares.of_items(plan, loops, case, held=False))),
        check("season by kind", "figure", "USD", money.sum_margins(stated, seasons)),
        check("contract value", "figure", "USD", money.contract_margins(plan, stated, case)),
        check("cost and objective", "figure", "USD", money.cost_margins(plan, case, seasons)),
    ]


def _share_checks(plan: Plan, case: Case, loops: list[driving.Driven],
                  seasons: list[money.Season]) -> list[Check]:
    borne = shares.borne_by_sites(plan, loops, seasons, case)
    return [
        check("cost of each site", "figure", "USD",
              shares.site_cost_margins(plan, borne, money.cost_usd(plan, case, seasons))),
        check("price of each site", "figure", "USD", shares.site_price_margins(plan, borne, case)),
        check("cost without a site", "limit", "USD",
              leaving_out.marginal_margins(plan, loops, seasons, case)),
    ]


def _outcome_checks(plan: Plan, case: Case) -> list[Check]:
    return [
        check("bound", "limit", "USD", outcome.bound_margins(plan)),
        check("gap", "figure", "share", outcome.gap_margins(plan)),
        check("proof", "statement", "", outcome.proof_margins(plan, case)),
    ]
