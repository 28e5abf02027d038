"""The commands: options in, pipeline call, print, exit code."""

from optibuild.cli.bid import bid
from optibuild.cli.check import check
from optibuild.cli.columns import columns
from optibuild.cli.drill import drill
from optibuild.cli.fit import fit
from optibuild.cli.frontier import frontier
from optibuild.cli.group import main
from optibuild.cli.new import new
from optibuild.cli.plan import plan
from optibuild.cli.recheck import recheck
from optibuild.cli.report import report
from optibuild.cli.streams import loudness_options
from optibuild.cli.times import times
from optibuild.cli.vary import vary
from optibuild.cli.why import why

for command in (new, check, columns, fit, times, plan, bid, drill, why, vary, frontier, report, recheck):
    command.params += loudness_options()
    main.add_command(command)

__all__ = ["main"]
