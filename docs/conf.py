"""Settings of the documentation site: `nox -s docs` builds it.

Equations become MathML, which browsers draw themselves, so the site needs no network. Doxygen reads the C++
headers; where it is not installed, their pages are left out and the build says so.
"""

import shutil
import subprocess
from pathlib import Path

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml
from pygments.lexers.special import TextLexer
from sphinx.application import Sphinx
from sphinx.util import logging
from sphinx.writers.html5 import HTML5Translator

ROOT = Path(__file__).resolve().parents[1]

project = "wetspan"
author = "the wetspan contributors"
copyright = author
version = release = (ROOT / "VERSION").read_text(encoding="utf-8").strip()

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinxcontrib.bibtex"]
exclude_patterns: list[str] = []
suppress_warnings: list[str] = []
default_role = "literal"  # docstrings mark code by single backticks, as Markdown does

myst_enable_extensions = ["deflist", "dollarmath"]
myst_heading_anchors = 3

autodoc_member_order = "bysource"
autodoc_preserve_defaults = True
napoleon_google_docstring = False
python_use_unqualified_type_names = True

bibtex_bibfiles = ["references.bib"]
bibtex_default_style = "plain"
bibtex_reference_style = "author_year"

toc_object_entries = False  # thousands of entries in every sidebar would double the time of the build

html_theme = "furo"
html_title = f"wetspan {version}"
html_copy_source = False
html_show_sphinx = False
html_math_renderer = "mathml"
html_static_path = ["_static"]
html_css_files = ["site.css"]
own_page = ROOT / "bindings/python/wetspan/page.html"  # there after `nox -s web`
html_extra_path = [str(own_page)] if own_page.exists() else []

if shutil.which("doxygen"):
    extensions.append("breathe")
    breathe_projects = {"wetspan": str(ROOT / "build/doxygen/xml")}
    breathe_default_project = "wetspan"
    breathe_domain_by_extension = {"hpp": "cpp"}
    suppress_warnings.append("duplicate_declaration.cpp")  # each header opens the namespace
    (ROOT / "build").mkdir(exist_ok=True)
    subprocess.run(["doxygen", "docs/Doxyfile"], cwd=ROOT, check=True)
else:
    pages = (ROOT / "docs/api/cpp").glob("*.rst")
    exclude_patterns += [f"api/cpp/{page.name}" for page in pages if page.stem != "index"]
    suppress_warnings += ["toc.excluded", "toc.not_readable"]
    logging.getLogger(__name__).info("doxygen is not installed: the pages of the C++ library are left out")


def inline_equation(writer: HTML5Translator, node: nodes.math) -> None:
    writer.body.append(tex2mathml(node.astext()))
    raise nodes.SkipNode


def equation(writer: HTML5Translator, node: nodes.math_block) -> None:
    writer.body.append(f"<div>{tex2mathml(node.astext(), as_block=True)}</div>")
    raise nodes.SkipNode


def shorten(_app: Sphinx, _what: str, name: str, _object: object, _options: object, lines: list[str]) -> None:
    """Put a link in place of the list of inputs that `help(wetspan.Scenario)` shows."""
    if name == "wetspan.Scenario":
        first = next(number for number, line in enumerate(lines) if line.startswith("Inputs, each"))
        lines[first:] = [":doc:`/parameters` lists every input, with its default, bounds and evidence.", ""]


def setup(app: Sphinx) -> None:
    app.connect("autodoc-process-docstring", shorten)
    app.add_html_math_renderer("mathml", (inline_equation, None), (equation, None))
    app.add_lexer("csv", TextLexer)
