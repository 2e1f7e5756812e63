/**
 * The page's looks: warm paper by day, ink by night, like a score. The voice colours are the palette of Okabe and Ito
 * (2008), which people with colour-vision deficiencies tell apart; they are never the only sign.
 */
export const VOICE_COLOURS = [
  '#0072b2',
  '#d55e00',
  '#009e73',
  '#cc79a7',
  '#e69f00',
  '#56b4e9',
  '#000000',
  '#f0e442',
] as const;

export const PAGE_STYLE = `
:root { color-scheme: light dark; --paper: #faf5ea; --sheet: #fffdf7; --ink: #2a241c; --faint: #6b6151; --rule: #cfc4ad;
  --quiet: #e8dfca; --mark: #8a3b12; --good: #1f5c3d; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #15171c; --sheet: #1c1f26; --ink: #ece5d6; --faint: #b0a793; --rule: #454a57; --quiet: #2a2e39;
    --mark: #f0a878; --good: #8fd0ac; }
}
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.55 Georgia, 'Times New Roman', serif; }
main { max-width: 1180px; margin: 0 auto; padding: 2rem 1.5rem 4rem; }
h1 { font-size: 2.1rem; font-weight: normal; text-align: center; margin: 0.5rem 0 0.2rem; letter-spacing: 0.01em; }
h2 { font-size: 1.3rem; font-weight: normal; border-bottom: 1px solid var(--rule); padding-bottom: 0.25rem; margin: 2.4rem 0 1rem; }
h3 { font-size: 1.1rem; margin: 0 0 0.4rem; }
.lead { text-align: center; font-style: italic; color: var(--faint); margin: 0 0 1.6rem; }
figure { margin: 0; overflow-x: auto; }
figcaption { color: var(--faint); font-size: 0.9rem; margin-top: 0.4rem; }
svg { display: block; max-width: 100%; height: auto; font: 12px Georgia, 'Times New Roman', serif; }
svg text { fill: var(--ink); } svg .faint { fill: var(--faint); }
svg .staff { stroke: var(--rule); stroke-width: 1; } svg .bar { stroke: var(--rule); stroke-width: 0.7; }
svg .bracket { stroke: var(--ink); fill: none; stroke-width: 3; } svg .frame { stroke: var(--ink); fill: none; }
svg .quiet { fill: var(--quiet); } svg .mark { stroke: var(--mark); fill: var(--mark); }
svg .before { stroke: var(--faint); fill: none; stroke-width: 1.6; stroke-dasharray: 5 3; }
svg .after { stroke: var(--good); fill: none; stroke-width: 2; }
svg .witness { fill: var(--ink); stroke: var(--sheet); stroke-width: 0.5; } svg .witness.aside { fill: var(--sheet); stroke: var(--faint); }
svg .reach { stroke: var(--faint); }
svg .curve { stroke: var(--good); fill: none; stroke-width: 1.8; } svg .target { stroke: var(--mark); stroke-dasharray: 6 4; }
.wave { fill: currentColor; opacity: 0.85; }
.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(150px, 1fr)); gap: 0.8rem; margin: 0; }
.figures div { background: var(--sheet); border-top: 2px solid var(--rule); padding: 0.6rem 0.8rem; }
.figures dt { color: var(--faint); font-size: 0.88rem; } .figures dd { margin: 0; font-size: 1.25rem; }
.take { background: var(--sheet); border-left: 5px solid; padding: 1rem 1.2rem; margin: 0 0 1.2rem; }
.two { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 1.4rem; }
@media (max-width: 860px) { .two { grid-template-columns: minmax(0, 1fr); } }
table { border-collapse: collapse; width: 100%; font-size: 0.93rem; } caption { text-align: left; color: var(--faint); }
th, td { text-align: left; vertical-align: top; padding: 0.25rem 0.7rem 0.25rem 0; border-bottom: 1px solid var(--rule); }
th { font-weight: normal; color: var(--faint); } th.number { text-align: right; white-space: nowrap; } td.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.notes { padding-left: 1.1rem; margin: 0.4rem 0; } .ask { border: 1px solid var(--mark); padding: 0.6rem 0.9rem; margin: 0.6rem 0; }
.ask strong { color: var(--mark); } dl.words dt { font-weight: bold; } dl.words dd { margin: 0 0 0.5rem; }
@media print { body { background: white; } .take { break-inside: avoid; } }
`;
