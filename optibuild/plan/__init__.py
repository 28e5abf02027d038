"""A plan: put together, as a document, and its independent second computation."""

from optibuild.plan.assemble import Parts, Priced, assemble
from optibuild.plan.document import FORMAT, SCHEMA_PATH, from_json, record_from_json, to_json
from optibuild.plan.outcome import agreed, cautions, no_plan, objective_usd, used_assumptions
from optibuild.plan.recheck import recheck

__all__ = [
    "FORMAT", "SCHEMA_PATH", "Parts", "Priced", "agreed", "assemble", "cautions", "from_json", "no_plan",
    "objective_usd", "recheck", "record_from_json", "to_json", "used_assumptions",
]
