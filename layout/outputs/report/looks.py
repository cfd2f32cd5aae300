"""How the page looks: plain, for screen by day and night, for a phone and for paper.

Colours stand once, as names; what is written in a colour without a ground of its
own lies on ``paper`` or ``panel``. No rule here carries a meaning that words beside
it do not carry as well.
"""

# name: on white by day, on dark by night
COLOURS: dict[str, tuple[str, str]] = {
    "paper": ("#fdfcf8", "#14181a"),
    "panel": ("#f2f0e8", "#1f2528"),
    "ink": ("#1a1e1b", "#e8e5dc"),
    "soft": ("#515b55", "#acb5af"),
    "line": ("#cfccbf", "#3c4549"),
    "link": ("#0b5647", "#86d3bd"),
    "stop": ("#9c1a10", "#ffb3a8"),
    "stop-ground": ("#fbe9e5", "#43170f"),
    "caution": ("#744700", "#f0c67a"),
    "open": ("#543381", "#d5c2f3"),
    "open-ground": ("#efe9f7", "#2d2440"),
}

_RULES = """
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); color-scheme: light dark; }
body { margin: 0 auto; max-width: 64rem; padding: 1rem 1.25rem 4rem;
  font: 1rem/1.5 system-ui, "Segoe UI", "Helvetica Neue", "DejaVu Sans", sans-serif;
  overflow-wrap: anywhere; }
h1, h2, h3, h4, h5 { line-height: 1.25; margin: 1.6em 0 0.4em; }
h1 { font-size: 1.9rem; margin: 0.4em 0 0; }
h2 { font-size: 1.45rem; margin-top: 2.2em; padding-top: 0.5em; border-top: 3px solid var(--ink); }
h3 { font-size: 1.15rem; }
h4 { font-size: 1rem; padding-bottom: 0.15em; border-bottom: 1px solid var(--line); }
h5 { font-size: 1rem; margin-top: 1.2em; }
section > h3:first-of-type { margin-top: 0.8em; }
p, li { max-width: 46rem; }
p { margin: 0.4em 0 0.8em; }
.sub { color: var(--soft); }
.lead { font-size: 1.1rem; }
.banner { margin: 0.5em 0; padding: 0.4em 0.8em; max-width: none; font-weight: 700;
  color: var(--paper); background: var(--ink); }
a { color: var(--link); text-underline-offset: 0.15em; }
a:focus-visible, summary:focus-visible, .wide:focus-visible { outline: 3px solid var(--link);
  outline-offset: 2px; }
nav { padding: 0.6em 1em; background: var(--panel); }
nav ul { margin: 0; padding: 0; list-style: none; columns: 15rem auto; }
nav li { padding: 0.1em 0; break-inside: avoid; }
.decide { padding-left: 1.3em; }
.decide li { padding: 0.15em 0; }
.findings { list-style: none; margin: 0.4em 0; padding: 0; }
.findings li { max-width: none; margin: 0 0 0.35em; padding: 0.35em 0.7em;
  border-left: 5px solid var(--line); background: var(--panel); }
.findings p { margin: 0; }
.stop li { border-color: var(--stop); background: var(--stop-ground); }
.caution li { border-color: var(--caution); }
.unknown li { border-left-style: dashed; border-color: var(--soft); }
.place { display: block; font-weight: 700; }
.figures { display: block; }
.paper { display: none; }
.date { white-space: nowrap; }
.source, .notes { font-size: 0.85rem; color: var(--soft); }
.source { margin: 0.1em 0; }
.mark { padding: 0 0.35em; color: var(--open); background: var(--open-ground);
  white-space: nowrap; }
.stop .source { color: var(--ink); }
.notes { padding-left: 1.2em; }
details { margin: 0.4em 0 0.8em; }
summary { padding: 0.3em 0; color: var(--link); cursor: pointer; }
.wide { margin: 0.6em 0; overflow-x: auto; }
table { border-collapse: collapse; min-width: min(100%, 28rem);
  font-size: 0.9rem; line-height: 1.35; }
caption { text-align: left; font-weight: 700; padding: 0.2em 0 0.5em; }
th, td { padding: 0.3em 0.6em; text-align: left; vertical-align: top;
  border-bottom: 1px solid var(--line); overflow-wrap: normal; }
thead th { vertical-align: bottom; border-bottom: 2px solid var(--ink); }
tbody th, tfoot th { font-weight: 600; position: sticky; left: 0; background: var(--paper); }
tfoot td { font-weight: 600; }
.n { text-align: right; font-variant-numeric: tabular-nums; }
td.n, .w { white-space: nowrap; }
figure { margin: 0.6em 0; }
.map img { display: block; width: 100%; min-width: 44rem; height: auto; background: #ffffff; }
figcaption { font-size: 0.85rem; color: var(--soft); }
.chart svg { display: block; width: 100%; min-width: 34rem; max-width: 46rem; height: auto;
  font-size: 13px; }
.chart text { fill: currentColor; stroke: var(--paper); stroke-width: 3px; paint-order: stroke; }
.chart .soft { color: var(--soft); }
.chart .grid { stroke: var(--line); stroke-width: 1; }
.chart .ground { fill: none; stroke: var(--soft); stroke-width: 2; }
.chart .grade, .chart .across {
  fill: none; stroke: var(--ink); stroke-width: 1.6; stroke-linejoin: round;
}
.chart .drain { stroke: var(--link); stroke-width: 3; }
.chart .lead { fill: none; stroke: var(--ink); stroke-width: 0.6; }
.chart .mouth { fill: none; stroke: var(--ink); stroke-width: 1.2; }
.chart .limit, .chart .crosslimit { stroke: var(--stop); stroke-width: 1.5; stroke-dasharray: 7 4; }
.chart .aim { stroke: var(--soft); stroke-width: 2; stroke-dasharray: 2 3; }
.chart .bound { stroke: var(--stop); stroke-width: 2; stroke-dasharray: 7 4; }
.chart .over { fill: var(--stop); }
.chart .full { fill: var(--link); }
.chart .dark { fill: var(--ink); }
.chart .faint { fill: var(--soft); }
.chart .outline { fill: none; stroke: var(--ink); stroke-width: 1.5; }
@media (min-width: 46rem) {
  .findings li { display: grid; grid-template-columns: 15rem 1fr; gap: 0 1rem; }
}
@media (max-width: 30rem) {
  body { padding: 0.6rem 0.8rem 3rem; }
  h1 { font-size: 1.5rem; }
  h2 { font-size: 1.25rem; }
}
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; line-height: 1.35; }
  p, li { max-width: none; orphans: 3; widows: 3; }
  h1, h2, h3, h4, h5, caption, thead { break-after: avoid; }
  h1 { font-size: 16pt; }
  .banner { margin: 0.25em 0; padding: 0.15em 0.6em; }
  h2 { font-size: 14pt; margin-top: 1em; }
  h3, h4, h5 { margin-top: 0.9em; }
  .lead { font-size: 10.5pt; }
  h3 { font-size: 11.5pt; }
  h4, h5 { font-size: 10pt; }
  html, .findings li, tbody th, tfoot th { background: #ffffff; }
  .findings li, tr, figure { break-inside: avoid; }
  .findings li { display: block; padding: 0.1em 0.5em; margin-bottom: 0.2em; }
  .findings p, .findings div, .place, .figures { display: inline; }
  .place::after { content: ":"; }
  .figures::after { content: "."; }
  nav { display: none; }
  a { color: inherit; text-decoration: none; }
  .wide { overflow: visible; }
  .map img, .chart svg { min-width: 0; }
  .map img { width: auto; max-width: 100%; max-height: 4.9in; }
  .chart svg { max-width: 5.3in; }
  figure, .wide { margin: 0.25em 0; }
  table { font-size: 8.5pt; }
  th, td { padding: 0.15em 0.4em; }
  tbody th, tfoot th { position: static; }
  tfoot { display: table-row-group; }
  summary { color: inherit; }
  .printed .findings { columns: 2; column-gap: 0.3in; font-size: 9pt; }
  .printed .findings div { display: none; }
  .screen:not([open]) + .paper { display: block; }
  .screen:not([open]) > summary { display: none; }
  .whole > summary { display: none; }
  .printed::details-content,
  .whole::details-content { content-visibility: visible; block-size: auto; }
  .banner, .mark { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""


def style(paper: str) -> str:
    """Give the page's style.

    Parameters
    ----------
    paper : {"letter", "a4"}
        What it is printed on.

    Returns
    -------
    str
        Holds nothing that XML or HTML would read as markup. Paper always takes the
        colours of the day.
    """
    day = "".join(f" --{name}: {light};" for name, (light, _) in COLOURS.items())
    night = "".join(f" --{name}: {dark};" for name, (_, dark) in COLOURS.items())
    return (
        f"\n:root {{{day} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{{night} }} }}\n"
        f"@page {{ size: {paper}; margin: 0.6in 0.7in; }}"
        f"{_RULES}"
    )
