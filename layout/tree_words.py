"""Words and bounds of a tree list: reasons to keep a tree, hazards, grades, figures."""

KEEPS = frozenset({"keep", "crop", "seed", "den", "boundary", "line", "witness"})
HAZARDS = frozenset({"dead_top", "dead", "hung", "split", "rot", "vine", "wire"})
# Grades of trees and logs, as tallies have them; no sawlog is cut from the last three.
SAW_GRADES = ("1", "2", "3", "4", "5", "f1", "f2", "f3", "veneer", "prime", "select", "saw", "tie",
              "pallet")  # fmt: skip
NO_SAW_GRADES = ("pulp", "firewood", "cull")
GRADES = frozenset({*SAW_GRADES, *NO_SAW_GRADES})
NO = frozenset({"", "no", "none", "n", "0", "false", "-"})

# How people say them; whole phrases only, so that "by the wire fence" is no hazard.
SPOKEN_KEEPS = {f"{word}{tree}": word for word in KEEPS for tree in ("", " tree")} | {
    "keeper": "keep"
}
SPOKEN_HAZARDS = {word.replace("_", " "): word for word in HAZARDS} | {
    "dead topped": "dead_top",
    "snag": "dead",
    "hung up": "hung",
    "hanger": "hung",
    "rotten": "rot",
    "hollow": "rot",
    "vines": "vine",
}
# What the figures of a list may be, in the unit of their column.
BOUNDS = {
    "dbh_in": (0.5, 120.0), "dbh_cm": (1.0, 305.0), "height_ft": (3.0, 400.0),
    "height_m": (1.0, 122.0), "position_error_m": (0.0, 200.0), "logs": (0.0, 12.0),
    "defect_pct": (0.0, 100.0), "lean_deg": (0.0, 90.0), "lean_azimuth_deg": (0.0, 360.0),
}  # fmt: skip
