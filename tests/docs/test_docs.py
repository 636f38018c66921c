"""README, DEVELOPERS and docs/: short where asked, no dead link, no name that is gone."""

import importlib.util
import re
import subprocess
import sys

import pytest

import pathsim
from tests.docs.pages import (
    DOCS,
    PAGES,
    ROOT,
    anchor,
    blocks,
    headings,
    links,
    name_of,
    prose,
    read,
    ticked,
)

CAUTION = (DOCS / "caution.md").read_text(encoding="utf-8").strip()
_SOURCES = [
    path
    for folder in ("pathsim", "tests", "sample_cells", "docs")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in {".py", ".json", ".yaml", ".csv"}
]
_CODE = "\n".join(
    path.read_text(encoding="utf-8")
    for path in (*_SOURCES, ROOT / "pyproject.toml", ROOT / ".ci" / "run")
)
#: What somebody who knows the field, or the trade, searches for.
TERMS = [
    "AABB", "OBB", "BVH", "SAH", "swept volume", "branch and bound", "best-first", "broad phase",
    "conservative advancement", "continuous collision detection", "motion bound", "Lipschitz",
    "signed distance", "winding number", "solid angle", "forward kinematics", "singularity",
    "inverse kinematics", "Denavit-Hartenberg", "external axes", "stick-out", "work angle",
    "travel angle", "contact tip to work", "retract", "approach", "crater", "override",
]  # fmt: skip
_WORDS = set(re.findall(r"\w+", _CODE))
_PATH = re.compile(r"^[\w./*-]+\.(py|json|toml|svg|yaml|csv)$")
_FOLDER = re.compile(r"^[a-z_./]+/$")
_NAME = re.compile(r"^[A-Za-z_][\w.]*$")


def test_readme_is_one_page():
    words = len(read("README.md").split())
    assert 400 <= words <= 800, f"{words} words"


def test_caution_stands_where_people_begin():
    assert CAUTION.startswith("> **A preview of the model supplied, not a safety function.**")
    assert CAUTION in read("README.md")
    for page in ("docs/index.md", "docs/quick_start.md", "docs/guide/first_run.md"):
        before, found, _ = read(page).partition("caution.md\n```")
        assert found and before.endswith(("{include} ", "{include} ../")), page
        assert len(before.split()) < 80, f"the caution of {page} is not at its beginning"


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_link_leads_somewhere(page):
    for target in links(page.read_text(encoding="utf-8")):
        path, _, place = target.partition("#")
        there = (page.parent / path).resolve() if path else page
        assert there.exists(), f"{name_of(page)}: {target} leads nowhere"
        assert there.is_relative_to(ROOT)
        if place:
            known = [anchor(one) for one in headings(there.read_text(encoding="utf-8"))]
            assert place in known, f"{name_of(page)}: {target} is no heading of that page"


def test_every_page_is_linked():
    reached = {
        (page.parent / target.partition("#")[0]).resolve()
        for page in PAGES
        for target in links(page.read_text(encoding="utf-8"))
        if not target.startswith("#")
    }
    lonely = {page for page in PAGES if page.parent != ROOT} - reached - {DOCS / "index.md"}
    assert not lonely


def _files(name):
    """Files that a name on a page means: from the root, from the package, or by their end."""
    for start in (ROOT, ROOT / "pathsim", ROOT / "tests", ROOT / "sample_cells"):
        if found := list(start.glob(name)):
            return found
    return list((ROOT / "pathsim").rglob(name)) or list((ROOT / "tests").rglob(name))


def _fault(token):
    """Tell what is wrong with a name in backticks; empty when nothing is, or it is no name."""
    path, _, inside = token.partition(":")
    if _FOLDER.match(path):
        return "" if _files(path.rstrip("/")) else "no such folder"
    if not _PATH.match(path):
        return ""
    found = _files(path)
    if not found:
        return "no such file"
    text = "\n".join(one.read_text(encoding="utf-8") for one in found)
    missing = [word for word in inside.split(".") if word and word not in text]
    return f"no {missing[0]} in it" if missing else ""


#: Files that a reader has or gets, not files of ours.
_THEIRS = {"points.csv", "cell.yaml", "arm.yaml", "motion.csv", "seen.csv"}


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_file_that_is_named_exists(page):
    text = page.read_text(encoding="utf-8")
    faults = {t: _fault(t) for t in ticked(prose(text)) if t not in _THEIRS}
    assert not {token: fault for token, fault in faults.items() if fault}


def test_faults_of_names_are_seen():
    assert _fault("clearance/swept/search.py") == "" == _fault("search.py") == _fault("geometry/")
    assert _fault("fast/search.py") == "no such file" and _fault("nowhere/") == "no such folder"
    assert _fault("clearance/swept/search.py:nothing_of_it") == "no nothing_of_it in it"


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_module_that_is_run_exists(page):
    for module in re.findall(r"python -m ([\w.]+)", page.read_text(encoding="utf-8")):
        if module not in {"venv", "pytest"}:
            assert importlib.util.find_spec(module) is not None, module


@pytest.mark.parametrize("term", TERMS)
def test_terms_of_field_and_trade_are_found_by_searching(term):
    glossary = " ".join(read("docs/glossary.md").lower().split())
    assert term.lower() in glossary
    package = (ROOT / "pathsim").rglob("*.py")
    texts = (" ".join(path.read_text(encoding="utf-8").lower().split()) for path in package)
    assert any(term.lower() in text for text in texts)


def test_every_name_in_the_contributors_guide_is_in_the_sources():
    tokens = {t.rstrip("()") for t in ticked(prose(read("DEVELOPERS.md")))}
    names = {t for t in tokens if _NAME.match(t) and not _PATH.match(t)}
    assert len(names) > 40
    gone = {t for t in names if not all(word in _WORDS for word in t.split("."))}
    assert not gone


def test_tree_of_the_contributors_guide_is_the_package():
    tree = next(b.text for b in blocks(read("DEVELOPERS.md")) if b.text.startswith("pathsim/"))
    named = {line.split()[0].rstrip("/") for line in tree.splitlines()[1:]
             if re.match(r"  [a-z_*]", line)}  # fmt: skip
    patterns = {name for name in named if "*" in name}
    there = {
        path.name
        for path in (ROOT / "pathsim").iterdir()
        if not path.name.startswith("__") and path.name != "py.typed"
        and not any(path.match(pattern) for pattern in patterns)
    }  # fmt: skip
    assert named - patterns == there


def test_pages_build_without_a_warning(tmp_path):
    pytest.importorskip("sphinx", reason="the extra 'docs' is not installed")
    pytest.importorskip("myst_parser", reason="the extra 'docs' is not installed")
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-n", "-q"]
    built = subprocess.run(
        [*command, DOCS, tmp_path / "html"], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert built.returncode == 0, built.stderr
    page = (tmp_path / "html" / "api.html").read_text(encoding="utf-8")
    missing = [name for name in pathsim.__all__ if f'id="pathsim.{name}"' not in page]
    assert not missing, f"public names without a description: {missing}"
