"""Words of closing the job: the crew's list to tick, and its part of the report."""

from collections.abc import Mapping

CLOSEOUT: Mapping[str, str] = {
    # crew's list
    "crew_closing": "Closing",
    "crew_closing_how": (
        "Tick a trail when all of it is done and no load passes again; initials by whoever looked "
        "it over. Every trail: ruts and berms off first, so that water leaves it; a spur's mouth "
        "blocked with logs or brush last. Bars: how many, then their stations from the landing "
        "end, the farthest first; the low side stands on the flagging sheet. Cover: stretches "
        "steeper than {grade} %, dug, or leading to a crossing (grade and approach: ours, "
        "unverified): slash pressed down onto the soil, or mulch; no slash beside water or a road "
        "where the local rule bars it. Seed: bare ground; kind and amount by local advice."
    ),
    "crew_closing_measured": (
        "Measured on bladed trails, against water bars alone: slash {slash} less soil lost, mulch "
        "over seed {mulch}, seed {seed}; other ground differs."
    ),
    "crew_closing_col_trail": "trail",
    "crew_closing_col_bars": "water bars at, {unit}",
    "crew_closing_col_cover": "cover, {unit}",
    "crew_closing_col_seed_us": "seed, sq ft",
    "crew_closing_col_seed_metric": "seed, m²",
    "crew_closing_col_initials": "initials",
    "crew_closing_bars": "{count}: {stations}",
    "crew_closing_outlets": "outlet open {stations}",
    "crew_closing_span": "{start}-{end}",
    "crew_closing_bare": "if bare",
    "crew_closing_crossing": "{crossing} out {at}",
    "crew_closing_turning": "turning {place} smoothed",
    "crew_closing_small_landing": "small landing smoothed",
    "crew_closing_done": "done",
    "crew_closing_landing": "Landing",
    "crew_closing_landing_does": "water led round it",
    "crew_closing_all": "All",
    "crew_closing_bar_one": "1 bar",
    "crew_closing_bar_many": "{count} bars",
    "crew_closing_bar_length": "{bars}, {length} in all",
    # close lines and landing of the order of work
    "crew_work_close_crossings": "crossing out",
    "crew_work_close_ground": "ruts, berms off",
    "crew_work_close_turning": "turning smoothed",
    "crew_work_close_small_landing": "small landing smoothed",
    "crew_work_close_outlets": "outlets open",
    "crew_work_close_cover": "covered",
    "crew_work_close_seed": "seeded",
    "crew_work_close_mouth": "mouth shut",
    "crew_work_landing_wood": "wood hauled away",
    "crew_work_landing_smooth": "ruts smoothed, slash cleared",
    "crew_work_landing_water": "water led round it and off it",
    "crew_work_landing_seed": "bare soil covered or seeded",
    "crew_work_landing_gate": "gate or chain back",
    "crew_work_landing_ribbons": "ribbons down",
    "crew_work_landing_rubbish": "rubbish and gear taken home",
    # report
    "report_closeout": "Closing the job",
    "report_closeout_lead": (
        "What every trail needs once no load passes again, then the landing. The crew's book has "
        "the same list to tick. In all: {bars}, {length} of bar; "
        "{cover} to cover, {seed} to seed."
    ),
    "report_closeout_show": "Closing, trail by trail ({count})",
    "report_closeout_cap": "What closing takes",
    "report_closeout_col_bars": "Water bars",
    "report_closeout_col_bar_length": "Length of bars",
    "report_closeout_col_cover": "Cover with slash or mulch",
    "report_closeout_col_cover_size": "Its ground",
    "report_closeout_col_seed": "Seed",
    "report_closeout_col_besides": "Besides ruts and berms",
    "report_closeout_col_minutes": "Minutes",
    "report_closeout_landing": "Landing",
    "report_closeout_span": "{start} to {end} ({why})",
    "report_closeout_why_grade": "steep",
    "report_closeout_why_bench": "dug",
    "report_closeout_why_crossing": "crossing",
    "report_closeout_if_bare": "where soil shows",
    "report_closeout_mouth": "mouth blocked at {place}",
    "report_closeout_crossing": "crossing {crossing} out",
    "report_closeout_outlets": "outlets of dips and low points opened at {places}",
    "report_closeout_turning": "turning place {place} smoothed",
    "report_closeout_small_landing": "small landing smoothed",
    "report_closeout_home": (
        "wood out, water led round it, gate or chain back, ribbons down, rubbish taken home"
    ),
    "report_closeout_all": "All",
    "report_closeout_done": "closed already",
    "report_closeout_range": "{low} to {high} %",
    "report_closeout_note_measured": (
        "Less soil lost than with water bars alone, as measured on bladed skid trails: slash "
        "{slash}, straw mulch over seed {mulch}, seed {seed}. The two places differ ninefold in "
        "what is lost: a share to choose by, no promise. With brush behind the bars a third study "
        "lost 47 to 65 % less than with bars alone. Sources: {sources}."
    ),
    "report_closeout_note_where": (
        "Cover is asked for over {grade} %, on new benches and within {approach} of a crossing: "
        "both figures are ours, unverified, and so is what few loads pass (class 1): there the "
        "litter mostly stays and seed goes only where soil shows. A local rule on slash beside "
        "water or roads comes first."
    ),
    "report_closeout_note_seed": (
        "Ground is counted once, spurs without the trail they leave. Kind and amount of seed "
        "depend on place and season: ask a forester or the soil office."
    ),
    "report_closeout_note_minutes": (
        "Minutes are those of the closing steps in the order of work, productive, not added to "
        "them."
    ),
    "report_closeout_note_sources": (
        "Crossings out and water led off: {sources}. The rest of the list: common practice, no "
        "source."
    ),
}
