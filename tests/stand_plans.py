"""Made-up plans whose timber and stand differ: rules, plots, marked lists, gaps in the list."""

from dataclasses import replace
from typing import Any

import numpy as np
from report_plans import resettled, retreated

from layout.plan import Plan
from layout.plots import Plots
from layout.site import Trees
from layout.treatment import treat

IN_CM = 2.54


def varied(
    plan: Plan, trees: dict[str, Any] | None = None, plots: Plots | None = None, **tables: Any
) -> Plan:
    """Give a plan with other settings, columns of the tree list or plots, worked out anew."""
    other = resettled(plan, **tables)
    listed: Trees = replace(other.area.trees, **(trees or {}))
    return retreated(replace(other, area=replace(other.area, trees=listed, plots=plots)))


def some_plots(count: int = 4, per_plot: int = 6) -> Plots:
    """Give fixed plots of a tenth of an acre with like trees, the last of them fuller."""
    rows = [(p, 12.0 + k) for p in range(count) for k in range(per_plot + (p == count - 1))]
    return Plots(
        plot_id=tuple(f"P{p + 1}" for p in range(count)),
        area_m2=np.full(count, 404.68564224),
        factor_m2_per_ha=np.full(count, np.nan),
        x=np.full(count, np.nan),
        y=np.full(count, np.nan),
        plot=np.array([p for p, _ in rows], dtype=np.int64),
        species=("red oak",) * len(rows),
        dbh_cm=np.array([d * IN_CM for _, d in rows]),
        height_m=np.full(len(rows), np.nan),
        count=np.ones(len(rows)),
        marked=None,
    )


def stand_plans(plan: Plan) -> dict[str, Plan]:
    """Give plans that between them say all there is to say of timber and stand."""
    trees = plan.area.trees
    n = len(trees)
    blank = np.full(n, np.nan)
    measured = np.where(np.arange(n) % 5 == 0, 22.0, np.nan)
    logs = np.where(np.arange(n) % 3 == 0, 2.0, np.nan)
    no_dbh = np.where(np.arange(n) % 16 == 0, np.nan, trees.dbh_cm)
    grades = tuple("f1" if i % 2 else ("pulp" if i % 40 == 0 else "") for i in range(n))
    few = np.arange(n) == 0
    nothing = varied(plan, {"marked": few, "dbh_cm": np.where(few, 2.0, 60.0)})
    return {
        "international": varied(plan, timber={"rule": "international-quarter"}),
        "doyle, logs counted": varied(
            plan, {"logs": logs, "log_grade": grades}, timber={"rule": "doyle", "defect": "5 %"}
        ),
        "scribner, heights": varied(plan, {"height_m": measured}, timber={"rule": "scribner"}),
        "cubic, whole trees": varied(
            plan, {"log_grade": grades}, timber={"rule": "cubic", "pulp_top": "0 in"},
            work={"extract": "tree"},
        ),
        "metric": varied(
            plan, {"dbh_cm": no_dbh, "species": ("", *trees.species[1:])},
            area={"units": "metric"}, timber={"rule": "cubic", "bark": False, "defect": "25 %"},
        ),
        "marked only": varied(plan, {"full_list": False}, timber={"rule": "doyle"}),
        "marked only, plots": varied(plan, {"full_list": False}, some_plots()),
        "marked only, one plot": varied(plan, {"full_list": False}, some_plots(1)),
        "placed well": varied(plan, stand={"position_error": "1 m"}),
        "one tree, no aims": varied(
            plan, {"marked": few, "dbh_cm": np.where(few, 5.0, 60.0)},
            treatment={"residual_min": "", "removal_max": "", "gap_max": "",
                       "leave_damage_max": ""},
        ),
        "no diameters": varied(plan, {"dbh_cm": blank}),
        "nothing opens": replace(nothing, treatment=treat(nothing.area)),
    }  # fmt: skip
