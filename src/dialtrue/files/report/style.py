"""The report's look: ink on paper, thin rules, colour only where it means something; light, dark, phone, print."""

from typing import Final

STYLE: Final = """
:root{color-scheme:light dark;--paper:#fbfaf7;--ink:#1b1f23;--soft:#545b61;--rule:#d9d5cc;--water:#1f5f7a;
--look:#9a5b00;--visit:#a3232b;--good:#2d6a3e;--wet:#cfdde2;--mono:ui-monospace,"SF Mono",Menlo,Consolas,
"Liberation Mono",monospace;--sans:system-ui,-apple-system,"Segoe UI","Liberation Sans",sans-serif}
@media (prefers-color-scheme:dark){:root{--paper:#15181b;--ink:#ebe8e1;--soft:#b4b2ac;--rule:#3b4045;--water:#8cc7e0;
--look:#f0b45c;--visit:#ff9a9d;--good:#8fd0a0;--wet:#2b4753}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 var(--sans);font-variant-numeric:tabular-nums}
main,header,footer{max-width:58rem;margin:0 auto;padding:0 1.25rem}
header{padding-top:2rem}
h1,h2,h3,p,ul,table,figure,dl{margin:0}
h1{font-size:16px;font-weight:600;color:var(--soft)}
.summary{font-size:28px;line-height:1.25;font-weight:400;margin:.35rem 0 .5rem;max-width:44rem;text-wrap:pretty}
.small{font-size:14px;color:var(--soft)}
nav{margin:1rem 0 0;font-size:14px}
nav ul{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.25rem 1.25rem}
nav a{display:inline-block;padding:.4rem 0}
a{color:var(--water);text-underline-offset:.15em}
:focus-visible{outline:3px solid var(--water);outline-offset:2px}
section{margin-top:2.75rem}
h2{font-size:20px;font-weight:600;padding-bottom:.35rem;border-bottom:1px solid var(--ink)}
h2+p{margin-top:.6rem}
h3{font-size:20px;line-height:1.3;font-weight:600;text-wrap:pretty}
table{border-collapse:collapse;width:100%;font-size:16px}
caption{text-align:left;font-size:14px;color:var(--soft);padding:.5rem 0 .25rem}
th,td{padding:.45rem .9rem .45rem 0;text-align:left;vertical-align:top;border-bottom:1px solid var(--rule)}
th:last-child,td:last-child{padding-right:0}
thead th{font-size:14px;font-weight:400;color:var(--soft)}
tbody th{font-weight:400}
.num{text-align:right;white-space:nowrap}.day{white-space:nowrap}
.serial{font-family:var(--mono)}
.serial{font-size:.94em;overflow-wrap:break-word}
.stack{display:block;font-size:14px;color:var(--soft)}
.state{display:inline-flex;align-items:baseline;gap:.4rem;font-size:14px;white-space:nowrap}
.state svg{width:11px;height:11px;flex:none;align-self:center;fill:currentColor}
.visit{color:var(--visit)}.remote_check{color:var(--look)}.none{color:var(--soft)}.sound{color:var(--good)}
article{padding:1.5rem 0 1.75rem;border-bottom:1px solid var(--rule)}
article .where{display:flex;flex-wrap:wrap;gap:.1rem 1rem;font-size:14px;color:var(--soft);margin:0 0 .3rem}
article .where .serial{color:var(--ink)}
dl.facts{display:grid;grid-template-columns:repeat(auto-fit,minmax(13rem,1fr));gap:.6rem 1.5rem;margin:.9rem 0 0}
dl.facts dt{font-size:14px;color:var(--soft)}
dl.facts dd{margin:0}
.next{margin:.9rem 0 0;padding-left:.9rem;border-left:3px solid var(--water)}
figure{margin-top:1.1rem}
figcaption{font-size:14px;color:var(--soft);margin-top:.3rem}
figure svg{display:block;max-width:100%;height:auto}
.lined{overflow-x:auto}
.chart svg{width:100%}
.chart svg.narrow{display:none}
.chart text{font-family:var(--sans);font-variant-numeric:tabular-nums}
.chart [fill="#1b1f23"],.chart [fill="#000"]{fill:var(--ink)}.chart [stroke="#1b1f23"]{stroke:var(--ink)}
.chart [fill="#1f5f7a"]{fill:var(--water)}.chart [stroke="#1f5f7a"]{stroke:var(--water)}
.chart [fill="#a3232b"]{fill:var(--visit)}.chart [stroke="#a3232b"]{stroke:var(--visit)}
.chart [fill="#cfdde2"]{fill:var(--wet)}.chart [stroke="#d9d5cc"]{stroke:var(--rule)}
h3.part{font-size:16px;margin-top:2.25rem}
.evidence text{fill:var(--ink);font-family:var(--sans);font-variant-numeric:tabular-nums}
.evidence .soft{fill:var(--soft)}.evidence .onset-name{fill:var(--visit)}
.evidence path,.evidence line{fill:none}
.evidence .grid,.share .grid{stroke:var(--rule);fill:none}.evidence .zero{stroke:var(--ink);stroke-width:1}
.evidence .level{stroke:var(--soft);stroke-dasharray:2 4}
.evidence .line{stroke-width:1.75;stroke-linejoin:round}.evidence .line.first{stroke:var(--water)}
.evidence .line.second{stroke:var(--ink);stroke-dasharray:6 4}
.evidence .line.third{stroke:var(--look);stroke-dasharray:2 3}
.evidence .point{fill:var(--ink);stroke:var(--ink)}.evidence .point.open{fill:var(--paper);stroke-width:1.6}
.evidence .noise{stroke:var(--soft);stroke-width:1.25}
.evidence .span{fill:var(--rule);fill-opacity:.45;stroke:var(--soft);stroke-width:.75}
.evidence .stems{stroke:var(--water)}
.evidence .wet{fill:var(--wet);opacity:.6}.evidence .onset{stroke:var(--visit)}.evidence .hatch{opacity:.4}
.evidence .bar,.share .bar{fill:var(--water);stroke:var(--water)}
.evidence .bar.open{fill:none;stroke:var(--look);stroke-width:1.5}
.share{display:block;margin-top:.4rem;max-width:100%}
details{margin-top:.6rem}details+details{margin-top:0}
summary{cursor:pointer;color:var(--water);padding:.4rem 0;min-height:32px}
.scroll{overflow-x:auto}
ul.plain{padding-left:1.1rem;margin-top:.6rem}
ul.plain li{margin:.3rem 0}
footer{margin-top:3rem;padding-bottom:3rem;font-size:14px;color:var(--soft)}
footer p{margin-top:.4rem}
.skip{position:absolute;left:-99rem}.skip:focus{left:1rem;top:1rem;background:var(--paper);padding:.5rem}
@media (max-width:640px){.summary{font-size:20px}header{padding-top:1.25rem}main,header,footer{padding-left:1rem;
padding-right:1rem}.chart svg.wide{display:none}.chart svg.narrow{display:block}.wideonly{display:none}
.lined svg{max-width:none!important}
th,td{padding-right:.6rem}summary,nav a{min-height:48px;padding:.75rem 0}nav ul{gap:0 1.25rem}}
@media print{:root{--paper:#fff;--ink:#000;--soft:#333;--rule:#bbb;--water:#1f5f7a;--look:#9a5b00;--visit:#a3232b;
--good:#2d6a3e;--wet:#cfdde2}nav,.skip{display:none}body{font-size:11pt}article,figure{break-inside:avoid}
h3{break-after:avoid}figure details:not([open]){display:none}
a{color:inherit;text-decoration:none}main,header,footer{max-width:none;padding:0}}
"""
