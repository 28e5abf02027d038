"""Reading a plan back from the folder that a command wrote it to."""

from pathlib import Path
from typing import TYPE_CHECKING

from optibuild.errors import UsageError

if TYPE_CHECKING:
    from optibuild.records import Plan


def read_plan(folder: Path) -> "Plan":
    """The plan in a folder; UsageError, naming the file, where there is none that can be read."""
    from optibuild.pipeline import from_json

    path = folder / "plan.json"
    try:
        return from_json(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise UsageError(f"'{path}' cannot be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise UsageError(f"'{path}' is no plan: it is not UTF-8 text") from None
    except UsageError as error:
        raise UsageError(f"'{path}': {error}") from None
