"""Case files to records: every table, key and check, with all problems listed in one run."""

from optibuild.inputs.case import check_case, read_case
from optibuild.inputs.columns import OPTIONAL, TABLES
from optibuild.inputs.declaration import Declaration, expected_words
from optibuild.inputs.guide import column_guide
from optibuild.inputs.keys import KEYS
from optibuild.inputs.problems import CODES, Code
from optibuild.inputs.writing import write_case, write_template

__all__ = ["CODES", "KEYS", "OPTIONAL", "TABLES", "Code", "Declaration", "check_case", "column_guide",
           "expected_words", "read_case", "write_case", "write_template"]
