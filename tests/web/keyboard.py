"""Somebody who works with keys alone: each stop of the Tab key is looked at as it is reached.

At every stop the focus must be seen (a ring of two pixels or more that stands out from its ground), in the window, and
under nothing else. Nothing here points: no click, no press on an element that has not the focus, no value set.
"""

import re
from contextlib import contextmanager
from itertools import pairwise

LOOK = r"""
() => {
  const e = document.activeElement;
  if (!e || e === document.body || e === document.documentElement) return null;
  const colour = (text) => {
    const found = text.match(/[\d.]+/g);
    if (!found) return null;
    const [r, g, b, a = 1] = found.map(Number);
    const part = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return { a, light: 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b) };
  };
  const ground = (from) => {
    for (let at = from; at; at = at.parentElement) {
      const own = colour(getComputedStyle(at).backgroundColor);
      if (own && own.a > 0.5) return own.light;
    }
    return 1;
  };
  const style = getComputedStyle(e);
  const lines = [];
  const width = parseFloat(style.outlineWidth);
  if (style.outlineStyle !== "none" && width >= 2) {
    // a ring drawn inwards lies on the element's own ground
    const on = ground(parseFloat(style.outlineOffset) < 0 ? e : e.parentElement);
    const own = colour(style.outlineColor).light;
    lines.push((Math.max(on, own) + 0.05) / (Math.min(on, own) + 0.05));
  }
  if (style.boxShadow.includes("inset") && /\b[3-9]px\b/.test(style.boxShadow)) lines.push(9);
  const clear = [...e.getClientRects()].filter((box) => box.width > 0 && box.height > 0);
  let seen = false;
  for (const box of clear) {
    const left = Math.max(box.left, 0), right = Math.min(box.right, innerWidth);
    const top = Math.max(box.top, 0), bottom = Math.min(box.bottom, innerHeight);
    if (right <= left || bottom <= top) continue;
    const over = document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
    const around = [e, ...(e.labels ?? [])];
    if (over && (over.contains(e) || around.some((part) => part.contains(over)))) seen = true;
  }
  const labels = [...(e.labels ?? [])].map((label) => label.innerText).join(" ");
  const name = [e.getAttribute("aria-label"), labels, e.innerText, e.value, e.title].find((text) => text?.trim()) ?? "";
  const box = e.getBoundingClientRect();
  const order = [...document.querySelectorAll("*")].indexOf(e);
  return { order, name: name.trim().replace(/\s+/g, " "), tag: e.tagName.toLowerCase(),
    type: e.type ?? "", field: e.name ?? "",
    rings: lines, seen, left: box.left, right: box.right, top: box.top + scrollY, bottom: box.bottom + scrollY,
    html: e.outerHTML.slice(0, 160), id: e.id };
}
"""

TABBABLE = r"""
() => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]")]
  .filter((e) => e.tabIndex >= 0 && !e.disabled && e.checkVisibility({ visibilityProperty: true }))
  .map((e) => [...document.querySelectorAll("*")].indexOf(e))
"""

TOP = """
() => {
  const top = Object.assign(document.createElement("span"), { tabIndex: -1 });
  document.body.prepend(top);
  top.focus();
  scrollTo(0, 0);
}
"""

LEAST_CONTRAST = 3.0


class Keys:
    """A page and the hands on its keyboard."""

    def __init__(self, page):
        self.page = page
        # heard from the beginning: a chooser that opens before anybody listens is lost
        page.on("filechooser", lambda _: None)

    def __call__(self, *keys):
        """Press keys, one after another."""
        for key in keys:
            self.page.keyboard.press(key)
        return self

    def type(self, text):
        """Type text where the focus is."""
        self.page.keyboard.type(text)
        return self

    def here(self):
        """Look at what has the focus; it must be seen. None: the page itself."""
        stop = self.page.evaluate(LOOK)
        if stop is not None:
            at = f"{stop['html']} on {self.page.url}"
            assert max(stop["rings"], default=0) >= LEAST_CONTRAST, f"no ring that stands out ({stop['rings']}): {at}"
            assert stop["seen"], f"what has the focus is out of sight: {at}"
        return stop

    def tab(self, key="Tab"):
        """Go to the next stop and look at it."""
        return self(key).here()

    def to(self, name, *, key="Tab", **wanted):
        """Go on until a stop is called so, once round the page at most; ``wanted``: what else it must be."""
        passed, ends = [], 0
        while ends < 2 and len(passed) < 400:
            stop = self.tab(key)
            if stop is None:
                ends += 1
                continue
            if re.search(name, stop["name"]) and all(stop[what] == value for what, value in wanted.items()):
                return self
            passed.append(stop["name"][:40])
        raise AssertionError(f"'{name}' is not reached by {key} on {self.page.url}: {passed}")

    @contextmanager
    def leaving(self):
        """Hold that what is pressed brings another page."""
        with self.page.expect_navigation(wait_until="load"):
            yield
        self.settled()

    def settled(self):
        """Wait until the page's own scripts have run."""
        self.page.wait_for_load_state("load")
        self.page.wait_for_function("document.readyState === 'complete'")
        self.page.wait_for_timeout(60)
        return self

    def follow(self, name, **wanted):
        """Go to a link or a button and press Enter on it; another page comes."""
        self.to(name, **wanted)
        with self.leaving():
            self("Enter")
        return self

    def fill(self, name, text, **wanted):
        """Go to a field and type into it what is to stand there alone."""
        self.to(name, **wanted)
        self("Control+a")
        return self.type(text)

    def pick(self, name, text, **wanted):
        """Go to a list and choose by typing the beginning of what is wanted."""
        self.to(name, tag="select", **wanted)
        self.type(text)
        chosen = self.page.evaluate("document.activeElement.selectedOptions[0].text.trim()")
        assert chosen.lower().startswith(text.lower()), (name, text, chosen)
        return self

    def files(self, name, files):
        """Go to a field for files and open the chooser by the keyboard; only then are files given."""
        self.to(name, type="file")
        with self.page.expect_file_chooser() as chooser:
            self("Space")
        chooser.value.set_files(files)
        return self

    def skip(self):
        """From the top of a page: the first Tab is the skip link, Enter on it leads into the content."""
        self.page.evaluate(TOP)
        first = self.tab()
        if first is None or "skip" not in first["html"]:
            raise AssertionError(f"the first stop is no skip link: {first}")
        self("Enter")
        landed = self.here()
        assert landed is not None
        assert landed["id"] == "main", landed
        return self

    def landed(self, text="", **wanted):
        """Say that the focus is where the work goes on, not at the top of the page."""
        stop = self.here()
        assert stop is not None, f"nothing has the focus on {self.page.url}"
        assert re.search(text, stop["name"]), (text, stop["name"])
        assert all(stop[what] == value for what, value in wanted.items()), stop
        return self


def walk(page):
    """Tab through a whole page from its top, each stop looked at; give them. It ends where the page ends: no trap."""
    keys, stops = Keys(page), []
    page.evaluate(TOP)
    expected = page.evaluate(TABBABLE)
    for _ in range(4 * len(expected) + 5):
        stop = keys.tab()
        if stop is None or (stops and stop["order"] == stops[0]["order"]):
            break
        if not stops or stop["order"] != stops[-1]["order"]:  # a date has a stop for each of its parts
            stops.append(stop)
    else:
        raise AssertionError(f"the Tab key does not come to the end of {page.url}")
    # in the order of what is seen: where a row is moved by its style, the stops move with it
    assert sorted(stop["order"] for stop in stops) == expected, f"stops left out on {page.url}"
    return stops


def out_of_order(stops, rtl=False):
    """Give the steps that go against reading: back up, unless to a column beside, or back in a row."""
    wrong = []
    for one, two in pairwise(stops):
        ahead = two["right"] <= one["left"] + 2 if rtl else two["left"] >= one["right"] - 2
        upward = two["bottom"] <= one["top"] + 1
        same_row = min(one["bottom"], two["bottom"]) - max(one["top"], two["top"]) > 0.6 * min(
            one["bottom"] - one["top"], two["bottom"] - two["top"]
        )
        back = one["right"] <= two["left"] - 1 if rtl else two["right"] <= one["left"] + 1
        if (upward and not ahead) or (same_row and back):
            wrong.append((one["name"][:50], two["name"][:50]))
    return wrong
