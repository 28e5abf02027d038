"""Ways in which people spoil case.toml."""

from random import Random

from mutations import ANY, NASTY, Files, edited

from optibuild.inputs import KEYS, TABLES
from optibuild.units import SPELLINGS

PATHS = tuple(f"tables.{name}" for name in TABLES)
ELSEWHERE = ("../small/sites.csv", "/etc/x.csv", "x.xlsx#a", "./sites.csv", "SITES.CSV")
WORDS = ("cover", "profit", "si", "US", "storm", "yes", "curb", "")
PLAIN = ("true", "5", "0.1", "nan", "inf", "-1", "1e400", "9" * 400, "[1]", "2026-11-25", "07:30:00",
         "{a = 1}")
"""Values without quotes: truths, numbers, lists, dates, tables."""


def toml_edited(rng: Random, files: Files) -> bool:
    """A slip of the finger in case.toml, or a line gone, doubled or moved."""
    lines = files.get("case.toml", b"").decode("utf-8", "replace").split("\n")
    at = rng.randrange(len(lines))
    slip = [edited(rng, lines[at])]
    lines[at:at + 1] = rng.choice([slip, slip, [], [lines[at], lines[at]], [rng.choice(lines)]])
    files["case.toml"] = "\n".join(lines).encode()
    return ANY


def toml_key(rng: Random, files: Files) -> bool:
    """A key more, known or not, with a value that fits or does not."""
    key = rng.choice([*KEYS, *PATHS, "money.fuel.gas", "money.fuel.x", "note"])
    key = edited(rng, key) if rng.random() < 0.1 else key
    unit = rng.choice([*SPELLINGS, "degF", "", ""])
    words = [f"{rng.choice(NASTY)} {unit}", f"{rng.randint(0, 60)} {unit}", f"{rng.randint(0, 99)}{unit}",
             f"${rng.randint(1, 9000):,}", rng.choice([*files, *ELSEWHERE]), rng.choice(WORDS)]
    quoted = ["'" + word.replace("'", "").replace("\n", "") + "'" for word in words]
    files["case.toml"] = f"{key} = {rng.choice([*quoted, *PLAIN])}\n".encode() + files.get("case.toml", b"")
    return ANY
