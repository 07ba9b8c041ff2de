"""The page says what was found, nothing else, and asks for nothing outside itself."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser

import pytest

from reach.cautions import cautions
from reach.finding import Verdict
from reach.reports.page.looks import COLOURS, PAIRS, contrast
from tests.browser import chromium, watched_page

pytestmark = pytest.mark.picture

VOID = {"meta", "link", "img", "br", "col", "hr", "input"}


class Parsed(HTMLParser):
    """The page as tags, texts by the section they stand in, and whatever is not well-formed."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.section = ""
        self.texts: dict[str, list[str]] = {}
        self.scopes: list[tuple[str, bool]] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "section":
            self.section = dict(attrs)["id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.wrong.append(f"</{tag}> closes {self.open[-3:]}")
        else:
            self.open.pop()
        if tag == "section":
            self.section = ""

    def handle_data(self, data):
        self.texts.setdefault(self.section, []).append(data)

    def text(self, section: str) -> str:
        return " ".join(" ".join(self.texts[section]).split())

    @property
    def ids(self) -> list[str]:
        return [one["id"] for _, one in self.tags if one.get("id")]


@pytest.fixture(scope="module")
def parsed(page) -> Parsed:
    return Parsed(page)


def test_it_is_well_formed_and_says_its_language(page, parsed):
    assert page.startswith("\n") or page.startswith("<!DOCTYPE html>")
    assert page.lstrip().startswith("<!DOCTYPE html>")
    assert not parsed.wrong
    assert not parsed.open
    assert dict(parsed.tags)["html"]["lang"] == "en"


def test_names_of_places_are_unique_and_links_lead_somewhere(parsed):
    assert len(parsed.ids) == len(set(parsed.ids))
    links = [one["href"] for tag, one in parsed.tags if tag == "a"]
    assert links
    assert not {link for link in links if link[1:] not in parsed.ids}


def test_it_names_no_address_outside(parsed):
    asked = [one.get(key) for _, one in parsed.tags for key in ("src", "href", "data", "action")]
    assert not [address for address in asked if address and not address.startswith(("#", "data:"))]


def test_every_finding_that_does_not_pass_is_told_whole(dossier, parsed):
    told = parsed.text("findings")
    bad = [f for f in dossier.outcome.findings if f.verdict in
           (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW)]  # fmt: skip
    assert any(f.verdict is Verdict.FAIL for f in bad)
    for finding in bad:
        assert " ".join(finding.because.split()) in told
        assert " ".join(finding.fix.split()) in told


def test_nothing_but_passes_stands_among_the_passes(dossier, parsed):
    told = parsed.text("passes")
    for k, finding in enumerate(dossier.outcome.findings):
        place = f"f{k}"
        assert place in parsed.ids
        if finding.verdict is Verdict.PASS:
            assert " ".join(finding.because.split()) in told
    rows = re.findall(r'<tr id="(f\d+)">', " ".join(f'<tr id="{i}">' for i in _rows(parsed)))
    passed = {f"f{k}" for k, f in enumerate(dossier.outcome.findings) if f.verdict is Verdict.PASS}
    assert set(rows) == passed


def _rows(parsed: Parsed) -> list[str]:
    return [one["id"] for tag, one in parsed.tags
            if tag == "tr" and re.fullmatch(r"f\d+", one.get("id") or "")]  # fmt: skip


def test_what_was_not_asked_is_told_with_its_reason(dossier, parsed):
    told = parsed.text("not-checked")
    for check, why in dossier.outcome.not_asked:
        assert check in told
        assert why in told
    for finding in dossier.outcome.findings:
        if finding.verdict is Verdict.NOT_ASKED:
            assert finding.because in told


def test_each_verdict_is_told_by_shape_word_and_number(dossier, page):
    counts = re.findall(r'<div class="(\w+)"><span class="badge \w+">(\S) ([\w ]+)</span>'
                        r'<span class="n"><a [^>]+>(\d+)</a>', page)  # fmt: skip
    assert [word for _, _, word, _ in counts] == [str(verdict) for verdict in Verdict]
    assert len({shape for _, shape, _, _ in counts}) == len(counts)
    for verdict, (_, _, _, n) in zip(Verdict, counts, strict=True):
        assert int(n) == sum(f.verdict is verdict for f in dossier.outcome.findings)


def test_cautions_and_hashes_are_there(dossier, parsed):
    told = parsed.text("cautions")
    assert all(" ".join(text.split()) in told for text in cautions(dossier.outcome.inputs))
    rests = parsed.text("rests")
    assert all(sha256 in rests for _, sha256 in dossier.outcome.inputs)
    assert all(path in rests for path, _, _ in dossier.outcome.assumptions)


def test_every_number_that_is_measured_leads_to_its_source(dossier, parsed):
    rests = parsed.text("rests")
    limits = {limit.name for f in dossier.outcome.findings for limit in f.limits}
    assert limits
    for name in limits:
        assert name.replace("_", " ") in rests


def test_tables_have_heads_and_pictures_say_what_they_show(page, parsed):
    tables = [one for tag, one in parsed.tags if tag == "table"]
    assert page.count("<caption") == len(tables)
    assert page.count("<thead") == len(tables)
    heads = [one for tag, one in parsed.tags if tag == "th"]
    assert all(one.get("scope") in ("col", "row") for one in heads)
    pictures = [one for tag, one in parsed.tags if tag == "img"]
    assert len(pictures) > 4
    assert all(len(one.get("alt") or "") > 20 for one in pictures)
    assert all(one.get("title") for tag, one in parsed.tags if tag == "iframe")


def test_what_comes_from_files_does_no_harm(page):
    assert "<script>alert" not in re.sub(r'srcdoc="[^"]*"', "", page)
    assert unescape(re.search(r"<h1>(.*?)</h1>", page).group(1)) == (
        '<script>alert("x")</script> & =1+1'
    )


@pytest.mark.parametrize("pair", PAIRS)
def test_letters_stand_out_from_their_ground(pair):
    letters, ground = pair
    assert contrast(COLOURS[letters], COLOURS[ground]) >= 4.5


def test_both_systems_stand_beside_each_other(page):
    assert re.search(r"short by \d+\.\d+ m \(\d+\.\d in\)", page)


def test_a_browser_draws_the_view_to_turn_and_asks_for_nothing(page, folder):
    with chromium() as browser:
        watch = watched_page(browser)
        file = (folder / "report.html").as_uri()
        watch.page.goto(file)
        frame = watch.page.locator("iframe.scene")
        frame.scroll_into_view_if_needed()
        inner = watch.page.frame_locator("iframe.scene").locator("canvas")
        inner.first.wait_for(timeout=30_000)
        colours = 0
        for _ in range(20):
            watch.page.wait_for_timeout(500)
            colours = _n_colours(frame.screenshot())
            if colours > 200:
                break
        assert colours > 200, "the view is blank"
        assert not watch.outside(file)
        assert not watch.errors
        # What can be scrolled can be reached by keyboard, and letters lie in their bars.
        assert watch.page.locator("main [role=region]:not([tabindex='0'])").count() == 0
        assert watch.page.evaluate(_OUT_OF_BARS) == []


def _n_colours(png: bytes) -> int:
    import io

    from PIL import Image

    image = Image.open(io.BytesIO(png)).convert("RGB")
    return len(image.getcolors(image.width * image.height))


_OUT_OF_BARS = """() => [...document.querySelectorAll('svg.timeline g.bar')].flatMap(bar => {
  const box = bar.querySelector('rect').getBoundingClientRect();
  return [...bar.querySelectorAll('text')].filter(text => {
    const its = text.getBoundingClientRect();
    return its.left < box.left - 1 || its.right > box.right + 1;
  }).map(text => text.textContent);
})"""
