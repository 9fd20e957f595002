"""A page as text: the template filled, the plots as data, the plot library in it once or beside it. Nothing is fetched."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any

from bandscan.report import ink

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


def script_json(figure: ink.Figure) -> Markup:
    """A figure as JSON that may stand inside a script element: no `<` is left that could end it."""
    import plotly.graph_objects as go
    from markupsafe import Markup

    text: str = go.Figure(figure).to_json()
    return Markup(text.replace("<", "\\u003c"))


def render(template: str, *, plots: bool, library: str = "", **facts: Any) -> str:
    """The page of a template, whole: styles, script and plot library in it.

    `library` is the address, from the page, of a file that holds `plot_library()`: pages of one folder share it. A page
    without `plots` has no script at all.
    """
    from markupsafe import Markup

    inline = Markup(plot_library()) if plots and not library else ""
    return _environment().get_template(template).render(plots=plots, library=library, inline=inline, **facts)


@functools.cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    # autoescape is off unless asked for
    environment = Environment(
        loader=PackageLoader("bandscan.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["script_json"] = script_json
    # the drawings of a plot's key are ours alone: no word of the data is in them
    environment.filters["drawing"] = lambda mark: Markup(mark.drawing)
    return environment


@functools.cache
def plot_library() -> str:
    """The plot library, JavaScript: what a page holds itself, or what a file beside several pages holds for all of them."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())
