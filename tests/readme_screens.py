"""The screens that the README quotes, cut from what the commands print.

`python tests/readme_screens.py` runs the commands and writes the screens anew; a test holds that they are
real.
"""

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

import readme_commands

README = readme_commands.ROOT / "README.md"
PLAN = ".venv/bin/optibuild plan examples/contract-bid --out bid-plan"
SHEET = ".venv/bin/optibuild fit examples/contract-bid --explain ht-rc-short+p80-heavy+-"
BID = ".venv/bin/optibuild bid bid-plan"
VARY = ".venv/bin/optibuild vary examples/planner-what-if --out variations --workers 2"
DEPTHS = ".venv/bin/optibuild times examples/contract-bid --depths"
BLOCK = re.compile(r"^```text\n.*?^```$", re.DOTALL | re.MULTILINE)
HEADING = re.compile(r"^(?=\S.*\n-{3,}$)", re.MULTILINE)


@dataclass(frozen=True)
class Part:
    """One section of a screen, by how its heading begins; only its first lines where `lines` says so."""

    heading: str
    lines: int | None = None


# one entry for each quoted block, in order: the command, and the sections that are quoted; the loop is one
# that its deadlines let run one way only, since the other way round would cost the same
SCREENS = (
    (PLAN, (Part("Bid for"), Part("Trucks", 21), Part("Loop of truck 1"), Part("Recheck"))),
    (SHEET, (Part("ht-rc-short+p80-heavy+-, 13", 23), Part("How far from another verdict"))),
    (DEPTHS, (Part("Snow to the side"),)),
    (BID, (Part("Bid: "), Part("Prices by form", 7), Part("Risk of each form"))),
    (VARY, (Part("Which size leads"), Part("Cell by cell"))),
)


def steady(text: str) -> str:
    """A screen without what differs from run to run: the seconds."""
    return re.sub(r"[0-9.,]+ s\b", "8.0 s", text)


def _cut(sections: list[str], part: Part) -> str:
    found = next(text for text in sections if text.startswith(part.heading)).rstrip("\n").splitlines()
    return "\n".join(found[:part.lines]).rstrip()


def quoted(screen: str, parts: tuple[Part, ...]) -> str:
    """The sections of a screen, with dots wherever something between or after them is left out."""
    sections = HEADING.split(steady(screen))
    cuts = [_cut(sections, part) for part in parts]
    joined, rest = "", steady(screen).lstrip("\n")
    for cut in cuts:
        before, _, rest = rest.partition(cut)
        joined += ("...\n\n" if before.strip() else "") + cut + ("\n\n" if cut is not cuts[-1] else "\n")
    return joined.replace("\n\n...\n", "\n...\n") + ("...\n" if rest.strip() else "")


def up_to_date(text: str, printed: dict[str, str]) -> str:
    """The README with every quoted screen made from what its command printed."""
    blocks = iter(f"```text\n{quoted(printed[command], parts)}```" for command, parts in SCREENS)
    return BLOCK.sub(lambda _: next(blocks), text)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        folder = readme_commands.copy_checkout(Path(home))
        said = {command: readme_commands.run(command, folder).stdout for command, _ in SCREENS}
    README.write_text(up_to_date(README.read_text(encoding="utf-8"), said), encoding="utf-8")
