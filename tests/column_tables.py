"""The blocks of the READMEs that are made from the package: the column guide and the cautions.

`python tests/column_tables.py` writes them anew; a test holds that they are up to date.
"""

import re
from pathlib import Path

from optibuild.cautions import BID, COLD, FIT, PLAN, PROVED, SLOSHING, SPLIT
from optibuild.inputs import column_guide
from optibuild.report import guide_markdown

ROOT = Path(__file__).parents[1]
PAGES = (ROOT / "README.md", ROOT / "catalogs" / "README.md")
BLOCK = re.compile(r"<!-- made from the declarations: (\S+) -->\n.*?<!-- end -->", re.DOTALL)


def guide() -> str:
    """What `optibuild columns --markdown` prints."""
    return guide_markdown(column_guide())


def cautions() -> str:
    """What every fit and plan says beside its figures."""
    colder = f"Where the storm or an event is at 5 F or colder: {COLD[0].lower()}{COLD[1:]}"
    tank = f"With a tank: {SLOSHING[0].lower()}{SLOSHING[1:]}"
    bids = (f"With a bid: {text[0].lower()}{text[1:]}" for text in BID)
    return "\n".join(f"- {text}" for text in (*PROVED, *FIT, *PLAN, SPLIT, colder, tank, *bids))


BLOCKS = {"cautions": cautions, "guide": guide}


def up_to_date(text: str) -> str:
    """A page with every block made anew."""
    return BLOCK.sub(lambda found: f"<!-- made from the declarations: {found.group(1)} -->\n"
                                   f"{BLOCKS[found.group(1)]()}\n<!-- end -->", text)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(up_to_date(page.read_text(encoding="utf-8")), encoding="utf-8")
