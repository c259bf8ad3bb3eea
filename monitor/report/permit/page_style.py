"""Page style: how the printable page looks on a screen, light or dark, and black on white on paper.

On paper each collector is one table whose heading row holds the page's header: browsers repeat that on every
printed page. Page numbers are in the margin where the browser writes there.
"""

from monitor.report import chart_style

_SCREEN = """
*{box-sizing:border-box} body{margin:0;background:var(--paper);color:var(--ink);
font:15px/1.5 ui-sans-serif,system-ui,"Segoe UI","DejaVu Sans",sans-serif}
main{max-width:1120px;margin:0 auto;padding:28px 20px 60px}
h1{font-size:26px;line-height:1.25;margin:0 0 4px;font-weight:650;text-wrap:balance}
h2{font-size:17px;margin:30px 0 10px} h3{font-size:14px;margin:18px 0 6px} p{margin:0 0 8px}
.soft{color:var(--soft)} .mono{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.85em;
overflow-wrap:anywhere}
.sheet,.sheet>tbody,.sheet>tbody>tr,.sheet>tbody>tr>td{display:block;width:100%} .sheet>thead{display:none}
.sheet+.sheet{margin-top:60px} .sheet>tbody>tr>td{padding:0;border:0;white-space:normal}
.card{background:var(--card);border:1px solid var(--rule);border-radius:10px;padding:14px 16px;margin-top:12px}
.card svg{display:block;width:100%;height:auto} .card svg.narrow{display:none}
.scroll{overflow-x:auto} .data{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
.data th,.data td{text-align:left;padding:5px 12px 5px 0;border-bottom:1px solid var(--rule);vertical-align:top}
.data th{font-weight:600;color:var(--soft);font-size:13px} .data .r{text-align:right} .data .n{white-space:nowrap}
.data tbody tr:last-child td{border-bottom:0} .data .words{min-width:10em}
.figures{display:grid;grid-template-columns:repeat(auto-fit,minmax(230px,1fr));gap:2px 28px;margin:0}
.figures div{display:flex;flex-direction:column;padding:6px 0;border-bottom:1px solid var(--rule)}
.figures dt{color:var(--soft);font-size:13px} .figures dd{margin:0;font-weight:600}
.hours{border-collapse:collapse;font-size:12px;font-variant-numeric:tabular-nums;width:100%}
.hours th,.hours td{text-align:right;padding:2px 4px;border:1px solid var(--rule);white-space:nowrap}
.hours th{font-weight:600;color:var(--soft)} .hours .out{font-weight:700;color:var(--active);
text-decoration:underline} .hours .no{color:var(--soft);background:var(--quiet)} .warn{color:var(--active);
font-weight:650}
ul{padding-left:18px;margin:0} li{margin-bottom:4px}
.sign{display:grid;grid-template-columns:1fr 1fr;gap:34px 40px;margin-top:44px;break-inside:avoid}
.sign div{border-top:1px solid var(--ink);padding-top:4px;font-size:13px}
.rh .mean{fill:none;stroke:var(--dp);stroke-width:1.4;stroke-linejoin:round} .rh .over{fill:var(--active)}
@media (max-width:700px){.card svg.wide{display:none}.card svg.narrow{display:block}main{padding:18px 10px 40px}
h1{font-size:21px}.card{padding:10px}.data th,.data td{font-size:14px}.sign{grid-template-columns:1fr}}
"""

#: Black on white whatever the screen is; shades only where a shape or a word says the same.
_PAPER = """
@page{margin:14mm 12mm 16mm;@bottom-right{content:"page " counter(page) " of " counter(pages);font:8pt sans-serif}}
@media print{:root{color-scheme:light;--paper:#fff;--card:#fff;--ink:#000;--soft:#333;--rule:#999;--dp:#000;
--area:#0003;--limit:#000;--active:#000;--wash:#0002;--latched:#555;--returned:#999;--held:#777;--blind:#ccc;
--quiet:#eee}
body{font-size:9.5pt;line-height:1.35} main{max-width:none;padding:0}
.sheet{display:table;width:100%;border-collapse:collapse} .sheet>thead{display:table-header-group}
.sheet>tbody{display:table-row-group} .sheet>tbody>tr{display:table-row} .sheet>tbody>tr>td{display:table-cell}
.sheet+.sheet{break-before:page;margin:0} .sheet>thead td{padding:0 0 3mm}
.running{font-size:8pt;padding-bottom:1.5mm;border-bottom:.4pt solid #000}
h1{font-size:15pt} h2{font-size:11.5pt;margin:5mm 0 1.5mm;break-after:avoid} h3{font-size:9.5pt;break-after:avoid}
.card{border:0;padding:0;margin-top:1mm;border-radius:0} .scroll{overflow:visible}
.card svg.narrow{display:none} .card svg.wide{display:block} .card svg,.figures div{break-inside:avoid}
.data th,.data td{font-size:8pt;padding:.6mm 2mm .6mm 0} .notes{font-size:8pt} .hint{break-after:avoid}
 .data tr,.hours tr,li{break-inside:avoid}
.data thead,.hours thead{display:table-header-group} .hours{font-size:6.4pt} .hours th,.hours td{padding:.5mm .6mm}
.hours{table-layout:fixed} .hours th:first-child{width:11mm;white-space:nowrap} .newpage{break-before:page}
.figures{grid-template-columns:1fr 1fr} .hours .no{-webkit-print-color-adjust:exact;print-color-adjust:exact}
.sign{grid-template-columns:1fr 1fr} .screen{display:none}}
"""


def style() -> str:
    """The page's style sheet."""
    return f"{chart_style.sheet(':root')}{_SCREEN.strip()}\n{_PAPER.strip()}\n"
