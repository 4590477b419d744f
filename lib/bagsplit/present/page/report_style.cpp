#include "bagsplit/present/page/detail/report_page.hpp"

namespace bagsplit::present {

// Made for paper first: black on white, one hue, wide margins. A chart is drawn 360 units across and shown at most
// about as wide, so that its words are as large as the page's. Neither ampersand nor less-than sign in here.
text::Markup report_style() {
  return text::style_sheet(R"(
:root { --paper: #fff; --ink: #1a1a17; --soft: #55554e; --rule: #cfcdc4; --tint: #ecebe3; --hue: #0a5a52; --win: #9c3d0a; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #171715; --ink: #ecebe5; --soft: #b3b2aa; --rule: #45443f; --tint: #2b2b27; --hue: #74c9bd; --win: #ffad78; }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; padding: 1.5rem 1rem 4rem; max-width: 62rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, "Segoe UI", Roboto, "Liberation Sans", Arial, sans-serif; overflow-wrap: break-word; }
h1, h2, h3, h4 { font-family: Georgia, "Liberation Serif", "Times New Roman", serif; font-weight: 600; line-height: 1.25; margin: 0; }
h1 { font-size: 1.9rem; }
h2 { font-size: 1.35rem; margin: 3rem 0 .75rem; padding-top: .75rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1.08rem; margin: 1.75rem 0 .5rem; }
h2 + h3, h2 + div h3, figure h3 { margin-top: 0; }
h4 { font-size: 1rem; margin: 0 0 .4rem; }
p, ul { margin: .4rem 0 .8rem; max-width: 44rem; }
ul { padding-left: 1.2rem; }
li { margin: .25rem 0; }
a { color: var(--hue); }
:focus-visible { outline: 3px solid var(--hue); outline-offset: 2px; }
.skip { position: absolute; left: -99rem; }
.skip:focus { left: 1rem; top: .5rem; background: var(--paper); padding: .5rem; }
.heard { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
.lead { font-size: 1.05rem; color: var(--soft); }
.small { font-size: .875rem; color: var(--soft); margin: .3rem 0; }
.first { border-left: 4px solid var(--hue); padding: .1rem 0 .1rem 1rem; margin: 1rem 0; }
.first p { margin: .2rem 0; }
.first h2 { margin: 0 0 .3rem; padding: 0; border: 0; font-size: 1.15rem; }
.charts { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 20rem), 1fr)); gap: 2.25rem 2.5rem; align-items: start; margin: 1rem 0; }
figure { margin: 0; min-width: 0; }
.wide { max-width: 34rem; }
figcaption p { font-size: .9375rem; margin: .35rem 0; }
.cannot { color: var(--soft); }
details { margin: .5rem 0; }
summary { cursor: pointer; padding: .35rem 0; color: var(--hue); font-size: .9375rem; }
.row { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .3rem 1rem; }
.scroll { overflow-x: auto; max-width: 100%; margin: 0 0 1rem; }
table { border-collapse: collapse; font-size: .9rem; font-variant-numeric: tabular-nums; }
th, td { text-align: right; padding: .3rem .8rem .3rem 0; border-bottom: 1px solid var(--rule); vertical-align: top; white-space: nowrap; }
th:first-child, .words { text-align: left; }
td.words { white-space: normal; min-width: 11rem; max-width: 24rem; }
thead th { vertical-align: bottom; border-bottom: 2px solid var(--ink); font-weight: 600; }
tbody th { font-weight: 600; white-space: normal; max-width: 11rem; }
tbody th, thead tr > :first-child { position: sticky; left: 0; background: var(--paper); }
.unit, td small { color: var(--soft); font-weight: 400; }
td small { font-size: .85em; }
svg { display: block; width: 100%; max-width: 30rem; height: auto; overflow: visible; font-family: inherit; }
svg text { font-size: 12px; fill: var(--ink); }
svg .small, svg .small text { font-size: 11px; fill: var(--soft); }
svg .strong { font-weight: 600; }
.grid { stroke: var(--rule); stroke-width: 1; fill: none; }
.ink { stroke: var(--ink); stroke-width: 1; fill: none; }
.bar { stroke: var(--ink); stroke-width: 2; fill: none; }
.dashed { stroke-dasharray: 3 2.5; }
.curve { stroke: var(--hue); stroke-width: 2.5; fill: none; }
.edge { stroke: var(--soft); stroke-width: 1; fill: none; }
.mark { stroke: var(--ink); stroke-width: 1.2; stroke-dasharray: 5 3; fill: none; }
.mark.bold { stroke-width: 2.2; }
.bracket { stroke: var(--hue); stroke-width: 2; fill: none; }
.band { fill: var(--soft); fill-opacity: .16; stroke: none; }
.band.edge { stroke: var(--soft); stroke-width: 1; }
.bag { fill: var(--paper); stroke: var(--ink); stroke-width: 1.4; }
.dot { fill: var(--hue); stroke: var(--paper); stroke-width: 1; }
.hollow { fill: var(--paper); stroke: var(--hue); stroke-width: 2; }
.marks { table-layout: fixed; width: 100%; max-width: 44rem; font-size: .76rem; }
.marks th, .marks td { padding: .3rem 0; text-align: center; vertical-align: middle; }
.marks thead th { font-size: .66rem; font-weight: 400; overflow-wrap: normal; }
.marks thead th:first-child { width: 9%; }
.marks tbody th { text-align: right; padding-right: .5rem; font-size: .95rem; }
.marks .rule > * { border-top: 2px solid var(--ink); }
.marks .w, .key .w, .win .big { color: var(--win); font-weight: 700; }
.marks .g { font-weight: 700; }
.key { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .1rem 1rem; font-size: .875rem; }
.say { display: grid; grid-template-columns: 5.2rem 1fr; gap: .3rem .6rem; margin: .8rem 0; max-width: 44rem; }
.say dt { font-weight: 700; }
.say dd { margin: 0; }
.two { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 18rem), 1fr)); gap: 1rem 2rem; margin: 1rem 0; }
.two .first { margin: 0 0 1rem; }
.two h2, .charts h2 { margin: 1rem 0 .4rem; padding: 0; border: 0; font-size: 1.08rem; }
.two .first.win { border-color: var(--win); }
.rest:nth-child(odd) { grid-column: 1 / -1; }
.big { font-size: 1.12rem; font-weight: 700; }
.side { stroke: var(--soft); stroke-opacity: .7; fill: none; }
.side.win { stroke: var(--win); stroke-opacity: 1; }
footer { margin-top: 3rem; padding-top: 1rem; border-top: 1px solid var(--rule); }
article { margin-top: 4rem; }
article:first-child { margin-top: 0; }
@page { margin: 10mm 14mm; }
@media print {
  :root { --paper: #fff; --ink: #000; --soft: #444; --rule: #bbb; --tint: #eee; --hue: #06463f; --win: #8a3406; }
  body { padding: 0; max-width: none; font-size: 9.5pt; line-height: 1.35; }
  details, .skip, nav { display: none; }
  h1 { font-size: 17pt; }
  h2 { font-size: 13pt; margin: 14pt 0 5pt; padding-top: 4pt; break-after: avoid; }
  h3 { font-size: 10.5pt; break-after: avoid; }
  figure, tr, li, svg { break-inside: avoid; }
  .wide figure { break-inside: auto; }
  table { font-size: 8pt; }
  th, td { padding: 1.5pt 6pt 1.5pt 0; white-space: normal; }
  td.words { min-width: 0; }
  .intro { break-after: avoid; }
  .scroll { overflow: visible; }
  .charts { display: grid; grid-template-columns: 1fr 1fr; gap: 10pt 16pt; margin: 6pt 0; }
  svg { max-width: 96mm; }
  .wide { max-width: 110mm; }
  figcaption p { font-size: 8.5pt; margin: 2pt 0; }
  .small { font-size: 8pt; }
  article { break-before: page; break-inside: avoid; margin: 0; }
  article:first-child { break-before: auto; }
  .squad ~ article { break-before: page; }
  /* A child's page fills one sheet, A4 or Letter, and nothing on it is under 7 pt. */
  article { font-size: 8.2pt; line-height: 1.25; }
  article p.small, article .small > p { font-size: 7.3pt; }
  article h2 { margin: 3pt 0 1pt; padding: 0; border: 0; }
  article .first { margin: 2pt 0; }
  article .charts { grid-template-columns: 1fr 1fr; gap: 3pt 16pt; margin: 2pt 0; }
  article .two { gap: 2pt 16pt; margin: 2pt 0; grid-template-columns: 1fr 1fr; }
  article figure svg { max-height: 44mm; }
  article svg .small, article svg .small text { font-size: 12px; }
  article h1, article h1 + .lead { display: inline-block; margin-right: 10pt; }
  article > h2 { display: none; }
  article ul, article p { margin: 2pt 0; }
  article .two h2, article .charts h2 { font-size: 10.5pt; margin: 4pt 0 2pt; }
  article .scroll { margin: 0; }
  article .big { font-size: 10.5pt; }
  .marks { font-size: 9pt; max-width: none; }
  .marks th, .marks td { padding: 3pt 0; }
  .say, .key { font-size: 9pt; }
  article .lead { font-size: 9.5pt; margin: 2pt 0; }
  article figcaption p { font-size: 8pt; line-height: 1.25; margin: 1pt 0; }
  article footer { margin-top: 4pt; padding-top: 3pt; }
  article p.small { font-size: 7pt; line-height: 1.25; margin: 1pt 0; max-width: none; }
}
)");
}

}  // namespace bagsplit::present
