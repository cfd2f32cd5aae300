"""Words a tree list may use for a reason to keep a tree, for a hazard or for a grade."""

KEEPS = frozenset({"crop", "seed", "den", "boundary", "line", "witness"})
HAZARDS = frozenset({"dead_top", "dead", "hung", "split", "rot", "vine", "wire"})
# Grades of trees and logs, as tallies have them; no sawlog is cut from the last three.
SAW_GRADES = ("1", "2", "3", "4", "5", "f1", "f2", "f3", "veneer", "prime", "select", "saw", "tie",
              "pallet")  # fmt: skip
NO_SAW_GRADES = ("pulp", "firewood", "cull")
GRADES = frozenset({*SAW_GRADES, *NO_SAW_GRADES})
NO = frozenset({"", "no", "none", "n", "0", "false", "-"})

# How people say them; whole phrases only, so that "by the wire fence" is no hazard.
SPOKEN_KEEPS = {word: word for word in KEEPS} | {f"{word} tree": word for word in KEEPS}
SPOKEN_HAZARDS = {word.replace("_", " "): word for word in HAZARDS} | {
    "dead topped": "dead_top",
    "snag": "dead",
    "hung up": "hung",
    "hanger": "hung",
    "rotten": "rot",
    "hollow": "rot",
    "vines": "vine",
}
