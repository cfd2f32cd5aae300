"""Imports only ever point down the list: data flows one way."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "layout"
FLOORS = [  # ground floor first; rooms on one floor do not know each other
    {
        "errors",
        "findings",
        "sources",
        "records",
        "work_records",
        "erosion_records",
        "closeout_records",
        "option_records",
        "kernel_cache",
        "runs",
        "solver_child",
        "unit_names",
        "track_types",
        "shape_kinds",
        "formula_marks",
        "tree_words",
        "note_warnings",
        "spoken_numbers",
        "tongue",
    },
    {
        "kernels",
        "units",
        "grid",
        "geometry",
        "projection",
        "raster_kind",
        "web_address",
        "walked_lines",
        "water_rules",
        "toml_lines",
        "solver",
        "row_child",
        "table_cells",
        "tree_headings",
        "crown_grid",
        "packing",
        "cover_effects",
        "pool",
    },
    {
        "terrain",
        "settings",
        "speech",
        "outlines",
        "elevation_doubts",
        "resample",
        "seams",
        "web_file",
        "layer_place",
        "read_tracks",
        "vector_files",
        "rule_format",
        "winch_kernel",
        "choice_model",
        "row_solver",
        "looped_ascent",
        "looped_cuts",
        "species",
        "cubic",
        "log_rules",
        "stem_sizes",
        "wedge",
        "reach_chance",
        "grade_chance",
        "note_words",
        "note_phrases",
        "read_table",
        "read_waypoints",
        "tree_places",
        "dragging",
        "soil_loss",
    },
    {
        "layer_shapes",
        "looped_model",
        "rule_files",
        "cycle_model",
        "polygon_mending",
        "read_lines",
        "timber",
        "form_class",
        "stocking",
        "crowns",
        "canopy",
        "flow",
        "swept_path",
        "tree_notes",
        "raster_head",
        "elevations",
    },
    {
        "heights",
        "looped_rows",
        "calibration",
        "taper",
        "plots",
        "thinning",
        "gap_trees",
        "divides",
        "choice_program",
    },
    {
        "site",
        "tractor",
        "grip",
        "greedy",
        "narrowed",
        "tiles",
        "read_vector",
        "new_area",
        "waypoint_trees",
    },
    {
        "tree_sizes",
        "place_errors",
        "fall_lines",
        "payload",
        "stability",
        "pull_forces",
        "trailer_load",
        "banks",
        "strip_widths",
        "rule_changes",
    },
    {
        "land",
        "bucking",
        "read_plots",
        "read_log",
        "bank_distances",
        "raster_window",
        "benching",
        "naming",
        "joints",
        "progress",
        "trail_states",
        "begun_stems",
        "read_progress",
        "owner_lines",
        "read_features",
        "read_land",
        "tree_columns",
        "tree_doubts",
        "waypoint_findings",
        "waypoint_table",
        "winch_rules",
        "bend_price",
    },
    {
        "read_dem",
        "read_landing",
        "read_main",
        "read_stand",
        "read_trees",
        "read_fixed",
        "frozen",
        "rule_words",
        "water",
        "channels",
        "crossings",
        "harvest",
        "soil_map",
    },
    {
        "area",
        "first_look",
        "ground",
        "landing",
        "winch_ground",
        "products",
        "passages",
        "drained",
        "wishes",
    },
    {"lattice", "fairline", "winch", "crossing_ways"},
    {"launches", "turning", "small_landing", "pull_chances", "run_ins"},
    {"network"},
    {"line_memory"},
    {"sprouts", "choice", "reach", "second_thoughts", "far_ends"},
    {
        "forest",
        "standing",
        "mains",
        "sites",
        "growing_ground",
        "straight_spurs",
        "looped_search",
    },
    {
        "clashes",
        "looped_choice",
        "limits",
        "limit_words",
        "steep_ground",
        "necks",
        "beginning",
        "way_to",
        "landing_options",
        "arm_lines",
    },
    {"parts", "joins", "uncrossed"},
    {"grow"},
    {"marginal", "arms", "arm_names", "joined"},
    {
        "trails",
        "outcomes",
        "parking",
        "trail_chances",
        "reach_findings",
        "rub_places",
        "fall_room",
        "main_choice",
        "hauling",
        "dry_start",
        "first_round",
    },
    {"soil", "drainage", "treatment", "rub_trees", "lays", "felling_groups", "pieces", "roots"},
    {
        "checks",
        "stump_work",
        "turns",
        "shorter_ways",
        "cycle_times",
        "harvest_order",
        "plan_record",
        "compaction",
    },
    {"assembly", "mending", "erosion", "landing_trials", "finished_network"},
    {
        "work_order",
        "trucking",
        "money",
        "two_stage",
        "trailer_findings",
        "trailer_steps",
        "closeout",
    },
    {"at_landings", "checked_growth"},
    {"work", "rechoice", "block_pulls"},
    {"arm_option"},
    {"what_if"},
    {"plan"},
    {"outputs"},
    {"drawing"},
    {"commands"},
    {"start"},
]
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
FILES = sorted(PACKAGE.rglob("*.py"))


def named(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_rooms(tree: ast.AST) -> set[str]:
    rooms = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            base = (node.module or "").split(".")
            if base == ["layout"]:
                rooms |= {name.name for name in node.names}
            elif base[0] == "layout":
                rooms.add(base[1])
        elif isinstance(node, ast.Import):
            rooms |= {n.name.split(".")[1] for n in node.names if n.name.startswith("layout.")}
    return rooms


def faults(name: str, room: str, source: str) -> list[str]:
    """List what a file does that no file may do."""
    tree = ast.parse(source)
    found = [
        f"{name}:{node.lineno} write imports in full"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.level
    ]
    if room != "commands":
        found += [
            f"{name}:{inner.lineno} imports belong at the top of the file"
            for outer in ast.walk(tree)
            if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef)
            for inner in ast.walk(outer)
            if isinstance(inner, ast.Import | ast.ImportFrom)
        ]
    if room.startswith("__"):
        return found
    if room not in FLOOR_OF:
        return [*found, f"{room} has no floor: add it to FLOORS on purpose"]
    found += [
        f"{name}: {room} may not import {other}"
        for other in sorted(imported_rooms(tree) - {room})
        if FLOOR_OF.get(other, len(FLOORS)) >= FLOOR_OF[room]
    ]
    return found


@pytest.mark.parametrize("path", FILES, ids=named)
def test_imports_point_down(path: Path) -> None:
    assert faults(named(path), room_of(path), path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("room", "source", "words"),
    [
        ("grid", "from layout.plan import make_plan", "grid may not import plan"),
        ("grid", "import layout.units", "grid may not import units"),
        ("grid", "from layout import plan", "grid may not import plan"),
        ("grid", "from layout.cellar import wine", "grid may not import cellar"),
        ("grid", "from .errors import InputError", "write imports in full"),
        ("grid", "def f():\n    import numpy", "imports belong at the top"),
        ("cellar", "import numpy", "cellar has no floor"),
    ],
)
def test_the_test_notices(room: str, source: str, words: str) -> None:
    (fault,) = faults(f"{room}.py", room, source)
    assert words in fault


def test_every_room_of_the_list_exists() -> None:
    assert set(FLOOR_OF) == {room_of(path) for path in FILES} - {"__init__", "__main__"}


@pytest.mark.parametrize("word", ["utils", "common", "helpers", "base", "misc"])
def test_no_room_for_odds_and_ends(word: str) -> None:
    assert not [path for path in FILES if path.stem == word or path.parent.name == word]


def test_the_developers_page_draws_every_room() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    picture = page.split("```")[1]
    drawn = [set(line.split("#")[0].split()) for line in picture.splitlines() if line.strip()]
    assert [rooms & set(FLOOR_OF) for rooms in drawn if rooms & set(FLOOR_OF)] == FLOORS
