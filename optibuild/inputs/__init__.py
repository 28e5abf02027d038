"""Case files to records: every table, key and check, with all problems listed in one run."""

from optibuild.inputs.case import check_case, read_case
from optibuild.inputs.declared.columns import OPTIONAL, TABLES
from optibuild.inputs.declared.declaration import Declaration, expected_words
from optibuild.inputs.declared.guide import column_guide
from optibuild.inputs.declared.keys import KEYS
from optibuild.inputs.declared.problems import CODES, Code
from optibuild.inputs.varying.variants import check_variants, read_variants
from optibuild.inputs.writing.folder import case_workbook, write_case, write_template

__all__ = [
    "CODES", "KEYS", "OPTIONAL", "TABLES", "Code", "Declaration", "case_workbook", "check_case",
    "check_variants", "column_guide", "expected_words", "read_case", "read_variants", "write_case",
    "write_template",
]
