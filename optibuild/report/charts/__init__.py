"""Charts for the page: pictures with their finding in words and their figures in a table."""

from optibuild.report.charts.chart import Chart
from optibuild.report.charts.loop_bars import loop_bars
from optibuild.report.charts.losses import truck_losses
from optibuild.report.charts.money import plan_money, site_money, truck_money
from optibuild.report.charts.offers import form_risks, site_prices
from optibuild.report.charts.steps import frontier_steps
from optibuild.report.charts.variations import size_map, variation_costs

__all__ = ["Chart", "form_risks", "frontier_steps", "loop_bars", "plan_money", "site_money", "site_prices",
           "size_map", "truck_losses", "truck_money", "variation_costs"]
