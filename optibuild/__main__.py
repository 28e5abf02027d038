"""python -m optibuild"""

from optibuild.cli import main

main(prog_name="optibuild")
