"""Timber and the stand that is left, read back from every file that tells of them."""

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import area_files as files
import jsonschema
import numpy as np
import plan_fixture
import pyogrio
import pytest
from report_page import Page
from shapely.geometry import shape
from stand_plans import IN_CM, stand_plans, varied

import layout
from layout.bucking import buck
from layout.commands import main
from layout.outputs import about, geopackage, overview, plan_json, stand_lines, tree_table
from layout.outputs import rows as layers
from layout.outputs.report import page
from layout.plan import Plan

FOOT_M = 0.3048  # exact by definition
SCHEMA = json.loads(
    (Path(layout.__file__).parent / "tables" / "plan.schema.json").read_text(encoding="utf-8")
)
RULES = r"International 1/4-inch|Scribner, by formula|Doyle"
# Sum, column of the trees, and the most by which a tree may be rounded.
ADDED = (
    ("net_bf", "volume_bf", 0.5),
    ("gross_bf", "gross_bf", 0.5),
    ("saw_m3", "saw_m3", 5e-4),
    ("pulp_m3", "pulp_m3", 5e-4),
    ("sawlogs", "saw_logs", 0),
    ("pieces", "cut_pieces", 0),
)


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    return stand_plans(plan_fixture.plan())


@pytest.fixture(scope="module")
def told(plans: dict[str, Plan]) -> dict[str, dict[str, Any]]:
    return {
        name: json.loads(json.dumps(plan_json.as_data(plan, about.facts(plan), ("plan.json",))))
        for name, plan in plans.items()
    }


@pytest.fixture(scope="module")
def pages(plans: dict[str, Plan]) -> dict[str, Page]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(overview, "image", lambda plan, dpi: b"picture")
        return {name: Page(page.page(plan)) for name, plan in plans.items()}


# --- plan.json ------------------------------------------------------------------------------


def test_every_plan_is_what_the_schema_says(told: dict[str, dict[str, Any]]) -> None:
    check = jsonschema.Draft202012Validator(SCHEMA)
    for name, data in told.items():
        assert {"timber", "stand", "gaps"} <= set(data), name
        few = {**data, "trees": data["trees"][:20], "stations": {}}  # alike, and slow to hold
        assert [f.message[:200] for f in check.iter_errors(few)] == [], name


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d["timber"].update(log_rule="my rule"),
        lambda d: d["timber"]["marked"].pop("not_known"),
        lambda d: d["timber"]["by_species"][0].update(net_bf="lots"),
        lambda d: d["stand"].update({"from": "hearsay"}),
        lambda d: d["stand"]["after"].pop("b_line_m2_per_ha"),
        lambda d: d["gaps"][0].update(diameter_m=None),
        lambda d: d["trees"][0].update(height_from="a friend"),
    ],
)
def test_the_schema_notices(told: dict[str, dict[str, Any]], spoil: Any) -> None:
    data = json.loads(json.dumps(told["international"]))
    spoil(data)
    assert list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(data))


def test_trees_add_up_to_the_sums(told: dict[str, dict[str, Any]]) -> None:
    for name in ("international", "doyle, logs counted", "scribner, heights"):
        data = told[name]
        rule = {"international": "international-quarter"}.get(name, name.partition(",")[0])
        marked = [t for t in data["trees"] if t["status"] not in ("leave", "done")]
        sums = data["timber"]["marked"]
        assert data["timber"]["log_rule"] == rule
        assert {t["log_rule"] for t in marked} == {rule}
        assert sums["trees"] == len(marked) == 63
        # every tree is rounded to a board foot, a litre
        for key, column, most in ADDED:
            added = sum(t[column] for t in marked)
            assert added == pytest.approx(sums[key], abs=63 * most + 1e-6), (name, key)
        for part in ("by_species", "by_grade"):
            assert sum(t["net_bf"] for t in data["timber"][part]) == pytest.approx(
                sums["net_bf"], abs=3
            )


def test_nothing_that_is_not_known_is_a_zero(told: dict[str, dict[str, Any]]) -> None:
    alone = told["marked only"]["stand"]
    for key in ("from", "before", "after", "basal_area_share_pct", "wood_share_pct", "plots",
                "in_way", "cover_before_pct", "cover_after_pct", "open_sky_after_pct",
                "largest_gap_m"):  # fmt: skip
        assert alone[key] is None, key
    assert "marked trees only" in alone["reason"] and "marked trees only" in alone["canopy_reason"]
    assert told["marked only"]["gaps"] == []
    blind = told["no diameters"]
    assert {t["volume_bf"] for t in blind["trees"]} == {None}
    assert {t["saw_m3"] for t in blind["trees"]} == {None}
    assert blind["timber"]["marked"]["not_known"] == 63
    assert told["cubic, whole trees"]["timber"]["marked"]["net_bf"] is None
    assert {t["log_rule"] for t in told["cubic, whole trees"]["trees"]} == {None}


def test_plots_come_with_their_range(told: dict[str, dict[str, Any]]) -> None:
    some = told["marked only, plots"]["stand"]
    assert some["from"] == "plots" and some["reason"] == ""
    stems = some["plots"]["stems_per_ha"]
    # three plots of 6 trees and one of 7 on a tenth of an acre; t of 3 degrees, 90 %: 2.353
    mean = 6.25 / 404.68564224 * 1e4
    assert stems["mean"] == pytest.approx(mean, abs=0.01)
    half = 2.353 * 0.5 / 2 / 404.68564224 * 1e4
    assert stems["high"] - stems["mean"] == pytest.approx(half, rel=1e-3)
    assert stems["confidence_pct"] == 90
    before, after = (
        some["plots"]["basal_area_m2_per_ha"],
        some["plots"]["basal_area_after_m2_per_ha"],
    )
    gone = some["removed"]["basal_area_m2_per_ha"]
    assert before["mean"] - after["mean"] == pytest.approx(gone, abs=0.01)
    one = told["marked only, one plot"]["stand"]["plots"]["stems_per_ha"]
    assert one["low"] is None and "measure two or more" in one["reason"]


# --- trees.csv and plan.gpkg ----------------------------------------------------------------


def test_the_table_of_trees_names_the_rule_beside_its_board_feet(
    plans: dict[str, Plan], tmp_path: Path
) -> None:
    for name in ("scribner, heights", "no diameters", "metric"):
        plan = plans[name]
        tree_table.write(plan, tmp_path / "trees.csv")
        with (tmp_path / "trees.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        h = plan.treatment.harvest if plan.treatment else None
        assert h is not None and len(rows) == len(h)
        for row, net, stem in zip(rows, h.net_bf, h.stem_m3, strict=True):
            assert (row["log_rule"] != "") == (row["volume_bf"] != "") == math.isfinite(net)
            assert (row["saw_logs"] != "") == math.isfinite(stem)
            if row["volume_bf"]:
                assert float(row["volume_bf"]) == round(float(net))
        how = {row["height_from"] for row in rows}
        assert how <= {"measured", "species", "kind", "default", "unknown"}
        if name == "scribner, heights":
            assert {row["height_from"] for row in rows[::5]} == {"measured"}
            assert {row["stem_height_m"] for row in rows[::5]} == {"22.0"}


def test_wood_in_sawlogs_is_there_before_and_after_defect(
    plans: dict[str, Plan], tmp_path: Path
) -> None:
    tree_table.write(plans["doyle, logs counted"], tmp_path / "trees.csv")  # 5 % on every tree
    with (tmp_path / "trees.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    gross, net = (np.array([float(row[c]) for row in rows]) for c in ("saw_m3", "saw_net_m3"))
    np.testing.assert_allclose(net, 0.95 * gross, atol=1.1e-3)
    assert (net < gross).sum() > 20
    layer = layers.of_layer(plans["doyle, logs counted"], "trees")
    assert [row.values["saw_net_m3"] for row in layer] == net.tolist()


def test_openings_are_a_layer(plans: dict[str, Plan], tmp_path: Path) -> None:
    plan = plans["international"]
    geopackage.write(plan, tmp_path / "plan.gpkg", {"format": "1"})
    layer = pyogrio.read_dataframe(tmp_path / "plan.gpkg", layer="gaps")
    gaps = plan.treatment.canopy.gaps if plan.treatment else None
    assert gaps and len(layer) == len(gaps)
    assert list(layer["gap_id"]) == [f"G{n + 1}" for n in range(len(gaps))]
    np.testing.assert_allclose(layer["diameter_m"], [g.diameter_m for g in gaps], atol=0.006)
    across = np.sqrt(4 / np.pi * layer["area_m2"])
    np.testing.assert_allclose(layer["diameter_m"], across, atol=0.02)
    assert (np.diff(layer["diameter_m"]) <= 0.01).all()
    assert layer.geometry.is_valid.all()
    stand = plan.area.stand.buffer(1.5)  # outlines follow cells of half a metre
    assert layer.geometry.within(stand).all()
    trees = pyogrio.read_dataframe(tmp_path / "plan.gpkg", layer="trees")
    assert set(trees["log_rule"]) == {"international-quarter"}
    assert trees["volume_bf"].notna().all() and (trees["gross_bf"] >= trees["volume_bf"]).all()
    alone = plans["marked only"]
    geopackage.write(alone, tmp_path / "alone.gpkg", {"format": "1"})
    assert len(pyogrio.read_dataframe(tmp_path / "alone.gpkg", layer="gaps")) == 0


def test_openings_of_plan_json_are_those_of_the_layer(
    plans: dict[str, Plan], told: dict[str, dict[str, Any]]
) -> None:
    plan, data = plans["international"], told["international"]
    gaps = plan.treatment.canopy.gaps if plan.treatment else None
    assert gaps and len(data["gaps"]) == len(gaps)
    for row, gap in zip(data["gaps"], gaps, strict=True):
        assert shape(row["shape"]).hausdorff_distance(gap.outline) < 0.01
    assert data["stand"]["largest_gap_m"] == data["gaps"][0]["diameter_m"]


# --- the report -----------------------------------------------------------------------------


def test_every_heading_of_board_feet_names_its_rule(pages: dict[str, Page]) -> None:
    named = 0
    for name, read in pages.items():
        for table in read.tables():
            for head in table.heads:
                if re.search(r"\bbf\b|board f", head):
                    assert re.search(RULES, head), (name, head)
                    named += 1
            if "board feet" in table.caption:
                assert re.search(RULES, table.caption), (name, table.caption)
    assert named >= 6
    assert "nothing is said in board feet" in pages["cubic, whole trees"].text("timber")
    assert not re.search(r"\bbf\b", pages["cubic, whole trees"].text("timber"))


def test_weights_of_the_parts_and_of_the_whole_are_told_apart(
    plans: dict[str, Plan], pages: dict[str, Page]
) -> None:
    """Summed here from the trees themselves, in short tons of 2,000 lb."""
    for name, caption, whole in (
        ("international", "Logs and small wood; board feet by International 1/4-inch", "stems"),
        ("cubic, whole trees", "Logs and small wood", "trees"),
    ):
        plan, row = plans[name], pages[name].table(caption).row("All marked")
        assert plan.treatment is not None
        harvest, marked = plan.treatment.harvest, plan.area.trees.marked
        ton_kg = 2000 * 0.45359237
        for head, kg in (
            ("Sawlogs weigh", harvest.saw_kg),
            ("Small wood weighs", harvest.pulp_kg),
            (f"Whole {whole} weigh", harvest.mass_kg),
        ):
            sums = kg[marked].sum()
            if sums == 0:
                assert row[head] == "–"  # noqa: RUF001
                continue
            said = re.fullmatch(r"([\d.,]+) short tons", row[head])
            assert said and float(said[1].replace(",", "")) == pytest.approx(
                sums / ton_kg, rel=0.05
            )


def test_cubic_wood_is_told_gross_and_net(plans: dict[str, Plan], pages: dict[str, Page]) -> None:
    plan, row = plans["metric"], pages["metric"].table("Logs and small wood").row("All marked")
    assert plan.treatment is not None
    harvest = plan.treatment.harvest
    gross_m3 = harvest.saw_m3[plan.area.trees.marked & np.isfinite(harvest.stem_m3)].sum()
    for word, m3 in (("gross", gross_m3), ("net", 0.75 * gross_m3)):  # a quarter is defect
        said = float(row[f"Wood in sawlogs, {word}"].removesuffix(" m\N{SUPERSCRIPT THREE}"))
        assert said == pytest.approx(m3, rel=0.05)


def test_logs_outside_the_scribner_table_are_counted_of_the_marked_ones_alone(
    plans: dict[str, Plan], told: dict[str, dict[str, Any]], pages: dict[str, Page]
) -> None:
    """Small ends and lengths read again from the cut pieces: 12 to 44 in, 10 to 24 ft."""
    plan = plans["scribner, heights"]
    trees, timber = plan.area.trees, plan.area.settings.timber
    assert plan.treatment is not None
    pieces = buck(
        trees.species, trees.dbh_cm, plan.treatment.sizes.heights.height_m, timber,
        logs=trees.logs, defect_pct=trees.defect_pct,
    ).pieces  # fmt: skip
    marked = trees.marked[pieces.tree] & pieces.is_log
    inches, feet = pieces.small_end_cm / IN_CM, pieces.length_m / FOOT_M
    out = (inches < 12) | (inches > 44) | (feet < 10) | (feet > 24)
    count, logs = int((marked & out).sum()), int(marked.sum())
    assert 0 < count < int((pieces.is_log & out).sum())
    said = pages["scribner, heights"].text("timber")
    assert f"{count} of the {logs} marked logs lie outside the table" in said
    assert told["scribner, heights"]["timber"]["beyond_scribner_table"] == count


def test_the_report_tells_what_the_plan_holds(
    pages: dict[str, Page], told: dict[str, dict[str, Any]]
) -> None:
    read, data = pages["international"], told["international"]
    table = read.table("Logs and small wood; board feet by International 1/4-inch")
    net = "Net, bf International 1/4-inch"
    for row, key in (("Reached", "reached"), ("All marked", "marked"),
                     ("Unmarked, in the way", "in_way")):  # fmt: skip
        sums, said = data["timber"][key], table.row(row)
        assert said["How many"] == str(sums["trees"])
        assert said["Sawlogs"] == str(sums["sawlogs"])
        assert float(said[net].replace(",", "")) == pytest.approx(sums["net_bf"], rel=0.005)
        cords = re.match(r"([\d.]+) cords", said["Small wood"])
        assert cords and float(cords[1]) == pytest.approx(sums["pulp_cords"], rel=0.05)
    stand = data["stand"]
    before = read.table("The stand before and after, by the acre")
    acre_ha = 43560 * FOOT_M**2 / 1e4
    assert float(before.row("Trees")["Before"]) == pytest.approx(
        stand["before"]["stems_per_ha"] * acre_ha, abs=0.5
    )
    basal = before.row("Basal area")
    for head, key in (("Before", "before"), ("Taken", "removed"), ("After", "after")):
        feet = stand[key]["basal_area_m2_per_ha"] * acre_ha / FOOT_M**2
        assert basal[head] == f"{feet:.0f} ft²/acre"
    stocking = before.row("Stocking, upland hardwood chart")
    assert stocking["After"] == f"{stand['after']['stocking_pct']:.0f} %"
    classes = read.table("Trees by diameter class, by the acre")
    added = sum(float(row[1]) for row in classes.rows)
    assert added == pytest.approx(stand["before"]["stems_per_ha"] * acre_ha, abs=0.5)
    opened = read.table("Openings that are made, the widest first; trails and landing counted")
    assert opened.rows[0][0] == "G1"
    assert opened.rows[0][1] == f"{data['gaps'][0]['diameter_m'] / FOOT_M:.0f} ft"


def test_metric_pages_speak_metres(pages: dict[str, Page]) -> None:
    said = pages["metric"].text("timber") + pages["metric"].text("stand")
    assert not re.search(r"\d (ft|acres?|cords?|lb|short tons)\b", said)
    assert "m²/ha" in said and re.search(r"\d t\b", said)
    table = pages["metric"].table("Marked trees by kind")
    assert table.row("kind not given")["Sawlogs"] == "not known"
    kinds = pages["metric"].table("Kinds by basal area, m² by the hectare")
    assert [row[0] for row in kinds.rows] == ["sugar maple", "northern red oak"]


def test_metric_sheets_sort_diameters_by_five_centimetres(
    plans: dict[str, Plan], pages: dict[str, Page]
) -> None:
    """Counted here from the list: the 40 cm class holds 37.5 to below 42.5 cm."""
    plan, read = plans["metric"], pages["metric"]
    assert plan.treatment is not None
    table = read.table("Trees by diameter class, by the hectare")
    dbh = plan.area.trees.dbh_cm[plan.treatment.inside]
    hectares = plan.area.stand.area / 1e4
    for row in table.rows:
        middle = int(row[0].removesuffix(" cm"))
        assert middle % 5 == 0
        count = ((dbh >= middle - 2.5) & (dbh < middle + 2.5)).sum() / hectares
        assert float(row[1].replace(",", "")) == pytest.approx(count, abs=0.5)
    before = read.table("The stand before and after, by the hectare")
    assert any(row[0].startswith("q: trees of a 5 cm class") for row in before.rows)
    inches = pages["international"].table("Trees by diameter class, by the acre")
    assert all(int(row[0].removesuffix(" in")) % 2 == 0 for row in inches.rows)
    before = pages["international"].table("The stand before and after, by the acre")
    assert any(row[0].startswith("q: trees of a 2 in class") for row in before.rows)


def test_what_plots_did_not_catch_stays_open(pages: dict[str, Page]) -> None:
    read = pages["marked only, plots"]
    kinds = read.table("Kinds by basal area, ft² by the acre")
    maple = kinds.row("sugar maple")
    assert maple["Before"] == maple["After"] == "–" and maple["Taken"] == "3.0"  # noqa: RUF001
    assert read.table("What 4 plots told, by the acre, with 90 % confidence").rows
    alone = pages["marked only"].table("The stand before and after, by the acre")
    assert alone.row("Basal area")["Before"] == "–"  # noqa: RUF001
    assert "The list holds the marked trees only" in pages["marked only"].text("stand")


def test_aims_that_are_blank_are_said_to_be_unjudged(pages: dict[str, Page]) -> None:
    said = pages["one tree, no aims"].text("stand")
    for key in ("residual_min", "removal_max", "gap_max", "leave_damage_max"):
        assert key in said
    assert "removal_max" not in pages["international"].text("stand")


# --- the terminal ---------------------------------------------------------------------------


def test_a_few_lines_say_what_goes_and_what_stays(plans: dict[str, Plan]) -> None:
    def said(name: str) -> list[str]:
        plan = plans[name]
        assert plan.treatment is not None
        return stand_lines.said(plan.area, plan.treatment)

    lines = said("international")
    assert len(lines) == 4
    assert re.search(r"114 sawlogs \(13,000 board feet net, International 1/4-inch\)", lines[0])
    (metric,) = re.findall(r"sawlogs \(([\d.]+) m³ net, cubic rule\), ", said("metric")[0])
    treatment = plans["metric"].treatment
    assert treatment is not None
    net_m3 = treatment.harvest.saw_net_m3[plans["metric"].area.trees.marked]
    assert float(metric) == pytest.approx(np.nansum(net_m3), rel=0.05)
    unruled = varied(plans["metric"], area={"units": "us"}, timber={"rule": ""})
    assert unruled.treatment is not None
    first = stand_lines.said(unruled.area, unruled.treatment)[0]
    assert re.search(r"sawlogs \([\d,]+ cu ft net, no log rule chosen\), ", first)
    assert "73 unmarked" not in lines[1] and "10 unmarked trees in the way" in lines[1]
    assert "B-line" in lines[2] and "widest opening 41 ft" in lines[3]
    assert said("marked only")[-1] == (
        "Only the marked trees are listed: what stands, what is left, and openings are not known."
    )
    assert re.search(
        r"after \(60 ft²/acre to 80 ft²/acre by 4 plots\)", said("marked only, plots")[1]
    )
    none = plans["international"]
    nothing = replace(
        none.area, trees=replace(none.area.trees, marked=np.zeros(len(none.area.trees), dtype=bool))
    )
    assert none.treatment is not None and stand_lines.said(nothing, none.treatment) == []


def test_check_says_it_from_files(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    lot = files.tidy_area(tmp_path / "lot")
    (lot / "plots.csv").write_text(
        "plot_id,baf_ft2_acre,species,dbh_in\nA,10,red oak,14\nA,10,red oak,12\nB,10,red oak,16\n",
        encoding="utf-8",
    )
    text = (lot / "area.toml").read_text(encoding="utf-8")
    assert text.count('list = "all"') <= 1
    text = text.replace('list = "all"\n', "")
    text = text.replace("[stand]\n", '[stand]\nlist = "marked"\nplots = "plots.csv"\n')
    (lot / "area.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(lot)]) in (0, 1)
    out = capsys.readouterr().out
    assert re.search(r"^Marked trees give \d+ sawlogs", out, re.M)
    assert re.search(r"^Basal area: .* by 2 plots\)", out, re.M)
    assert re.search(r"^unknown Only the marked trees are listed: cover, openings", out, re.M)
    (lot / "plots.csv").write_text("plot_id,species,dbh_in\nA,oak,0\n", encoding="utf-8")
    assert main(["check", str(lot)]) == 2
    err = capsys.readouterr().err
    assert "plots.csv line 2: dbh_in 0 is outside 0.5 to 120" in err
    assert "how the plots were taken is not told" in err
    (lot / "plots.csv").unlink()
    assert main(["check", str(lot)]) == 2
    assert "[stand] plots: " in capsys.readouterr().err
