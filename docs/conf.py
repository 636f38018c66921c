"""How the pages are built: ``sphinx-build -W -n docs OUT`` (extra ``docs``)."""

from __future__ import annotations

from typing import Any

from docutils.nodes import Element
from sphinx.application import Sphinx
from sphinx.environment import BuildEnvironment
from sphinx.util.inspect import TypeAliasForwardRef

import pathsim

project = "pathsim"
author = "the pathsim contributors"
release = pathsim.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc"]
source_suffix = {".md": "markdown"}
# Included by other pages, so no page of its own.
exclude_patterns = ["caution.md", "_build"]

# Headings can be linked to, as on any page of Markdown.
myst_heading_anchors = 3

html_theme = "alabaster"
html_theme_options = {
    "fixed_sidebar": True,
    "page_width": "auto",
    "body_max_width": "52em",
    "sidebar_width": "14em",
}
html_static_path = ["_static"]
html_css_files = ["pages.css"]
html_show_sourcelink = False
html_show_sphinx = False
html_show_copyright = False

autodoc_member_order = "bysource"
autodoc_typehints = "description"
TYPE_NAMES = ("Array", "ArrayLike", "BoolArray", "IntArray", "Progress")
# Names of types as they stand in the code, not numpy's unions behind them.
autodoc_type_aliases = {name: name for name in TYPE_NAMES}

# In a union Sphinx writes an alias as "TypeAliasForwardRef('Array')"; its name is enough.
TypeAliasForwardRef.__repr__ = lambda alias: alias.name  # type: ignore[method-assign]

# The build asks no network, so Python's and numpy's types have no page to point to. Records that
# are reached through others only (a move's track, say) have none either: they are no names of
# ``pathsim`` itself, and their own text stands in the source.
nitpick_ignore_regex = [
    ("py:.*", r"(collections\.abc|enum|numpy|os|pathlib|typing)\..*"),
    ("py:class", "|".join((*TYPE_NAMES, "Axes", "Path"))),  # Axes: matplotlib's
    ("py:class", r"pathsim\..*"),
]


def _to_public_name(app: Sphinx, env: BuildEnvironment, node: Element, content: Element) -> Any:
    """Point ``pathsim.check.CheckResult`` to ``pathsim.CheckResult``, where it is described."""
    name = str(node.get("reftarget", "")).rpartition(".")[2]
    if node.get("refdomain") != "py" or name not in pathsim.__all__:
        return None
    domain = env.get_domain("py")
    return domain.resolve_xref(
        env, node["refdoc"], app.builder, node["reftype"], f"pathsim.{name}", node, content
    )


def setup(app: Sphinx) -> None:
    """Register what is done to references without a target."""
    app.connect("missing-reference", _to_public_name)
