"""Case files to records: every table, key and check, with all problems listed in one run."""

from optibuild.inputs.case import check_case, read_case
from optibuild.inputs.columns import OPTIONAL, TABLES
from optibuild.inputs.declaration import Declaration, expected_words
from optibuild.inputs.keys import KEYS
from optibuild.inputs.problems import CODES, Code

__all__ = ["CODES", "KEYS", "OPTIONAL", "TABLES", "Code", "Declaration", "check_case", "expected_words",
           "read_case"]
