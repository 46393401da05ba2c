"""The app in nine languages: nothing unmarked, nothing missing, and every screen opened in each."""

import functools
import json
import os
import re
import shutil
from pathlib import Path

import pytest
from tests.web.app_server import served
from tests.web.test_pages import pages
from tests.web.test_spreadsheet import WRONG
from tools import app_texts

from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import ValveTest
from firstlift.store.open import open_store
from firstlift.web.say import NAMES
from firstlift.web.settings import Settings
from firstlift.words.catalogue import RIGHT_TO_LEFT, in_language, sources

OTHERS = tuple(name for name in NAMES if name != "en")
# all screens in all languages at all sizes take ten minutes: FIRSTLIFT_SCREENS=every
EVERY = os.environ.get("FIRSTLIFT_SCREENS") == "every"
WIDTHS = {"laptop": (1280, 800), "office": (1920, 1080), "tablet": (820, 1180)}
# what a page shows to people: its text, line by line, less what says that it is English,
# what is typed as it stands and what the register calls its own things (bdi)
SHOWN = """() => {
  const said = [document.title];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const around = walk.currentNode.parentElement;
    if (!around.closest('[lang="en"], bdi, code, pre, script, style')) said.push(walk.currentNode.textContent.trim());
  }
  for (const e of document.querySelectorAll('[title], [aria-label], [placeholder], [alt]'))
    for (const name of ['title', 'aria-label', 'placeholder', 'alt'])
      if (e.hasAttribute(name) && !e.closest('[lang="en"]')) said.push(e.getAttribute(name));
  return said.filter(text => text);
}"""
WIDER = """() => [...document.querySelectorAll('main *, header *')].filter(e => {
  const box = e.getBoundingClientRect();
  return box.width && (box.right > innerWidth + 1 || box.left < -1) && !e.closest('.scroll, .skip, svg, pre');
}).map(e => e.outerHTML.slice(0, 120))"""


@pytest.mark.parametrize("path", sorted((app_texts.WEB / "templates").glob("*.html")), ids=lambda path: path.name)
def test_every_visible_text_of_a_template_is_marked(path):
    assert list(app_texts.unmarked(path.read_text(encoding="utf-8"))) == []


def test_text_that_is_not_marked_is_found():
    found = app_texts.unmarked(
        '<p title="Look out">Bare {{ _("Said") }}</p>{{ "Printed" if x else _("Kept") }}<code>typed</code> 5 bar'
        '<p lang="en">On purpose</p>{# a remark #}'
    )
    assert sorted(text.strip(" 0") for text in found) == ["Bare", "Look out", "Printed"]


@pytest.fixture(scope="module")
def template():
    return app_texts.template_of()


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_of_the_app_is_missing_stale_or_filled_in_otherwise(language, template):
    held = app_texts.catalogue(language)
    wanted = {(m.context, str(m.id)) for m in template if m.id}
    assert {(m.context, str(m.id)) for m in held if m.id} == wanted, "python -m tools.app_texts writes them anew"
    assert [m.id for m in held if m.id and not app_texts.said(m)] == []
    assert [(m.id, form) for m in held if m.id for form in app_texts.misfilled(m)] == []


@functools.cache
def english(language):
    """Give the English of every text of app and papers that no text of the language looks like."""
    held = [m for m in app_texts.catalogue(language) if m.id]
    texts = {form for m in held for form in app_texts.forms(m.id)} | {words for _, words in sources()}
    papers = {words for key, words in sources() for words in [in_language(key, words, language)]}
    same = {form for m in held for form in app_texts.forms(m.string)} | papers
    return {text for text in texts - same if "%(" not in text and "{" not in text and re.search(r"[a-z]{3}", text)}


def left_in_english(said, language):
    return sorted({line for text in said for line in text.splitlines() if line.strip() in english(language)})


# the letters of those that have a comma and a semicolon of their own
OWN_MARKS = {"ar": "\u0600-\u06ff", "zh": "\u4e00-\u9fff"}


def foreign_marks(said, language):
    """Give the lines of a language with its own comma and semicolon in which those of Latin writing part its words."""
    letters, found = OWN_MARKS.get(language, ""), []
    for text in said if letters else ():
        # figures and names that are kept whole have what they have
        own = re.sub("\u2066[^\u2069]*\u2069", "", text)
        if re.search(r"[,;](?!\d)", own) and (re.search(f"[{letters}]", own) or not re.search(r"\w", own)):
            found.append(text)
    return sorted(set(found))


def test_a_latin_comma_between_arabic_words_is_found():
    said = ["\u2066a, b\u2069", "Ada, Bo", "12,5", ",", "\u0635\u0645\u0627\u0645, a", "\u0635\u060c \u0645"]
    assert foreign_marks(said, "ar") == [",", "\u0635\u0645\u0627\u0645, a"]
    assert foreign_marks(said, "de") == []


# addresses that show a page of another address once more: empty, refused, narrowed down
_AGAIN = ("q=10", "q=nothing", "line=nonsense", "pull=-1")


@pytest.fixture(scope="module")
def desk(grown, tmp_path_factory):
    """The app of a single laptop, on one copy for all languages."""
    register = Path(shutil.copytree(grown, tmp_path_factory.mktemp("desk") / "register"))
    store = open_store(register)
    with served(store, Settings(register / "accounts.sqlite", invented=True)) as browser:
        yield browser, every_screen(browser, store)
    store.close()


def every_screen(app, store):
    """Give the address of every page, with those that only what was brought in or drafted has."""
    with store.read() as reader:
        test = next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256)
        position = reader.get(Position, test.position_id)
        site = reader.get(Site, position.site_id).name
    app.work_as("Hob")
    hung = {"tag": position.tag, "site": site, "purpose": "as-found", "date": "2026-11-20"}
    recording = "\n".join(["time s;pull N;line bar;lift mm", *(f"{n / 10};{n};8;0" for n in range(40))])
    # headings of its own, so that none is taken for a word of the app
    heads, rows = WRONG.split("\n", 1)
    table = f"{heads.upper()}\n{rows}"
    brought = [
        app.post("/spreadsheet", page="/spreadsheet", files=[("files", ("valves.csv", table.encode()))]),
        app.post("/import/recording", hung, page="/import", files=[("files", ("pull.csv", recording.encode()))]),
        app.post("/import/sheets", page="/import", files=[("files", ("a.toml", b"no sheet"))]),
        app.post(f"/tests/{test.id}/certificate", page=f"/tests/{test.id}"),
    ]
    # a record that turned out wrong: its list, its tests, and what they come to with the one in its place
    right = {"way": "maker", "area": "700", "known": "7", "reference": "A-7", "date": "2018-01-01", "why": "A-8"}
    seats = f"/valves/{test.valve_id}/seats"
    brought.append(app.post(f"{seats}/new", {**right, "corrects": str(test.seat_record_id)}, page="/account"))
    assert [answer.status_code for answer in brought] == [200] * 5
    made = [answer.url.raw_path.decode() for answer in brought]
    again = f"/tests/{test.id}/seat"
    return [*pages(store), f"/tests/{test.id}/adjust?line=6+bar&off=1&by=the+owner", again, "/account", *made]


def one_of_each(paths):
    """Give each page once, filled in where one of its addresses fills it in."""
    once = [path for path in paths if not any(again in path for again in _AGAIN)]
    return [path for path in once if not any(other.startswith(path + "?") for other in once)]


def open_every_screen(browser, app, paths, language, size, shots=None):
    width, height = WIDTHS[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, base_url=app.url, locale=language, has_touch=size == "tablet"
    )
    context.set_default_navigation_timeout(120_000)
    page, wrong = context.new_page(), {}
    page.goto("/who")
    for path in ["/who", *paths]:
        if path != "/who":
            page.goto(path)
        else:
            assert page.get_attribute("html", "lang") == language
        wider = page.evaluate("document.documentElement.scrollWidth > innerWidth")
        found = {
            "wider": page.evaluate(WIDER) if wider else [],
            "english": left_in_english(page.evaluate(SHOWN), language) if language != "en" else [],
            "marks": foreign_marks(page.evaluate(SHOWN), language),
            "lang": [] if page.get_attribute("html", "lang") == language else ["lang"],
            "dir": [] if (page.get_attribute("html", "dir") == "rtl") == (language in RIGHT_TO_LEFT) else ["dir"],
        }
        if wider and not found["wider"]:
            found["wider"] = ["the page"]
        if any(found.values()):
            wrong[path] = {key: each for key, each in found.items() if each}
        if shots is not None:
            name = re.sub(r"[0-9a-f-]{36}|[^a-z0-9]+", "-", path.lower()).strip("-") or "today"
            page.screenshot(path=shots / f"{language}-{size}-{name}.png", full_page=True)
        if path == "/who":
            page.get_by_role("button", name=re.compile("Hob")).press("Enter")
            page.wait_for_url("**/")
    context.close()
    return wrong


def page_in(answer):
    return re.search(r'<html lang="(\w+)" dir="(\w+)"', answer.text).groups()


def test_a_language_is_the_persons_own_else_the_browsers_choice_else_what_it_accepts(desk):
    app, _ = desk
    wanted = {"accept-language": "fr-CA,fr;q=0.9,en;q=0.5"}
    assert page_in(app.get("/who")) == ("en", "ltr")
    assert page_in(app.get("/who", headers=wanted)) == ("fr", "ltr")
    offered = re.findall(r'<a href="([^"]*language=(\w+)[^"]*)" lang="\2"', app.get("/who").text)
    assert {language for _, language in offered} == set(NAMES)
    chosen = next(address for address, language in offered if language == "el").replace("&amp;", "&")
    assert page_in(app.get(f"/who{chosen}", headers=wanted)) == ("el", "ltr")
    assert page_in(app.work_as("Hob").get("/", headers=wanted)) == ("el", "ltr")
    app.post("/settings/look", {"language": "ar"}, page="/settings")
    assert page_in(app.get("/", headers=wanted)) == ("ar", "rtl")
    app.post("/settings/look", {"language": ""}, page="/settings")
    assert page_in(app.get("/", headers=wanted)) == ("el", "ltr")


def test_numbers_and_dates_are_as_the_language_writes_them_and_a_comma_or_a_point_may_be_typed(desk):
    app, _ = desk
    app.work_as("Hob")
    asked = "/pocket?pull=141&seat=30,0+mm&set=10,5+bar&line="
    said = {}
    for language in ("en", "de"):
        app.post("/settings/look", {"language": language}, page="/settings")
        said[language] = [
            re.search(r'<p class="big">(?:<[^>]*>)*([^<]+)', app.get(asked + line).text).group(1)
            for line in ("8,5", "8.5+bar")
        ]
        shown = app.get("/").text
        assert bool(re.search(r"\d\d?\. \w+\.? 20\d\d", shown)) == (language == "de")
    app.post("/settings/look", {"language": ""}, page="/settings")
    assert said["en"][0] == said["en"][1]
    assert re.search(r"\d\.\d", said["en"][0])
    assert said["de"] == [text.replace(".", ",") for text in said["en"]]


@pytest.mark.parametrize("size", WIDTHS if EVERY else ["tablet"])
@pytest.mark.parametrize("language", NAMES if EVERY else OTHERS)
def test_screens_open_in_every_language_whole_and_no_wider_than_their_window(browser, desk, language, size):
    app, paths = desk
    # every third, each language others: together every screen in two languages or three
    chosen = paths if EVERY else one_of_each(paths)[OTHERS.index(language) % 3 :: 3]
    wrong = open_every_screen(browser, app, chosen, language, size)
    assert wrong == {}, json.dumps(wrong, indent=1, ensure_ascii=False)
