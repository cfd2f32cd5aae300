"""Words of the report about washing and compaction of the soil."""

from collections.abc import Mapping

SOIL: Mapping[str, str] = {
    "report_wash_title": "How fast trails would wash",
    "report_wash_lead": (
        "All trails together, bare and without a water bar: {open}. With their bars, still bare: "
        "{barred}. With their bars, and covered with slash or seed: {covered}."
    ),
    "report_wash_mark": (
        "The classes compare stretches with each other and are no amounts of soil. The mark is a "
        "bare trail of 10 % with bars {apart} apart on default soil: up to a quarter of "
        "it is low, up to it moderate, up to twice high."
    ),
    "report_wash_cap": "How fast each trail would wash: four classes",
    "report_wash_show": "All {count} trails",
    "report_col_wash_run": "Longest run of water, no bars",
    "report_col_wash_barred": "Longest with bars",
    "report_col_wash_open": "No bars, bare",
    "report_col_wash_bare": "With bars, bare",
    "report_col_wash_covered": "With bars, covered",
    "report_washes_low": "low",
    "report_washes_moderate": "moderate",
    "report_washes_high": "high",
    "report_washes_very_high": "very high",
    "report_wash_worst_title": "Stretches to cover first ({count})",
    "report_wash_worst_lead": (
        "With their bars, but bare, these are in the class very high. Cover them with tops and "
        "branches as soon as the last load is out. Where even the last column says high, put "
        "bars nearer, or look for a gentler line."
    ),
    "report_wash_worst_cap": "Stretches that would wash fastest, the worst first",
    "report_wash_worst_show": "All {count} stretches",
    "report_col_stretch": "Stretch",
    "report_col_steep": "Steepness",
    "report_measured_cap": "Measured on closed skid trails dug into the slope, {unit}",
    "report_measured_tons": "short tons an acre in a year",
    "report_measured_tonnes": "tonnes a hectare in a year",
    "report_col_closed_with": "Closed with",
    "report_col_piedmont": "Piedmont, Virginia",
    "report_col_ridge": "Ridge and Valley, Virginia",
    "report_closed_bars": "water bars only",
    "report_closed_seed": "water bars and grass seed",
    "report_closed_slash": "water bars and slash",
    "report_closed_mulch": "water bars, seed and straw",
    "report_measured_note": (
        "Two studies, ninefold apart with bars alone: what your trails lose is not known and not "
        "promised here. What both found is the order: cover holds soil far better than bars alone. "
        "Sources: {sources}."
    ),
    "report_wash_family": (
        "Length and steepness by {family}, one family throughout; {other} makes these trails "
        "{ratio:.1f} times as much, so read a class as about one class wide. Water from "
        "the side of a trail is not in it."
    ),
    "report_wash_k_default": (
        "Soil erodibility {k:g} is the default, not your soil; cover {bare:g} bare and "
        "{covered:g} covered are from memory: unverified."
    ),
    "report_wash_k_own": (
        "Soil erodibility {k:g} is yours; cover {bare:g} bare and {covered:g} covered as in your "
        "settings, their defaults from memory: unverified."
    ),
    "report_wash_sources": "Sources: {sources}. Steps between classes are ours.",
    "report_wash_unjudged": "Not worked out, elevations are missing: {names}.",
    "report_press_title": "How far loads press the ground",
    "report_press_lead": (
        "Under the wheels the planned loads bring {share} of the compaction that loads without "
        "end would, all trails together; {done} is pressed to 95 % and more, {stand} of the "
        "stand. It does not come back in a few years."
    ),
    "report_press_saves": (
        "The same loads spread over twice the trail would press as much as {more} more ground "
        "wholly. Few trails, driven again and again, are the smaller harm."
    ),
    "report_press_even": (
        "The same loads spread over twice the trail would press about as much ground wholly."
    ),
    "report_press_twice": (
        "Pressed to 95 % and more: {planned} of the stand as planned, {spread} with the loads "
        "spread over twice the trail."
    ),
    "report_press_less": (
        "Spread out, less of it comes to 95 %; what is more is the ground pressed in part."
    ),
    "report_press_cap": "Compaction by trail",
    "report_col_loads_mean": "Loads, mean",
    "report_col_loads_most": "Most loads",
    "report_col_pressed": "Pressed, of the final",
    "report_press_note": (
        "Share = 1 - exp(-k n) with n loads, k {flat:g} on flat dry and {other:g} on sloping "
        "(10 % and more) or wet ground. The curve is ours, from {source}."
    ),
}
