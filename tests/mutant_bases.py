"""The sound cases that are spoiled, and what a spoiled one is."""

import re
import zlib
from dataclasses import dataclass, field
from io import BytesIO
from zipfile import BadZipFile, ZipFile

from mutations import ANY, SMALL, Files, cells, text

# columns that the small case has not: heading -> a value for each row in turn
MORE_COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "trucks": {
        "front_axle_to_bumper [in]": ("36", "37.5"), "rear_axle_to_bed_end [ft]": ("4.1",),
        "bed_length [m]": ("2.44",), "seat [cm]": ("150", ""), "width [mm]": ("2,010", "2010"),
        "track [in]": ("66.5",), "turning_circle [ft]": ("48", ""), "drive": ("4x4", "rear", ""),
        "plow_allowed": ("Y",), "tire_capacity_front [kg]": ("3,000",), "tire_capacity_rear [t]": ("5.5",),
        "life [year]": ("9",), "resale [%]": ("18 %", "20"), "snow_share [%]": ("80",),
        "fuel": ("diesel", "gas"), "work_fuel [L/h]": ("9.5",), "wear [USD/h]": ("$3.5",),
        "owned": ("1", "0"),
        "available": ("5", ""), "owned_value [USD]": ("$12,000", ""), "remaining_life [year]": ("3", ""),
        "insurance [USD/year]": ("900",), "registration [USD/year]": ("$250", ""),
        "life_hours [h]": ("4,000", ""), "hours_per_year [h]": ("450", ""),
        "value_falls": ("straight", "declining"), "loan_rate [%]": ("6.5",), "loan_years [year]": ("5",),
        "loan_down [%]": ("10 %", "")},
    "plows": {"angle [deg]": ("28",), "center_ahead [yd]": ("0.8",), "min_gvwr [ton]": ("2.5", ""),
              "life [year]": ("6.5",), "resale [USD]": ("$1,000", "900"), "wear [USD/h]": ("1.5",),
              "snow_share [%]": ("90", ""), "value_falls": ("", "declining"), "lease [USD/year]": ("", "800"),
              "owned": ("2",), "available": ("1e2",)},
    "spreaders": {"material_center [cm]": ("-60", ""), "material": ("salt", ""), "min_gvwr [lb]": ("5,000",),
                  "life [year]": ("6",), "resale [%]": ("12.5",), "upkeep [USD/year]": ("150",),
                  "wear [USD/h]": ("2.25",), "owned": ("1",), "available": ("3",)},
    "ballast": {"life [year]": ("4",)},
    "materials": {"delivery [USD/ton]": ("18", ""), "waste [%]": ("4",)},
    "sites": {"split_works": ("no", "YES"), "deice_rate [lb/1000 ft^2]": ("6.5", ""),
              "stop_time [s]": ("150",),
              "most_gross [ton]": ("12", ""), "most_width [yd]": ("4.5",), "most_turning_circle [m]": ("25",),
              "parcels": ("2", "")},
}
TRAVEL = ("from,to,time [min],distance [m]\nyard-depot,bank,4,2500\nbank,yard-depot,\"4.5\",\n"
          "clinic,school,6,\"2,000.5\"\n")
WINTERS = ("winter,heavy,note,light,medium\n2020-21,2,,10,5\n2021-22,1,mild,14,7\n2022-23,3,,11,6\n"
           "2023-24,2,,13,6\n2024-25,2,,16,6\n")
CONTRACTS = ("site,form,amount [USD],from_depth [in],to_depth [cm],cap,overage [USD],note\n"
             "bank,season,\"9,000\",,,20,$400,\nclinic,Event,300,,7.5,,,\nclinic,event,,3.5,,,,\n"
             ",push,150.5,,,,,x\n")


def small() -> Files:
    """The files of the small case."""
    return {path.name: path.read_bytes() for path in sorted(SMALL.iterdir())}


def full() -> Files:
    """The small case with every column there is, in many units."""
    more = {"travel": TRAVEL, "past_winters": WINTERS, "contracts": CONTRACTS}
    files = small() | {f"{name}.csv": content.encode() for name, content in more.items()}
    for name, columns in MORE_COLUMNS.items():
        grid = cells(files[f"{name}.csv"])
        for heading, values in columns.items():
            grid[0].append(heading)
            for number, row in enumerate(grid[1:]):
                row.append(values[number % len(values)])
        files[f"{name}.csv"] = text(grid)
    files["season.csv"] = files["season.csv"].replace(b"light,12,", b"light,,")
    return files


def lean() -> Files:
    """A truck, a plow, two sites to be plowed, an event: what is read in half the time."""
    files = small()
    rows = {"trucks.csv": (0, 1), "plows.csv": (0, 2), "sites.csv": (0, 1, 3), "season.csv": (0, 2)}
    kept = {name: text([cells(files[name])[row] for row in rows]) for name, rows in rows.items()}
    return {name: files[name] for name in ("case.toml", "depots.csv")} | kept


BASES = (lean(), small(), full())


@dataclass(frozen=True)
class Mutant:
    """A spoiled case: what was done to it, its files, and whether it must still be read, and the same."""

    name: str
    done: tuple[str, ...]
    files: Files = field(repr=False)
    base: Files = field(repr=False)
    harmless: bool = ANY

    def __str__(self) -> str:
        pairs = {name: (self.files.get(name), self.base.get(name)) for name in {*self.files, *self.base}}
        changed = [f"  {name}: {_changed(now, before)}" for name, (now, before) in sorted(pairs.items())
                   if now != before]
        return "\n".join([f"mutant {self.name}: {', '.join(self.done)}", *changed])


def _changed(now: bytes | None, before: bytes | None) -> str:
    """What of a file is new: its lines, or the cells of a workbook."""
    if now is None or before is None:
        return "is gone" if now is None else f"is new: {now!r:.1000}"
    there = set(_pieces(before))
    return "\n    ".join([f"{line!r:.700}" for line in _pieces(now) if line not in there][:12])


def _pieces(content: bytes) -> list[bytes]:
    if not content.startswith(b"PK"):
        return content.splitlines()
    try:
        with ZipFile(BytesIO(content)) as book:
            parts = [book.read(name) for name in sorted(book.namelist()) if "docProps" not in name]
    except (BadZipFile, zlib.error, OSError, ValueError, NotImplementedError, RuntimeError) as error:
        return [repr(error).encode()]
    return [piece for part in parts for piece in re.split(rb"(?=<c |<row |<sheetData)", part)]
