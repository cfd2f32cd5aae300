"""Ground: how much is disturbed, by kind and by class, what is dug, how it would wash."""

from __future__ import annotations

from layout import benching
from layout.outputs.amounts import limit, share
from layout.outputs.report import bar_charts, washing
from layout.outputs.report.figures import ground, length, natural
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.sources import BENCH_SHAPE, SOIL_AIM, SOIL_CLASSES, SOIL_LIMIT
from layout.speech import speak_volume


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        Shares of the stand with and without the landing, against limit and aim.
    """
    soil, rule = tally.plan.soil, tally.plan.area.settings.soil
    over = soil.share_pct > rule.limit_pct
    verdict = say(
        "report_soil_over" if over else "report_soil_within",
        share=share(soil.share_pct),
        whole=share(soil.share_with_landing_pct),
        aim=limit(rule.aim_pct),
        limit=limit(rule.limit_pct),
    )
    return section(
        "ground",
        say("report_soil"),
        tag("p", verdict),
        _chart(tally),
        _by_kind(tally),
        _by_class(tally),
        _benches(tally),
        washing.part(tally),
    )


def _uses(tally: Tally) -> list[tuple[str, float]]:
    """Give the bare ground by what it is used for, square metres."""
    soil = tally.plan.soil
    parts = [("main", soil.main_m2), ("spur", soil.spur_m2), ("turning", soil.turning_m2)]
    return [*parts, ("bench", soil.bench_m2)] if soil.bench_m2 else parts


def _chart(tally: Tally) -> Markup | None:
    """Draw the shares of the stand against aim and limit; the landing is in neither."""
    soil, rule = tally.plan.soil, tally.plan.area.settings.soil
    if soil.stand_m2 <= 0:
        return None
    parts = [
        (say(f"report_ground_{name}"), 100 * size / soil.stand_m2) for name, size in _uses(tally)
    ]
    told = say(
        "chart_ground_told",
        parts=", ".join(say("chart_ground_part", name=n, share=share(p)) for n, p in parts),
        share=share(soil.share_pct),
        aim=limit(rule.aim_pct),
        limit=limit(rule.limit_pct),
    )
    marks = [
        (say("chart_aim", size=limit(rule.aim_pct)), rule.aim_pct, "aim"),
        (say("chart_limit", size=limit(rule.limit_pct)), rule.limit_pct, "bound"),
    ]
    return bar_charts.shares([(n, p, share(p)) for n, p in parts], marks, told)


def _by_kind(tally: Tally) -> Markup:
    """Write the ground by what it is used for; corridors stand beside the share."""
    soil = tally.plan.soil
    bare_m2 = soil.main_m2 + soil.spur_m2 + soil.turning_m2 + soil.bench_m2
    listed: list[list[Piece]] = [
        [say(f"report_ground_{name}"), *_sizes(size, tally)] for name, size in _uses(tally)
    ]
    listed += [
        _strong(say("report_ground_bare"), bare_m2, tally),
        [say("report_ground_landing"), *_sizes(soil.landing_m2, tally)],
        _strong(say("report_ground_all"), bare_m2 + soil.landing_m2, tally),
        [say("report_ground_corridor"), *_sizes(soil.corridor_m2, tally)],
    ]
    columns = (
        Column(say("report_col_ground_kind")),
        Column(say("report_col_size"), number=True),
        Column(say("report_col_share"), number=True),
    )
    sources = say("report_soil_sources", limit=str(SOIL_LIMIT), aim=str(SOIL_AIM))
    return join(
        table(say("report_ground_cap"), columns, listed),
        bullets([say("report_ground_note"), sources], class_="notes"),
    )


def _strong(name: str, square_m: float, tally: Tally) -> list[Piece]:
    """Write a row of sums."""
    return [tag("strong", name), *(tag("strong", said) for said in _sizes(square_m, tally))]


def _sizes(square_m: float, tally: Tally) -> list[str]:
    """Say an area, and its share of the stand."""
    part = 100 * square_m / tally.plan.soil.stand_m2
    return [ground(square_m, tally.units), share(part)]


def _by_class(tally: Tally) -> Markup | None:
    """Write the ground by how badly it is disturbed."""
    classes = {n: size for n, size in tally.plan.soil.class_m2.items() if n}
    if not classes:
        return None
    columns = (
        Column(say("report_col_class_name")),
        Column(say("report_col_size"), number=True),
        Column(say("report_col_share"), number=True),
    )
    listed: list[list[Piece]] = [
        [say(f"report_class_{number}"), *_sizes(size, tally)]
        for number, size in sorted(classes.items())
    ]
    first, second = tally.plan.area.settings.soil.class_passes
    return join(
        table(say("report_class_cap"), columns, listed),
        bullets(
            [say("report_class_note", first=first, second=second, source=str(SOIL_CLASSES))],
            class_="notes",
        ),
    )


def _benches(tally: Tally) -> Markup | None:
    """Write what is dug for new benches, by trail."""
    plan, units = tally.plan, tally.units
    if not plan.benches:
        return None
    columns = (
        Column(say("report_col_trail")),
        Column(say("report_col_length"), number=True),
        Column(say("report_col_cut"), number=True),
        Column(say("report_col_fill"), number=True),
        Column(say("report_col_widest"), number=True),
    )
    listed: list[list[Piece]] = []
    for trail, bench in sorted(plan.benches.items(), key=lambda item: natural(item[0])):
        cut_m3, fill_m3 = bench.volume_m3(float(bench.at_m[0]), float(bench.at_m[-1]))
        listed.append(
            [
                trail,
                length(bench.length_m, units),
                speak_volume(cut_m3, units),
                speak_volume(fill_m3, units),
                length(bench.width_m(float(bench.at_m[0]), float(bench.at_m[-1])), units),
            ]
        )
    length_m, cut_m3, fill_m3 = benching.totals(plan.benches)
    said = say(
        "benches",
        length=length(length_m, units),
        cut=speak_volume(cut_m3, units),
        fill=speak_volume(fill_m3, units),
        ground=ground(plan.soil.bench_m2, units),
    )
    return join(
        tag("h3", say("report_benches")),
        tag("p", said),
        table(say("report_benches_cap"), columns, listed),
        bullets([say("report_bench_note", source=str(BENCH_SHAPE))], class_="notes"),
    )
