"""README names what there is: every format, every code, every page, every folder."""

import re
from pathlib import Path

import pytest

from firstlift.core.tolerance import KNOWN_CODES
from firstlift.formats.source import FORMATS

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]
README = PAGES[0].read_text(encoding="utf-8")
NAMES = {
    "iso-4126-1": "ISO 4126-1",
    "asme-xiii": "XIII",
    "asme-viii-1": "VIII-1",
    "asme-i": " I,",
    "asme-iv-steam": "IV",
    "asme-iv-water": "IV",
    "owner": "owner's own limits",
}


def test_every_format_is_named():
    assert [form.name for form in FORMATS if form.name not in README] == []


def test_every_code_is_named():
    (sentence,) = re.findall(r"Codes: .+?\.\n\n", README, re.DOTALL)
    assert [code for code in KNOWN_CODES if NAMES[code] not in sentence.replace("\n", " ")] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_every_link_leads_somewhere(page):
    targets = re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8"))
    assert [target for target in targets if not (page.parent / target).exists()] == []


def test_every_folder_of_the_package_is_in_the_layout():
    folders = {path.name for path in (ROOT / "src" / "firstlift").iterdir() if (path / "__init__.py").exists()}
    (layout,) = re.findall(r"^## Layout\n(.+)", README, re.MULTILINE | re.DOTALL)
    assert [name for name in sorted(folders) if f"`{name}`" not in layout and f"/{name}`" not in layout] == []


def test_every_decision_is_numbered_in_turn():
    numbers = [int(path.name[:4]) for path in sorted((ROOT / "docs" / "decisions").glob("*.md"))]
    assert numbers == list(range(1, len(numbers) + 1))
