"""Sample plots: estimates held against hand sums and a stand that is known in full.

Student's t values are the printed ones of any statistical table: 95 %, both tails,
3 degrees of freedom 3.182; 90 %, 9 degrees of freedom 1.833.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t

from layout import plots, stocking
from layout.errors import InputError, InputFaults
from layout.plots import Plots
from layout.read_plots import read_plots
from layout.thinning import Standing, thinning

INCH_CM, FOOT_M = 2.54, 0.3048
ACRE_HA = 0.40468564224
ACRE_M2 = ACRE_HA * 10_000
FT2_ACRE = 0.3048**2 / ACRE_HA


def read(folder: Path, *lines: str) -> Plots:
    path = folder / "plots.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_plots(path, "[stand] plots:")[0]


def faults(folder: Path, *lines: str) -> tuple[str, ...]:
    with pytest.raises(InputFaults) as caught:
        read(folder, *lines)
    return caught.value.faults


def test_the_interval_by_hand() -> None:
    got = plots.mean_interval([20, 24, 28, 32], 0.95)
    half = 3.182 * np.sqrt(80 / 3) / 2  # variance 80/3
    assert (got.mean, got.plots, got.reason) == (26, 4, "")
    assert got.low == pytest.approx(26 - half, abs=2e-3)
    assert got.high == pytest.approx(26 + half, abs=2e-3)
    assert got.error_pct == pytest.approx(100 * half / 26, abs=0.01)
    ten = plots.mean_interval(np.arange(10.0))
    assert ten.high is not None and ten.mean is not None
    assert (ten.high - ten.mean) == pytest.approx(
        1.833 * np.std(np.arange(10), ddof=1) / 10**0.5, abs=1e-3
    )


def test_one_plot_and_none() -> None:
    one = plots.mean_interval([30])
    assert (one.mean, one.low, one.high, one.error_pct) == (30, None, None, None)
    assert "two or more" in one.reason
    none = plots.mean_interval([])
    assert none.mean is None and none.reason == "there is no plot"


def test_the_low_end_never_falls_below_nought() -> None:
    got = plots.mean_interval([0, 0, 0, 50])
    assert got.low == 0 and got.error_pct is not None and got.error_pct > 100
    assert plots.mean_interval([0, 0]).error_pct is None


def test_silly_confidence_is_refused() -> None:
    with pytest.raises(InputError, match=r"confidence of 90 is not 0\.5 to 0\.999"):
        plots.mean_interval([1, 2], 90)


def test_how_many_plots_an_error_needs() -> None:
    measured = [20, 24, 28, 32, 16, 30]
    spread = 100 * np.std(measured, ddof=1) / np.mean(measured)
    n = plots.plots_needed(measured, 10)
    assert n is not None

    def error(count: int) -> float:
        return float(t.ppf(0.95, count - 1) * spread / np.sqrt(count))

    assert error(n) <= 10 < error(n - 1)
    assert plots.plots_needed([20], 10) is None
    assert plots.plots_needed([0, 0], 10) is None
    with pytest.raises(InputError, match="an error of 0 %"):
        plots.plots_needed(measured, 0)


def test_a_fixed_plot_expands_by_its_area(tmp_path: Path) -> None:
    # Two plots of a tenth of an acre (37.24 ft): 3 trees and none: 15 trees an acre.
    got = read(
        tmp_path,
        "plot_id,radius_ft,species,dbh_in",
        "1,37.24,red oak,12",
        "1,37.24,red oak,10",
        "1,37.24,white pine,14",
        "2,37.24,,",
    )
    assert got.plot_id == ("1", "2")
    per_acre = plots.per_ha(got)
    assert per_acre.mean is not None
    assert per_acre.mean * ACRE_HA == pytest.approx(15, rel=1e-3)
    oak = plots.per_ha(got, only=[s == "red oak" for s in got.species])
    assert oak.mean is not None and oak.mean * ACRE_HA == pytest.approx(10, rel=1e-3)


def test_an_angle_count_expands_by_its_factor(tmp_path: Path) -> None:
    # Factor 10: every counted tree is 10 square feet an acre, whatever its size.
    got = read(
        tmp_path,
        "plot_id,baf_ft2_acre,species,dbh_in,count",
        "a,10,red oak,12,4",
        "a,10,red oak,20,3",
        "b,10,red oak,8,5",
    )
    basal = plots.per_ha(got, stocking.basal_area_m2(got.dbh_cm))
    assert basal.mean is not None and basal.mean / FT2_ACRE == pytest.approx((70 + 50) / 2)
    stems = plots.per_ha(got)
    by_hand = (40 / 0.7854 + 30 / 2.1817 + 50 / 0.3491) / 2  # square feet of 12, 20 and 8 in
    assert stems.mean is not None and stems.mean * ACRE_HA == pytest.approx(by_hand, rel=1e-3)
    state = stocking.condition(got.species, got.dbh_cm, got.mean_per_ha())
    assert state.basal_area_m2_per_ha / FT2_ACRE == pytest.approx(60)
    assert state.stems_per_ha == pytest.approx(stems.mean)


def test_metric_columns_say_the_same(tmp_path: Path) -> None:
    us = read(tmp_path, "plot_id,area_acre,species,dbh_in,height_ft", "1,0.1,red oak,10,70")
    metric = read(
        tmp_path, "plot_id;area_m2;species;dbh_cm;height_m", "1;404,685642;red oak;25,4;21,336"
    )
    for name in ("area_m2", "dbh_cm", "height_m"):
        np.testing.assert_allclose(getattr(us, name), getattr(metric, name), rtol=1e-6)
    count = read(tmp_path, "plot_id,baf_m2_ha,species,dbh_cm", "1,2,red oak,25.4")
    assert count.factor_m2_per_ha.tolist() == [2]
    circle = read(tmp_path, "plot_id,radius_m,species,dbh_cm", "1,8,red oak,25.4")
    assert circle.area_m2[0] == pytest.approx(np.pi * 64)


def test_places_and_marks_are_taken_where_they_stand(tmp_path: Path) -> None:
    got = read(
        tmp_path,
        "plot_id,radius_m,species,dbh_cm,mark,x,y",
        "1,8,red oak,25,cut,500010,4500020",
        "1,,white ash,30,leave,,",
        "2,8,red oak,35,,,",
    )
    assert got.marked is not None and got.marked.tolist() == [True, False, False]
    assert got.x[0] == 500010 and np.isnan(got.x[1])
    assert np.isfinite(got.area_m2).all()
    unmarked = read(tmp_path, "plot_id,radius_m,species,dbh_cm,mark", "1,8,red oak,25,")
    assert unmarked.marked is None


def test_what_is_thin_is_told(tmp_path: Path) -> None:
    path = tmp_path / "plots.csv"
    path.write_text("plot_id,radius_ft,species,dbh_in\n1,37,,\n", encoding="utf-8")
    got, found = read_plots(path, "[stand] plots:")
    assert len(got) == 1 and got.species == ()
    assert [(f.code, f.level) for f in found] == [("plots_empty", "ok"), ("plots_few", "unknown")]


def test_all_faults_of_the_file_at_once(tmp_path: Path) -> None:
    told = faults(
        tmp_path,
        "plot_id,radius_ft,baf_ft2_acre,species,dbh_in,dbh_cm,mark",
        "1,37,,red oak,12,,cut",
        "1,50,,red oak,12,,maybe",
        "2,,,red oak,12,,",
        "3,37,10,red oak,12,,",
        ",37,,red oak,12,,",
        "4,37,,red oak,,,",
        "4,37,,,,,",
        "5,9999,,red oak,-4,,",
        "6,37,,red oak,12,60,",
    )
    joined = "\n".join(told)
    for line, words in (
        (2, "plot '1' has radius_ft 37 and 50"),
        (3, "mark 'maybe' must be"),
        (4, "plot '2' does not say how it was taken; fill radius_ft or baf_ft2_acre"),
        (5, "plot '3' was taken in 2 ways (radius_ft, baf_ft2_acre)"),
        (6, "plot_id is blank"),
        (7, "'red oak' has no DBH"),
        (8, "neither species nor DBH, though the plot has trees"),
        (9, "radius_ft 9999 is outside 3 to 300"),
        (9, "dbh_in -4 is outside"),
        (10, "dbh_cm and dbh_in disagree"),
    ):
        assert f"plots.csv line {line}: {words}" in joined, (line, words, joined)
    assert len(told) == 10


def test_missing_columns_are_told_together(tmp_path: Path) -> None:
    told = faults(tmp_path, "plot,species", "1,red oak")
    assert len(told) == 4  # no plot_id, and so a blank one; no way taken; no diameter
    joined = "\n".join(told)
    for words in ("no column plot_id", "how the plots were taken is not told", "neither dbh_in"):
        assert words in joined


def test_plots_give_the_before_to_a_list_of_marked_trees(tmp_path: Path) -> None:
    got = read(
        tmp_path,
        "plot_id,area_acre,species,dbh_in,count",
        "1,0.1,red oak,12,8",
        "2,0.1,red oak,12,12",
    )
    standing = Standing(got.species, got.dbh_cm, got.mean_per_ha())
    change = thinning(
        ["red oak"] * 30, [12 * INCH_CM] * 30, [True] * 30, ACRE_M2, full_list=False, plots=standing
    )
    assert change.before is not None and change.after is not None
    assert change.before.stems_per_ha * ACRE_HA == pytest.approx(100)
    assert change.after.stems_per_ha * ACRE_HA == pytest.approx(70)
    assert change.basal_area_share == pytest.approx(0.3)


def sample(known: np.ndarray, dbh: np.ndarray, seed: int) -> tuple[Plots, Plots]:
    """Lay 12 fixed plots and 12 angle counts into a stand that wraps round its edges."""
    rng = np.random.default_rng(seed)
    side, radius, factor = 200.0, 8.0, 3.0
    centres = rng.uniform(0, side, (12, 2))
    away = np.abs(known[None] - centres[:, None])
    away = np.hypot(*np.moveaxis(np.minimum(away, side - away), -1, 0))
    # A tree is counted within (dbh cm) / (2 sqrt(factor)) metres.
    reach = dbh / (2 * np.sqrt(factor))

    def of(seen: np.ndarray, area: float, factor: float) -> Plots:
        plot, tree = np.nonzero(seen)
        return Plots(
            plot_id=tuple("abcdefghijkl"),
            area_m2=np.full(12, area),
            factor_m2_per_ha=np.full(12, factor),
            x=centres[:, 0],
            y=centres[:, 1],
            plot=plot,
            species=("red oak",) * plot.size,
            dbh_cm=dbh[tree],
            height_m=np.full(plot.size, np.nan),
            count=np.ones(plot.size),
            marked=None,
        )

    return of(away <= radius, np.pi * radius**2, np.nan), of(away <= reach, np.nan, factor)


def test_nine_intervals_in_ten_hold_the_truth() -> None:
    rng = np.random.default_rng(5)
    known = rng.uniform(0, 200, (1600, 2))  # 400 trees a hectare
    dbh = rng.uniform(12, 60, 1600)
    truth = float(stocking.basal_area_m2(dbh).sum() / 4)
    hits: dict[str, list[bool]] = {"fixed": [], "counted": []}
    means: dict[str, list[float]] = {"fixed": [], "counted": []}
    for seed in range(200):
        for way, got in zip(hits, sample(known, dbh, seed), strict=True):
            e = plots.per_ha(got, stocking.basal_area_m2(got.dbh_cm))
            assert e.mean is not None and e.low is not None and e.high is not None
            hits[way].append(e.low <= truth <= e.high)
            means[way].append(e.mean)
    for way in hits:
        assert np.mean(hits[way]) == pytest.approx(0.90, abs=0.06), way
        assert np.mean(means[way]) == pytest.approx(truth, rel=0.03), way


@given(st.lists(st.floats(0, 100), min_size=2, max_size=30), st.floats(0.5, 0.99))
def test_the_mean_lies_in_its_interval(values: list[float], confidence: float) -> None:
    got = plots.mean_interval(values, confidence)
    assert got.low is not None and got.high is not None and got.mean is not None
    assert 0 <= got.low <= got.mean + 1e-9 and got.mean <= got.high + 1e-9
    wider = plots.mean_interval(values, min(confidence + 0.005, 0.999))
    assert wider.high is not None and wider.high >= got.high - 1e-9
