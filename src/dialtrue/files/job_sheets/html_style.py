"""The style of job sheets on a page: added to the report's own."""

from typing import Final

SHEET_STYLE: Final = """
.held{position:absolute}
article.sheet{padding:1.5rem 0 2rem;border-bottom:3px solid var(--ink)}
.sheet .head{display:flex;flex-wrap:wrap;justify-content:space-between;gap:.5rem 1.5rem;align-items:flex-start}
.sheet h2{font-size:28px;border:0;padding:0;overflow-wrap:anywhere}
.sheet h3{font-size:16px}.sheet h3 b{font-size:20px}
.sheet .ask{border:2px solid var(--ink);padding:.1rem .5rem;font-size:16px;text-transform:uppercase;white-space:nowrap}
nav a,.sheet p,.sheet li,.sheet dd,.sheet th{overflow-wrap:anywhere}
.sheet p{margin:.3rem 0}.sheet .stop{font-weight:600}
.sheet .step{margin-top:1rem;padding-top:.5rem;border-top:1px solid var(--ink);display:grid;
grid-template-columns:4.5rem minmax(0,1fr);gap:0 1rem}
.sheet .columns{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,20rem),1fr));gap:.75rem 2rem}
.sheet dl.facts{grid-template-columns:repeat(auto-fit,minmax(9rem,1fr));gap:.3rem 1.2rem;margin:.3rem 0}
.sheet .meter .serial{font-size:20px;font-weight:700}
.sheet .tag{padding:.05rem .5rem;border:2px solid var(--ink);letter-spacing:.04em}
.sheet .tag.high{background:var(--ink);color:var(--paper)}
.sheet .questions{border:2px solid var(--ink);padding:.5rem 1rem;margin-top:1rem}
.sheet .questions ol{margin:.4rem 0;padding-left:1.4rem}.sheet .questions li{margin:.6rem 0}
.sheet ul{list-style:none;padding:0;margin:.3rem 0}
.sheet .cautions,.sheet .ticks{columns:20rem 2;column-gap:2rem}
.sheet .cautions li,.sheet .ticks li{break-inside:avoid;margin:.15rem 0}
.sheet .choice ul{display:flex;flex-wrap:wrap;gap:.2rem 1.5rem}
.sheet .box{display:inline-block;width:.8em;height:.8em;border:1.5px solid var(--ink);
margin-right:.5em;vertical-align:-.05em}
.sheet .fill{display:inline-block;min-width:8rem;width:100%;height:1.4em;border-bottom:1px solid var(--ink)}
.sheet .fill.wide{display:block;width:100%;height:2em}
.sheet .code{display:flex;flex-direction:column;align-items:flex-start;gap:.2rem;max-width:100%}
.sheet .code>span[role]{display:block;max-width:100%}.sheet .code svg{display:block;width:100%;height:100%}
.sheet .startboxes{color:var(--ink);max-width:30rem;width:100%;height:auto;min-width:17rem}
.sheet .wiring svg{max-width:100%;height:auto;min-width:30rem}
.sheet .parts th{font-weight:400}
.sheet .readings td,.sheet .readings th{border:0;padding:.25rem .8rem .25rem 0;white-space:nowrap;vertical-align:bottom}
.sheet .readings .time{min-width:5rem;border-bottom:1px solid var(--ink)}
.sheet .digits{display:block;background:#fff;height:6mm}.sheet .digits svg{display:block;width:100%;height:100%}
@media (max-width:640px){.sheet .step{grid-template-columns:minmax(0,1fr)}.sheet h2{font-size:22px}}
@media print{
body>header,.skip,.sheet details{display:none}
article.sheet{padding:0;border:0;break-after:page;font-size:calc(var(--print)*1pt);line-height:1.15}
.sheet .head{flex-wrap:nowrap;gap:4mm}.sheet .head>div{min-width:0}.sheet.two .start~.small{display:none}
article.sheet:last-child{break-after:auto}
.sheet .step{grid-template-columns:11mm minmax(0,1fr);gap:0 2mm;margin-top:1mm;padding-top:.7mm}
.sheet h2{font-size:17pt;line-height:1}.sheet h3{font-size:8pt;line-height:1}.sheet h3 b{font-size:12pt;display:block}
.sheet p{margin:.3mm 0}.sheet ul,.sheet dl.facts{margin:.3mm 0}
.sheet .small,.sheet dt,.sheet thead th{font-size:.86em!important}
.sheet .readings caption,.sheet figcaption,.sheet .parts thead{display:none}
.sheet .columns{gap:1mm 5mm}.sheet .columns.of2{grid-template-columns:1fr 1fr}
.sheet .columns.of1{grid-template-columns:1fr}
.sheet dl.facts{display:flex;flex-wrap:wrap;gap:0 4mm}
.sheet dl.facts>div{display:flex;gap:1.2mm;align-items:baseline}
.sheet .fill{min-width:24mm}.sheet .blanks>div,.sheet .blanks dd{flex:1 0 auto}.sheet .blanks>div{width:30%}
.sheet .cautions{columns:2;column-gap:5mm}.sheet .ticks{columns:3;column-gap:4mm}
.sheet .cautions li,.sheet .ticks li{margin:0}
.sheet .drawn{display:grid;grid-template-columns:112mm 1fr;gap:4mm}.sheet .drawn .ticks{columns:1}
.sheet .of1 .keyed{display:grid;grid-template-columns:60mm 1fr;gap:5mm}.sheet .of1 .keyed dl{flex-direction:column}
.sheet .meter{line-height:1.6}.sheet .meter .serial{font-size:11pt}.sheet .code{margin:.3mm 0}
.sheet .parts,.sheet .parts tbody{display:block}
.sheet .parts tbody{columns:3;column-gap:4mm}
.sheet .parts tr{display:flex;justify-content:space-between;break-inside:avoid}
.sheet table{font-size:1em}.sheet .parts th,.sheet .parts td{padding:0;border:0}
.sheet .startboxes{max-width:74mm;min-width:0}
.sheet.two .startboxes{max-width:66mm}.sheet.two .wiring svg{max-height:42mm}.sheet figure{margin:0}
.sheet .wiring svg{min-width:0;max-height:48mm;max-width:112mm;width:auto;display:block}
.sheet .readings td,.sheet .readings th{padding:.3mm 1.6mm 0 0}.sheet .digits{height:4.6mm}
.sheet .of2~.scroll .digits{max-width:26mm}.sheet .of2~.scroll .time{min-width:12mm}
.sheet .fill{height:1.3em}.sheet .fill.wide{height:1.6em}
.sheet .choice{display:flex;gap:4mm;align-items:baseline}
.sheet .questions{padding:1mm 2mm;margin-top:1mm}.sheet .questions li{margin:.5mm 0}}
"""


_ONE_REGISTER: Final = ((3200, 8.0), (3600, 7.5), (4100, 6.8), (10**9, 6.2))
_TWO_REGISTERS: Final = ((4500, 6.2), (5000, 6.0), (10**9, 5.6))
"""Most characters and size of letters. [pt]"""


def page_rule(paper: str) -> str:
    """Return the rule that names the sheet of paper. Never raises."""
    return f"@page{{size:{'A4' if paper == 'a4' else 'letter'};margin:8mm 10mm}}"


def print_size(characters: int, registers: int) -> float:
    """Return the size of letters with which an article goes on one page. [pt]

    Parameters
    ----------
    characters : int
        What it prints. [>= 0]
    registers : int
        One, or two side by side.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: tried with one browser on both papers, a step smaller than it needed, for faces differ in width. The
    PDF is fitted exactly; print that where a page must hold.
    """
    steps = _ONE_REGISTER if registers == 1 else _TWO_REGISTERS
    return next(size for most, size in steps if characters <= most)
