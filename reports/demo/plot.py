"""The demo's scenario: who, what, and what happens on which day. All of it is invented."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import time, timedelta
from decimal import Decimal
from typing import Any

from accounts.models import Organisation, Role
from inspection.projects.actions import CoatSpec
from inspection.projects.declared_rule import DeclaredRule
from reports.demo.invented_readings import Film, GaugeBehaviour

# Of every demo person; printed by the demo itself.
PASSWORD = "salt spray and patience"  # noqa: S105 - of invented people, printed for all to use
ZONE = "Europe/Oslo"
SEED = 20_260_304

COMPANY = "Ormsund Inspection"
OWNER = "Velling Sound Terminal"
OTHER_OWNER = "Tarnbeck Hydro"
BRIDGE_OWNER = "Fossum County Roads"
SHIP_OWNER = "Norrvik Lighterage"
CLASS_SOCIETY = "Ostrand Hull Register"
ORGANISATIONS = {
    OWNER: Organisation.Kind.CLIENT,
    OTHER_OWNER: Organisation.Kind.CLIENT,
    BRIDGE_OWNER: Organisation.Kind.CLIENT,
    SHIP_OWNER: Organisation.Kind.CLIENT,
    CLASS_SOCIETY: Organisation.Kind.CLIENT,
    "Holt & Arran Painters": Organisation.Kind.CONTRACTOR,
    "Third Meridian Audit": Organisation.Kind.AUDITOR,
}
# key: name, organisation, role, what they come for
PEOPLE = {
    "ruth": ("Ruth Ambler", COMPANY, Role.ADMINISTRATOR, "people and organisations"),
    "tove": ("Tove Aldring", COMPANY, Role.QUALITY_MANAGER, "what needs a decision"),
    "jonas": ("Jonas Reke", COMPANY, Role.INSPECTOR, "today's work on the platform"),
    "priya": ("Priya Nandal", COMPANY, Role.INSPECTOR, "today's work on three sites"),
    "edda": ("Edda Vorst", OWNER, Role.CLIENT, "hold points of the platform"),
    "lars": ("Lars Quill", OTHER_OWNER, Role.CLIENT, "hold points of the surge tank and the pipe yard"),
    "signe": ("Signe Brandal", BRIDGE_OWNER, Role.CLIENT, "the plan and the matrix of the bridge"),
    "runa": ("Runa Vestby", SHIP_OWNER, Role.CLIENT, "hold points of the ballast tanks"),
    "oskar": ("Oskar Thiel", CLASS_SOCIETY, Role.CLIENT, "what the class society attends and accepts"),
    "mikkel": ("Mikkel Arran", "Holt & Arran Painters", Role.CONTRACTOR, "what is asked of the painters"),
    "benoit": ("Benoit Casel", "Third Meridian Audit", Role.AUDITOR, "the trace of the platform and the bridge"),
}


def gauge_on(identity: str, days_ago: int) -> GaugeBehaviour:
    """How the gauge reads on that day."""
    gauge = GAUGES[identity]
    crept = DRIFTS_UM.get(identity, 0) * (SET_UP_DAYS_AGO - days_ago)
    return replace(gauge, offset_um=gauge.offset_um + crept)


def clock(text: str) -> time:
    return time.fromisoformat(text)


def email(key: str) -> str:
    return f"{key}@example.com"


def _coat(order: int, name: str, paint: tuple[str, str], dft: tuple[int, int, int], rule: str, **rest: Any) -> CoatSpec:
    product, colour = paint
    minimum, nominal, maximum = (value * 1000 for value in dft)
    common = {"surface_min_c": 3, "surface_max_c": 40, "air_min_c": 3, "humidity_max_pct": 85, "margin_min_c": 3}
    return CoatSpec(
        order=order, name=name, product=product, colour=colour, minimum_nm=minimum, nominal_nm=nominal,
        maximum_nm=maximum, rule=rule, **(common | rest),
    )  # fmt: skip


PLATFORM_COATS = [
    _coat(1, "Primer", ("Zinc-rich epoxy primer", "grey"), (50, 60, 95), "dft-pa2", pa2_level=3,
          volume_solids_pct=65, recoat_min_hours=6, recoat_max_hours=720),
    _coat(2, "Build coat", ("Epoxy build coat", "red oxide"), (130, 160, 290), "dft-iso19840",
          volume_solids_pct=80, recoat_min_hours=10, recoat_max_hours=336),
    _coat(3, "Finish", ("Polyurethane finish", "light grey"), (50, 60, 110), "dft-iso19840",
          volume_solids_pct=58, recoat_min_hours=8),
]  # fmt: skip
TANK_COATS = [
    _coat(1, "First coat", ("Solvent-free epoxy", "buff"), (144, 160, 350), "dft-imo-pspc",
          volume_solids_pct=98, recoat_min_hours=12, recoat_max_hours=240),
    _coat(2, "Second coat", ("Solvent-free epoxy", "white"), (144, 160, 350), "dft-imo-pspc", volume_solids_pct=98),
]  # fmt: skip
# What the owner of the pipes asks for: a mean, a floor for each reading, a ceiling, and so many readings an area.
PIPE_RULE = DeclaredRule(
    name="Penstock rule", document="TBH specification 14.2", counted_from="minimum", mean_at_least_pct=Decimal(100),
    each_at_least_pct=Decimal(80), each_at_most_pct=Decimal(100), table=((Decimal(10), 10), (Decimal(30), 15)),
    further_m2=Decimal(10), further_readings=5,
)  # fmt: skip
PIPE_SYSTEMS = {
    "Pipe coating, outside": [
        _coat(1, "Coating", ("Glass-flake epoxy", "black"), (250, 280, 600), "dft-custom", volume_solids_pct=88,
              declared=PIPE_RULE)
    ],
    "Pipe lining, inside": [
        _coat(1, "Lining", ("Solvent-free epoxy", "cream"), (300, 330, 700), "dft-custom", volume_solids_pct=99,
              declared=PIPE_RULE)
    ],
}  # fmt: skip
# code: name, m², shape
PLATFORM_AREAS = {
    "D-1": ("Mooring dolphin 1, cap", "9.5", "plate"),
    "D-2": ("Mooring dolphin 2, cap", "9.5", "plate"),
    "LP-E": ("Loading deck underside, east", "48", "plate"),
    "LP-W": ("Loading deck underside, west", "46", "plate"),
    "PR-1": ("Pipe rack columns", "27", "beam"),
    "CW-1": ("Catwalk truss", "18", "beam"),
}
TANK_AREAS = {
    "ST-F": ("Tank floor", "60", "plate"),
    "ST-1": ("Shell, first strake", "75", "plate"),
}

# identity: µm, certified nm, expanded uncertainty nm
SHIM_SETS = {
    "A": {
        "S-A025": (25, 25_200, 700),
        "S-A050": (50, 50_300, 800),
        "S-A125": (125, 124_700, 900),
        "S-A250": (250, 250_900, 1_200),
        "S-A500": (500, 498_800, 2_000),
    },
    "B": {
        "S-B025": (25, 24_900, 700),
        "S-B050": (50, 49_800, 800),
        "S-B125": (125, 125_600, 900),
        "S-B250": (250, 249_300, 1_200),
        "S-B500": (500, 501_400, 2_000),
    },
}

# The depth micrometer, and the profile that its blasters leave, in µm.
PROFILE_GAUGE, PROFILE_UM = "PG-02", 64
SALTS_KIT = "SK-01"
SINCE_THE_BLAST = timedelta(hours=1)
# What is found on the blasted steel beside it, by kind of record.
ON_STEEL: dict[str, dict[str, Any]] = {
    "steelwork": {
        "imperfections": [
            {"place": "Seams", "type": "undercut", "grade": "P3"},
            {"place": "Free edges", "type": "thermal-edge", "grade": "P3", "radius_mm": 2.5},
        ],
    },
    "air": {
        "compressor": "Compressor 4", "outlet": "Blast hose", "oil": "no", "water": "no", "held_s": 60,
        "distance_cm": 50, "running_h": 1, "every_h": 5,
    },
    "abrasive": {
        "product": "Coal slag 0.4 to 1.4 mm", "delivery": "Delivery 6", "use": "new", "method": "ISO11127-6",
        "conductivity_unit": "ms_m", "water": 0.2, "leachates": [{"conductivity": 11.8}, {"conductivity": 12.1}],
        "limit": "ISO11126", "oil": "none", "papers": "Declaration of the maker",
    },
    "cleanliness": {
        "found": "Sa 2½", "start_condition": "B", "pre_cleaning": "Degreased by hand and wiped; no oil under UV",
        "share_pct": 100, "light_lx": 800, "compared_with": "Photographs of the standard",
    },
    "salts": {
        "conductivity_unit": "us_cm", "salt": "nacl", "blank": 2.5, "volume_ml": 3, "patch_cm2": 12.5,
        "reference_c": "25",
        "patches": [{"place": "Lower edge", "conductivity": 21.4}, {"place": "Weld", "conductivity": 17.9}],
        "minutes": 2,
    },
    "dust": {
        "tapes": [
            {"place": "Lower edge", "quantity": 2, "size_class": 2},
            {"place": "Middle", "quantity": 1, "size_class": 2},
            {"place": "Top", "quantity": 1, "size_class": 1},
        ],
        "pressed_by": "Thumb",
    },
    "look": {"flash_rust": "none", "contamination": "none", "condensation": "none"},
}  # fmt: skip
GAUGES = {
    "TG-05": GaugeBehaviour(1.002, 0.2, 0.6),
    "TG-07": GaugeBehaviour(0.998, 0.3, 0.7),
    "TG-09": GaugeBehaviour(1.004, -0.2, 0.6),
}
# µm a day by which a gauge's offset creeps.
DRIFTS_UM = {"TG-09": 0.015}
# What the fall did to TG-07.
AFTER_THE_FALL = GaugeBehaviour(1.03, 7.5, 1.6)


@dataclass(frozen=True)
class Work:
    """One area measured after one coat, where there is `film`; and before it its steel, where `steel` is true."""

    area: str
    coat: int
    film: Film | None
    clock: str
    steel: bool = False


@dataclass(frozen=True)
class Shift:
    """One inspector's day: opening check, climate, work, closing check. `days_ago` counts back from the last day."""

    days_ago: int
    project: str
    person: str
    gauge: str
    shims: str
    works: list[Work] = field(default_factory=list)
    mean_c: float = 14
    dew_c: float = 6
    closing: GaugeBehaviour | None = None


def primer(area: str, clock: str, mean: float = 70) -> Work:
    return Work(area, 1, Film(mean, 6, 3), clock, steel=True)


def build(area: str, clock: str, mean: float = 262) -> Work:
    return Work(area, 2, Film(mean, 16, 5, profile_um=25), clock)


def finish(area: str, clock: str, mean: float = 335) -> Work:
    return Work(area, 3, Film(mean, 18, 5, profile_um=25), clock)


def tank(area: str, coat: int, clock: str, mean: float) -> Work:
    return Work(area, coat, Film(mean, mean * 0.05, 4), clock, steel=coat == 1)


def blasted(area: str, clock: str) -> Work:
    return Work(area, 1, None, clock, steel=True)


def ballast(area: str, coat: int, clock: str, mean: float) -> Work:
    return Work(area, coat, Film(mean, mean * 0.04, 4), clock)


SHIFTS = [
    Shift(22, "platform", "jonas", "TG-05", "A", [primer("D-1", "10:20"), primer("D-2", "11:40", 74)], 12, 5),
    Shift(21, "platform", "jonas", "TG-05", "A", [primer("LP-E", "10:10", 72), primer("LP-W", "13:20", 43)], 13, 6),
    Shift(
        20,
        "ballast",
        "jonas",
        "TG-05",
        "A",
        [blasted("1P-B", "10:00"), blasted("1P-S", "10:40"), blasted("1P-L", "11:20")],
        14,
        6,
    ),
    Shift(19, "platform", "jonas", "TG-05", "A", [primer("LP-W", "12:45", 76)], 13, 5),
    Shift(19, "platform", "priya", "TG-07", "B", [primer("PR-1", "10:30"), primer("CW-1", "14:10", 66)], 13, 5),
    Shift(
        18,
        "ballast",
        "jonas",
        "TG-05",
        "A",
        [ballast("1P-B", 1, "10:10", 196), ballast("1P-S", 1, "13:20", 190)],
        15,
        7,
    ),
    Shift(
        15,
        "platform",
        "jonas",
        "TG-05",
        "A",
        [build("D-1", "10:15"), build("D-2", "11:20"), build("LP-E", "13:30")],
        15,
        8,
    ),
    Shift(
        14,
        "platform",
        "priya",
        "TG-07",
        "B",
        [build("LP-W", "10:25", 270), build("PR-1", "12:50"), build("CW-1", "14:20", 255)],
        15,
        8,
    ),
    Shift(
        13,
        "ballast",
        "jonas",
        "TG-05",
        "A",
        [ballast("1P-B", 2, "10:05", 396), ballast("1P-S", 2, "13:10", 388)],
        15,
        8,
    ),
    Shift(12, "tank", "priya", "TG-09", "B", [tank("ST-F", 1, "11:00", 205), tank("ST-1", 1, "13:40", 198)], 16, 7),
    Shift(
        11,
        "pipes",
        "priya",
        "TG-09",
        "B",
        [tank("P101-O", 1, "10:20", 325), tank("P101-I", 1, "11:30", 405), tank("P102-O", 1, "13:20", 318)],
        16,
        8,
    ),
    Shift(
        10,
        "pipes",
        "priya",
        "TG-09",
        "B",
        [tank("P102-I", 1, "10:15", 396), tank("P103-O", 1, "11:25", 232), tank("P103-I", 1, "13:15", 410)],
        15,
        7,
    ),
    Shift(9, "tank", "priya", "TG-09", "B", [tank("ST-F", 2, "10:50", 400), tank("ST-1", 2, "13:30", 386)], 16, 9),
    Shift(
        7,
        "platform",
        "jonas",
        "TG-05",
        "A",
        [finish("D-1", "10:10"), finish("D-2", "11:30"), finish("LP-E", "13:15", 342)],
        14,
        7,
    ),
    Shift(
        5, "platform", "priya", "TG-07", "B", [finish("LP-W", "10:40"), finish("PR-1", "13:10")], 12, 6, AFTER_THE_FALL
    ),
    Shift(3, "platform", "jonas", "TG-05", "A", [finish("LP-W", "11:20", 340)], 11, 4),
]
# Why a tank is released though its dust failed before the first coat.
ACCEPTED = "Vacuumed again and seen clean in raking light just before the first coat; no tape was taken of it."
# What a client sees with their own eyes, by area and coat, at the first decision on it; `None` is the bare steel.
REFUSALS = {
    ("LP-E", 3): "Thickness is in order, but the lower flange of beam 4 has sags. Rub down and recoat.",
    ("1P-L", None): "Abrasive left behind the stiffeners of frame 14; blow down, vacuum and present again.",
}
DECIDES = {"platform": "edda", "tank": "lars", "ballast": "runa", "pipes": "lars"}
# Before the work began, each gauge was checked on its shims in the yard on these days.
CHECKS_BEFORE = (58, 55, 51, 48, 44, 41, 37, 34, 30)
SET_UP_DAYS_AGO = 62
# The bridge is opened at the end of the story, and only planned yet.
BRIDGE_DAYS_AGO = 2
IN_HAND = {"TG-05": ("jonas", "A", "platform"), "TG-07": ("priya", "B", "platform"), "TG-09": ("priya", "B", "tank")}
# The last day's shift is still open: its closing check is not yet due.
TODAY = Shift(0, "platform", "jonas", "TG-05", "A", [finish("CW-1", "")], 12, 4)
