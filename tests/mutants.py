"""Spoiled cases by the thousand: each made from a seed and a number, laid in a folder and looked at.

`python tests/mutants.py SEED COUNT [BOOKS]` tries COUNT spoiled folders and BOOKS spoiled workbooks and tells
what does not hold. A mutant is known by its seed and number: it can be made again alone.
"""

import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory, mkdtemp

import mutations as ways
from mutant_bases import BASES, Mutant
from mutant_checks import ends_rightly, is_written_whole, look_at, unprinted
from mutated_books import mutant_book
from mutated_keys import toml_edited, toml_key
from mutations import ANY, HARMLESS, Files, Mutation
from slow_case import WORKBOOK

Ways = Sequence[tuple[int, Mutation]]
MUTATIONS: Ways = (
    (16, ways.cell_nasty), (10, ways.cell_edited), (6, ways.cell_raw), (3, ways.column_swapped),
    (5, ways.column_nasty), (12, ways.heading_changed), (3, ways.row_moved), (3, ways.rows_sorted),
    (2, ways.blank_columns), (3, ways.cells_miscounted), (6, ways.separators), (8, ways.decimals_added),
    (3, ways.truncated), (3, ways.files_mixed), (4, ways.reencoded), (4, ways.accents),
    (4, ways.bytes_changed), (5, toml_edited), (10, toml_key),
)
"""How often each is tried, and what it does."""
SEVERAL = 0.25
OFTEN = (4, 1, 1)
"""The part of the mutants to which more than one thing is done; how often each base is taken."""
ROUND_TRIPS = 100
"""Of so many accepted mutants one is written and read again."""


def mutant(seed: int, number: int, ways: Ways = MUTATIONS) -> Mutant:
    """One spoiled folder, the same for the same seed and number."""
    rng = Random(f"{seed}/{number}")
    base = rng.choices(BASES, OFTEN)[0]
    files = dict(base)
    count = 1 if rng.random() > SEVERAL else rng.randint(2, 3)
    chosen = rng.choices([row[1] for row in ways], [row[0] for row in ways], k=count)
    harmless = [mutation(rng, files) for mutation in chosen]
    return Mutant(f"{seed}/{number}", tuple(mutation.__name__ for mutation in chosen), files, base,
                  HARMLESS if harmless == [HARMLESS] else ANY)


@dataclass
class Ground:
    """A folder in which one mutant after another lies; only what differs is written."""

    folder: Path
    there: Files = field(default_factory=dict)

    def lay(self, files: Files) -> Path:
        """Make the folder hold just these files; the path of the case among them."""
        for name, content in self.there.items():
            if files.get(name) != content:  # some disks are slow to cut a file short: it is made anew
                (self.folder / name).unlink()
        for name, content in files.items():
            if self.there.get(name) != content:
                (self.folder / name).write_bytes(content)
        self.there = dict(files)
        return self.folder / WORKBOOK if WORKBOOK in files else self.folder


@dataclass
class Tally:
    """How many mutants were tried and accepted, what was done and said how often, and what did not hold."""

    tried: int = 0
    accepted: int = 0
    done: Counter[str] = field(default_factory=Counter)
    codes: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    unprinted: list[str] = field(default_factory=list)


def campaign(mutants: Iterable[Mutant], folder: Path, often: int) -> Tally:
    """Every mutant looked at; each `often`th with the commands too."""
    grounds: dict[int, Ground] = {}  # one for each base, so that little is written
    tally = Tally()
    for number, made in enumerate(mutants):
        if id(made.base) not in grounds:
            grounds[id(made.base)] = Ground(Path(mkdtemp(dir=folder)))
        path = grounds[id(made.base)].lay(made.files)
        seen = look_at(made, path)
        faults = [*seen.faults, *(ends_rightly(made, path, seen.case) if number % often == 0 else ())]
        if seen.case is not None and tally.accepted % ROUND_TRIPS == 0:
            faults += is_written_whole(seen.case, Path(mkdtemp(dir=folder)))
        tally.unprinted += unprinted(seen.problems)
        if faults:
            tally.faults.append("\n".join([*faults[:5], str(made)]))
        tally.tried += 1
        tally.accepted += seen.case is not None
        tally.done.update(made.done)
        tally.codes.update({problem.code for problem in seen.problems})
    return tally


def tell(tally: Tally) -> None:
    """Print what a campaign found."""
    print("\n\n".join([*tally.faults, *tally.unprinted[:20]]))
    print(f"{tally.tried:,} mutants, {tally.accepted:,} accepted, {len(tally.codes)} codes, "
          f"{len(tally.faults):,} with faults, {len(tally.unprinted):,} problems that cannot be printed")


def run(seed: int, count: int, books: int = 0) -> int:
    """A campaign from the command line; 1 where anything did not hold."""
    with TemporaryDirectory() as folder:
        tallies = [campaign((mutant(seed, number) for number in range(count)), Path(folder), 100),
                   campaign((mutant_book(seed, number) for number in range(books)), Path(folder), 20)]
    for tally in tallies:
        tell(tally)
    return int(any(tally.faults or tally.unprinted for tally in tallies))


if __name__ == "__main__":
    sys.exit(run(*map(int, sys.argv[1:])))
