"""Chart style: the colours of a rehearsal's charts and page, for light and for dark.

A state is told by its height as well as by its colour, and the colours differ in lightness too, so that a chart
can be read printed in grey and by eyes that see no red.
"""

_LIGHT = {
    "paper": "#fbfaf7",
    "card": "#ffffff",
    "ink": "#22282d",
    "soft": "#667079",
    "rule": "#e3e1da",
    "dp": "#1c7f8c",
    "area": "#1c7f8c33",
    "limit": "#8a6410",
    "active": "#c02f2f",
    "wash": "#c02f2f1f",
    "latched": "#dd9a1f",
    "returned": "#e8c671",
    "held": "#8f98a0",
    "blind": "#d7d5cd",
    "quiet": "#eeece6",
}
_DARK = {
    "paper": "#12181c",
    "card": "#182026",
    "ink": "#e4e8ea",
    "soft": "#97a3ac",
    "rule": "#2b353c",
    "dp": "#56c3d0",
    "area": "#56c3d033",
    "limit": "#e0b457",
    "active": "#ff6b62",
    "wash": "#ff6b6226",
    "latched": "#d99a2b",
    "returned": "#8b6d2c",
    "held": "#77838c",
    "blind": "#333e46",
    "quiet": "#222c33",
}

#: The classes of a chart; ``chart_svg`` and the page use no others.
_RULES = """
.rh{font:12px/1.4 ui-sans-serif,system-ui,"Segoe UI","DejaVu Sans",sans-serif}
.rh text{fill:var(--ink)} .rh .soft{fill:var(--soft)}
.rh .tag{font-weight:600} .rh .num{font-variant-numeric:tabular-nums}
.rh .rule{stroke:var(--rule);stroke-width:1} .rh .card{fill:var(--card)}
.rh .area{fill:var(--area);stroke:var(--dp);stroke-width:1;stroke-linejoin:round}
.rh .limit{stroke:var(--limit);stroke-width:1.2;stroke-dasharray:6 4;fill:none}
.rh .limit.other{stroke-dasharray:1.5 4;opacity:.8} .rh text.limit{fill:var(--limit);stroke:var(--card);
stroke-width:3;stroke-dasharray:none;paint-order:stroke;font-size:11px}
.rh .wash{fill:var(--wash)} .rh .blind{fill:var(--blind)} .rh .quiet{fill:var(--quiet)}
.rh .active{fill:var(--active)} .rh .latched{fill:var(--latched)} .rh .returned{fill:var(--returned)}
.rh .held{fill:var(--held)}
"""


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())


def sheet(scope: str) -> str:
    """The style sheet; ``scope`` is who carries the colours (``svg`` for a file, ``:root`` for a page)."""
    return (
        f"{scope}{{{_variables(_LIGHT)}}}\n"
        f"@media (prefers-color-scheme: dark){{{scope}{{{_variables(_DARK)}}}}}\n{_RULES.strip()}\n"
    )
