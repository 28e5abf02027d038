"""An invented small case to begin from: every column of every table, every key that has a default."""

from collections.abc import Mapping, Sequence

from optibuild.inputs.declared.columns import TABLES, columns_of
from optibuild.inputs.declared.declaration import NO_LIMIT
from optibuild.inputs.declared.keys import FUEL, FUELS, KEYS
from optibuild.inputs.writing.text_settings import Settings
from optibuild.inputs.writing.text_tables import NOTE, TextColumn, TextTable

Rows = Sequence[Mapping[str, str]]
INVENTED = "invented"
ABOUT = ("Everything in this case is invented: the town, its coordinates, trucks, weights and prices. "
         "Write your own figures over them.")
OWN_KEYS: Settings = {
    "case.name": "Brackenford, four sites (invented)",
    "storm.pavement": "23 degF",
    "money.budget": "160000 USD",
    "money.wage": "26 USD/h",
    "solve.gap": "0 %",
}
TRUCKS: Rows = (
    {"id": "half-ton-1", "description": "the truck we have", "size": "half-ton", "gvwr": "6950",
     "gawr_front": "3900", "gawr_rear": "4000", "curb_front": "2760", "curb_rear": "2060", "wheelbase": "127",
     "bed_length": "79", "steer_angle": "37", "price": "39500", "upkeep": "1700", "city": "16",
     "highway": "21", "owned": "1", "available": "0", "note": "invented; as weighed, full of fuel"},
    {"id": "three-quarter", "description": "regular cab, long bed", "size": "three-quarter-ton",
     "gvwr": "10000", "gawr_front": "5600", "gawr_rear": "6300", "curb_front": "3550", "curb_rear": "2550",
     "wheelbase": "142", "turning_circle": "47", "price": "46500", "upkeep": "1900", "city": "12",
     "highway": "16", "available": "2"},
    {"id": "one-ton", "description": "dual rear wheels, dump body", "size": "one-ton", "gvwr": "14000",
     "gawr_front": "6400", "gawr_rear": "9900", "curb_front": "4150", "curb_rear": "3650",
     "wheelbase": "145", "bed_length": "108", "width": "96", "turning_circle": "50", "drive": "rear",
     "price": "61500", "life": "10", "upkeep": "2300", "fuel": "diesel", "city": "11", "highway": "14",
     "available": "1"},
)
PLOWS: Rows = (
    {"id": "straight-7h", "description": "7.5-ft straight plow", "kind": "straight", "width": "90",
     "height": "27", "blade_mass": "410", "mount_mass": "75", "price": "5600", "upkeep": "120"},
    {"id": "vee-8h", "description": "8.5-ft vee plow", "kind": "vee", "width": "102", "height": "31",
     "blade_mass": "720", "mount_mass": "115", "min_gvwr": "9500", "price": "8400", "upkeep": "210"},
)
SPREADERS: Rows = (
    {"id": "tailgate", "description": "hangs behind the tailgate", "kind": "tailgate", "empty_mass": "150",
     "volume": "9", "center": "15", "discharge": "65", "material": "salt", "price": "2600", "upkeep": "90",
     "owned": "1"},
    {"id": "hopper", "description": "stands in the bed", "kind": "hopper", "empty_mass": "480",
     "volume": "36", "center": "-40", "material_center": "-42", "spread_width": "24", "material": "salt",
     "length": "76", "price": "6700", "upkeep": "160"},
)
BALLAST: Rows = (
    {"id": "sandbag", "description": "bags tied down before the tailgate", "unit_mass": "60",
     "center": "-12", "most_units": "16", "price": "7"},
)
MATERIALS: Rows = ({"id": "salt", "bulk_density": "78", "price": "95"},)
DEPOTS: Rows = ({"id": "our-yard", "lat": "44.7300", "lon": "-89.6100"},)
SITES: Rows = (
    {"id": "clinic", "name": "Brackenford Clinic", "lat": "44.7385", "lon": "-89.6020", "area": "0.55",
     "pass_length": "170", "clear_width": "50", "work": "both", "plow_every": "2", "deice_every": "2",
     "deadline": "1.5", "pay_by": "season", "pay": "15500"},
    {"id": "grocer", "name": "Mill Street Grocer", "lat": "44.7240", "lon": "-89.6235", "area": "1.1",
     "pass_length": "260", "clear_width": "75", "work": "both", "plow_every": "3", "split_works": "yes",
     "pay_by": "push", "pay": "520"},
    {"id": "court", "name": "Alder Court", "lat": "44.7330", "lon": "-89.5890", "area": "0.4",
     "pass_length": "140", "clear_width": "36", "snow_goes": "end", "work": "plow", "plow_every": "3",
     "trigger": "2", "most_turning_circle": "62", "pay_by": "season", "pay": "7800",
     "note": "invented; narrow, so a long truck cannot turn"},
    {"id": "storage", "name": "Orchard Road Storage", "lat": "44.7180", "lon": "-89.5990", "area": "0.7",
     "work": "deice", "deice_every": "4", "must_serve": "no", "pay_by": "event", "pay": "260",
     "note": "invented; may be left out when it does not pay"},
)
SEASON: Rows = (
    {"id": "dusting", "count": "13", "duration": "5", "snowfall": "1.2", "pavement": "27"},
    {"id": "snowfall", "count": "7", "duration": "9", "snowfall": "3.5", "pavement": "22"},
    {"id": "big-storm", "count": "2", "duration": "16", "snowfall": "9", "pavement": "15"},
)
TRAVEL: Rows = (
    {"from": "our-yard", "to": "grocer", "time": "5", "distance": "1.2",
     "note": "invented; ways that are not here follow from the coordinates"},
    {"from": "grocer", "to": "our-yard", "time": "5.5", "distance": "1.2"},
)
MOUNTS: Rows = (
    {"truck": "one-ton", "attachment": "tailgate", "allowed": "no",
     "note": "invented; a dump body has no tailgate to hang it on"},
)
TIMINGS: Rows = (
    {"site": "clinic", "truck": "half-ton-1", "plow": "straight-7h", "depth": "2", "time": "38",
     "note": "invented; what the model is compared with"},
)
PAST_WINTERS: Rows = tuple(
    {"winter": winter, "dusting": dustings, "snowfall": snowfalls, "big-storm": storms}
    for winter, dustings, snowfalls, storms in (
        ("2020-21", "11", "6", "1"), ("2021-22", "15", "8", "3"), ("2022-23", "10", "5", "2"),
        ("2023-24", "16", "9", "2"), ("2024-25", "13", "7", "2")))
CONTRACTS: Rows = (
    {"site": "clinic", "form": "season", "amount": "15500", "cap": "24", "overage": "650"},
    {"site": "grocer", "form": "push", "amount": "520"},
    {"form": "event", "to_depth": "3", "note": "invented; for every site, amounts to be priced"},
    {"form": "event", "from_depth": "3", "to_depth": "8"},
    {"form": "event", "from_depth": "8"},
)
ROWS: dict[str, Rows] = {
    "trucks": TRUCKS, "plows": PLOWS, "spreaders": SPREADERS, "ballast": BALLAST, "materials": MATERIALS,
    "depots": DEPOTS, "sites": SITES, "season": SEASON, "travel": TRAVEL, "mounts": MOUNTS,
    "timings": TIMINGS, "past_winters": PAST_WINTERS, "contracts": CONTRACTS,
}


def template_tables() -> tuple[TextTable, ...]:
    """The tables of the invented case: all columns, in their usual units; a blank takes its default."""
    return tuple(_table(name, ROWS[name]) for name in TABLES)


def _table(name: str, rows: Rows) -> TextTable:
    columns = tuple(TextColumn(declared, declared.heading, tuple(row.get(declared.name, "") for row in rows))
                    for declared in columns_of(name, [event["id"] for event in SEASON]))
    note = TextColumn(NOTE, NOTE.name, tuple(row.get(NOTE.name, INVENTED) for row in rows))
    return TextTable(name, (*columns, note))


def template_settings() -> Settings:
    """The keys of the invented case: keys with their defaults, without assumptions and absent limits."""
    found: Settings = {"note": ABOUT, "case.name": OWN_KEYS["case.name"]}
    for key, declared in KEYS.items():
        if declared is FUEL:
            found |= {FUEL.name.replace("NAME", name): price for name, price in FUELS.items()}
        elif key in OWN_KEYS:
            found[key] = OWN_KEYS[key]
        elif declared.default not in (None, NO_LIMIT) and not key.startswith("assumptions."):
            found[key] = int(declared.default) if declared.dimension == "count" else declared.default
    return found
