"""A picture as PNG, drawn by resvg with the fonts that matplotlib brings along.

Both come with the extra ``plots``. System fonts are not used, so the same picture gives the same
pixels on every machine.
"""

from __future__ import annotations

from pathlib import Path

from feedscript.diagnostics import Diagnostic, Page

NO_PLOTS = Page(
    slug="needs-plots",
    title="A picture that needs the extra `plots`",
    why="""SVG and HTML need nothing beyond feedscript itself. PNG is drawn by a library that not
everybody wants to install; it comes with the extra `plots`.""",
)


def png_of(svg: str, width_px: int = 1600) -> bytes | Diagnostic:
    """The picture as PNG bytes, or which extra is missing."""
    try:
        import matplotlib
        import resvg_py
    except ImportError as error:
        return NO_PLOTS.report(
            f"PNG needs {error.name}, which is not installed",
            help="pip install 'feedscript[plots]', or write to a name that ends in .svg or .html",
        )
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    drawn = resvg_py.svg_to_bytes(
        svg_string=svg,
        width=width_px,
        skip_system_fonts=True,
        font_files=[str(fonts / "DejaVuSans.ttf"), str(fonts / "DejaVuSans-Bold.ttf")],
        font_family="DejaVu Sans",
    )
    return bytes(drawn)
