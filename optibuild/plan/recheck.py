"""The recheck: a second, plain computation of every promise of a plan from the case's records.

It shares no formula with the parts that made the plan: one number at a time, in the order a person would
check it by hand. A plan that fails is never written.
"""

from optibuild.plan import recheck_end as end
from optibuild.plan import recheck_items as items
from optibuild.plan import recheck_loads as loads
from optibuild.plan import recheck_loops as driving
from optibuild.plan import recheck_money as money
from optibuild.plan import recheck_mounting as mounting
from optibuild.plan import recheck_pay as pay
from optibuild.plan import recheck_sites as sites
from optibuild.plan.recheck_margins import check, claim
from optibuild.plan.recheck_trucks import Mounted, mounted, name_margins
from optibuild.records import Case, Check, Plan, PlannedMoney, Recheck


def recheck(plan: Plan, case: Case) -> Recheck:
    """Every promise of a plan against the case it was made for.

    Each check carries its worst margin (negative = broken), its unit and where that is. A plan that names
    what the case does not have stops at the first check; one that promises nothing has no other.
    """
    names = check("names", "", name_margins(plan, case))
    if not names.passed:
        return Recheck(False, (names,))
    if plan.money is None:
        empty = check("no plan, nothing promised", "", [
            claim(not plan.trucks and not plan.items and plan.outcome.proof == "none", "outcome")])
        return _verdict((names, empty))
    units = mounted(plan, case)
    loops = driving.drive_loops(plan, units, case)
    return _verdict((names, *_load_checks(units, case), *_mounting_checks(units, case),
                     *_loop_checks(loops, case), *_site_checks(plan, case, loops),
                     *_item_checks(plan, case, units), *_money_checks(plan, plan.money, case, loops)))


def _verdict(checks: tuple[Check, ...]) -> Recheck:
    return Recheck(all(row.passed for row in checks), checks)


def _load_checks(units: list[Mounted], case: Case) -> list[Check]:
    rows = [corner for unit in units for corner in loads.corners(unit, case)]
    return [
        check("front GAWR", "kg", loads.front_margins(rows, case)),
        check("rear GAWR", "kg", loads.rear_margins(rows, case)),
        check("GVWR", "kg", loads.gross_margins(rows, case)),
        check("tire capacity", "kg", loads.tire_margins(rows)),
        check("axle shares", "share", loads.share_margins(rows, case)),
        check("stated axle loads", "kg", loads.stated_load_margins(units, rows)),
        check("access: gross", "kg", mounting.access_gross_margins(units, rows, case)),
    ]


def _mounting_checks(units: list[Mounted], case: Case) -> list[Check]:
    return [
        check("rated fill", "kg", mounting.fill_margins(units, case)),
        check("ballast", "kg", mounting.ballast_margins(units)),
        check("attachments allowed", "", mounting.attachment_margins(units, case)),
        check("min GVWR", "kg", mounting.min_gvwr_margins(units)),
        check("bed length", "m", mounting.bed_margins(units)),
        check("access: width", "m", mounting.access_width_margins(units, case)),
        check("access: turning circle", "m", mounting.access_circle_margins(units, case)),
    ]


def _loop_checks(loops: list[driving.Driven], case: Case) -> list[Check]:
    return [
        check("service minutes", "min", driving.service_margins(loops, case)),
        check("material", "kg", driving.material_margins(loops, case)),
        check("arrivals", "min", driving.arrival_margins(loops)),
        check("loop totals", "min", driving.total_margins(loops)),
        check("loop distance", "m", driving.distance_margins(loops)),
        check("fill between reloads", "kg", driving.fill_margins(loops)),
        check("loop within its cycle limit", "min", driving.duration_margins(loops, case)),
        check("cycle limit of every stop", "min", driving.cycle_limit_margins(loops)),
        check("deadlines", "min", driving.deadline_margins(loops)),
        check("end round arrivals", "min", end.end_arrival_margins(loops)),
        check("end round totals", "min", end.end_total_margins(loops)),
        check("end round fill between reloads", "kg", end.end_fill_margins(loops)),
        check("end round within its time", "min", end.end_duration_margins(loops, case)),
    ]


def _site_checks(plan: Plan, case: Case, loops: list[driving.Driven]) -> list[Check]:
    return [
        check("coverage", "parcels", sites.coverage_margins(plan, case, loops)),
        check("stops", "", sites.stop_margins(plan, case, loops)),
        check("parcels", "", sites.parcel_count_margins(plan, case)),
        check("site rows", "min", sites.site_row_margins(plan, loops)),
    ]


def _item_checks(plan: Plan, case: Case, units: list[Mounted]) -> list[Check]:
    return [
        check("items used", "items", items.item_margins(plan, units)),
        check("stock", "items", items.stock_margins(plan, case)),
        check("item prices", "USD", items.item_price_margins(plan, case)),
        check("budget", "USD", items.budget_margins(plan, case)),
        check("drivers", "drivers", pay.driver_margins(units, case)),
    ]


def _money_checks(plan: Plan, stated: PlannedMoney, case: Case, loops: list[driving.Driven]) -> list[Check]:
    seasons = [money.truck_season(loop, case) for loop in loops]
    return [
        check("capital and owning", "USD", money.owning_margins(plan, stated, case)),
        check("truck hours", "h", money.hour_margins(loops, seasons)),
        check("truck seasons", "USD", money.truck_margins(loops, seasons)),
        check("season by kind", "USD", money.sum_margins(stated, seasons)),
        check("contract value", "USD", money.contract_margins(plan, stated, case)),
        check("cost and objective", "USD", money.cost_margins(plan, case, seasons)),
        check("bound", "USD", money.bound_margins(plan)),
        check("gap", "share", money.gap_margins(plan, case)),
    ]
