"""Bars as SVG for a page: no script, colours by class; the table beside them says the same in numbers."""

from html import escape

from django.utils.safestring import SafeString, mark_safe

from intake.outputs.paper.numbers import Table, shown

WIDTH, HEIGHT, FOOT, HEAD = 720, 200, 22, 14
BETWEEN = 0.3  # of a row's place, left between bars


def bars(table: Table) -> SafeString:
    """A bar for each row, its parts one upon the other; empty where nothing is drawn."""
    if not table.drawn or not table.most:
        return SafeString("")
    place = WIDTH / len(table.rows)
    body = [f'<line class="bars-ground" x1="0" x2="{WIDTH}" y1="{HEIGHT - FOOT}" y2="{HEIGHT - FOOT}"/>']
    for number, (label, values) in enumerate(table.rows):
        body += _bar(table, values, left=(number + BETWEEN / 2) * place, wide=place * (1 - BETWEEN))
        body.append(f'<text x="{(number + 0.5) * place:.1f}" y="{HEIGHT - 6}">{escape(label[:3])}</text>')
    # Numbers and our own words, escaped above.
    return mark_safe(  # noqa: S308
        f'<svg class="bars" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="bars-{table.key}">'
        f'<title id="bars-{table.key}">{escape(table.title)}. {escape(table.told)}</title>{"".join(body)}</svg>'
    )


def _bar(table: Table, values: tuple[float | None, ...], *, left: float, wide: float) -> list[str]:
    parts, foot = [], float(HEIGHT - FOOT)
    for number, height in enumerate(table.heights(values)):
        tall = height / table.most * (HEIGHT - FOOT - HEAD)
        foot -= tall
        at = f'x="{left:.1f}" y="{foot:.1f}" width="{wide:.1f}" height="{tall:.1f}"'
        parts += [f'<rect class="bars-{number}" {at}/>'] if tall else []
    whole = sum(table.heights(values))
    if whole:
        parts.append(f'<text class="bars-value" x="{left + wide / 2:.1f}" y="{foot - 3:.1f}">{shown(whole)}</text>')
    return parts
