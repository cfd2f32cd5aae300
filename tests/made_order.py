"""An order of work for any plan, put together by hand: no planner's thoughts in it.

Every trail is opened, every position's trees are felled, winched and hauled, every trail
is closed. Loads are named on from 1; a big tree rides on two of them.
"""

import math
from dataclasses import replace

from layout.plan import Plan
from layout.work_records import (
    CutShorter,
    Hours,
    Piece,
    Stage,
    Times,
    Trucking,
    Turn,
    Way,
    Work,
    WorkStep,
)

BIG_KG = 900.0
STEM_EVERY_M = 40.0


def ordered(plan: Plan) -> Plan:
    """Give the plan with its work in a full order."""
    return replace(plan, work=order(plan))


def order(plan: Plan) -> Work:
    """Give all of the work: trails opened, then harvested from the farthest, then closed."""
    made = _Made(plan)
    main_first = sorted(plan.trails, key=lambda t: (t.kind != "main", made.out_m[t.trail_id]))
    made.step("flag")
    for number, trail in enumerate(main_first):
        made.opened(trail.trail_id, [f"S{number}0{k}" for k in range(number % 3)])
    for trail in reversed(main_first):
        made.harvested(trail.trail_id)
    made.harvested("")
    made.step("landing", minutes=60.0)
    hours = sum(step.minutes for step in made.steps) / 60
    total = Hours("total", hours, hours / 0.7 * 0.65, hours / 0.7 * 1.35)
    return Work(
        turns=tuple(made.turns),
        pieces=tuple(made.pieces),
        shorter=tuple(made.shorter),
        steps=tuple(made.steps),
        times=Times((), total, total.low_h / 6, total.high_h / 6, 2.5, True, None, None),
        trucking=Trucking((), 10.0, 60.0, 500.0, 600.0, 16000.0, 2.2, 1.9, 3),
        fuel_low_l=40.0,
        fuel_high_l=160.0,
    )


class _Made:
    """The work as it is put together."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.steps: list[WorkStep] = []
        self.turns: list[Turn] = []
        self.pieces: list[Piece] = []
        self.shorter: list[CutShorter] = []
        trails = {trail.trail_id: trail for trail in plan.trails}
        self.out_m: dict[str, float] = {}
        for trail in plan.trails:
            far, here = trail.line.length, trail
            while here.joins_id:
                far, here = far + (here.joins_at_m or 0.0), trails[here.joins_id]
            self.out_m[trail.trail_id] = far
        self.rub = {rub.tree_id: rub for rub in plan.rub_trees if rub.kind == "marked"}
        self.mass = {o.tree_id: o.mass_kg for o in plan.trees}

    def step(self, kind: str, trail: str = "", position: str = "", trees: tuple[str, ...] = (),
             turns: tuple[str, ...] = (), minutes: float = 10.0) -> None:  # fmt: skip
        """Put one more step behind the others."""
        number = len(self.steps) + 1
        self.steps.append(WorkStep(number, kind, trail, position, trees, turns, minutes))  # type: ignore[arg-type]

    def load(self, stage: Stage, trail: str, position: str, at_m: float,
             held: list[tuple[str, int, float]]) -> str:  # fmt: skip
        """Make a load of pieces."""
        far = self.out_m.get(trail, 0.0)
        way = Way(
            trail, at_m, far, 700.0 + 7 * (len(trail) + int(far) % 9), "traction", trail, 30.0
        )
        self.pieces += [
            Piece(tree, number, "stem", stage, trail, at_m, position, 8.0, kg / 1000, kg, way,
                  mass_known=bool(self.mass.get(tree)))
            for tree, number, kg in held
        ]  # fmt: skip
        name = str(len(self.turns) + 1)
        trees = tuple(dict.fromkeys(tree for tree, _, _ in held))
        self.turns.append(
            Turn(name, len(self.turns) + 1, stage, trail, position, at_m, far,
                 tuple((tree, number) for tree, number, _ in held), trees,
                 (position,) if position else (), sum(kg for _, _, kg in held), 0.5,
                 way.limit_kg, way.limited_by)
        )  # fmt: skip
        return name

    def opened(self, trail: str, stems: list[str]) -> None:
        """Open a trail; its stems come out three to a load."""
        loads = [
            self.load("open", trail, "", 10.0, [(stem, 1, 150.0) for stem in stems[k : k + 3]])
            for k in range(0, len(stems), 3)
        ]
        self.step("open", trail, "", tuple(stems), tuple(loads), 20.0 + 5 * len(stems))

    def harvested(self, trail: str) -> None:
        """Fell, winch and haul from each position, the farthest first, then close."""
        rubs = []
        there = [p for p in self.plan.positions if p.trail_id == trail]
        for position in sorted(there, key=lambda p: -p.at_m):
            name, trees = position.position_id, position.tree_ids
            rubs += [tree for tree in trees if tree in self.rub]
            trees = tuple(tree for tree in trees if tree not in self.rub)
            if not trees:
                continue
            self.step("fell", trail, name, trees)
            self.step("winch", trail, name, trees)
            small: list[tuple[str, int, float]] = []
            for tree in trees:
                kg = self.mass.get(tree) or math.nan
                if kg > BIG_KG:
                    if kg > 2 * BIG_KG:
                        self.shorter.append(
                            CutShorter(tree, name, 700.0, "traction", kg / 2, (2.4384,) * 4)
                        )
                    first = self.load("harvest", trail, name, position.at_m, [(tree, 1, kg / 2)])
                    self.step("haul", trail, name, (tree,), (first,))
                    small.append((tree, 2, kg / 2))
                else:
                    small.append((tree, 1, kg))
            for k in range(0, len(small), 2):
                turn = self.load("harvest", trail, name, position.at_m, small[k : k + 2])
                held = tuple(tree for tree, _, _ in small[k : k + 2])
                self.step("haul", trail, name, held, (turn,))
        for tree in rubs:
            turn = self.load("rub", trail, "", 0.0, [(tree, 1, 500.0)])
            self.step("rub", trail, "", (tree,), (turn,))
        if trail:
            self.step("close", trail)
