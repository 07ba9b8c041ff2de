"""The page in a real browser: what a planner does, and what others must not be able to do."""

import asyncio
import http.client
import io
import socket
import time
from concurrent.futures import ThreadPoolExecutor

import aiohttp
import numpy as np
import pytest
from PIL import Image

from reach.viewer.guard import MOST_BYTES
from tests.browser import chromium, watched_page

pytestmark = pytest.mark.picture


@pytest.fixture(scope="module")
def watch(served):
    """The page open in a browser, its first answers in."""
    with chromium() as browser:
        watch = watched_page(browser, 1280, 800)
        watch.page.goto(served.address)
        watch.page.wait_for_selector(".pane img", timeout=20_000)
        watch.page.wait_for_selector(".early", state="detached")
        settled(watch.page)
        yield watch
        own = (served.root, served.root.replace("http", "ws"))
        assert watch.outside(*own) == []
        assert watch.errors == []


@pytest.fixture
def page(watch):
    return watch.page


def settled(page):
    """Wait until every check has answered; a change must have been seen by then."""
    page.wait_for_function(
        "document.querySelector('.first em')?.innerText.includes('Every check')", timeout=30_000
    )


def picture(page):
    """What the picture shows, as an array; waits until it holds still."""
    last = None
    for _ in range(40):
        shot = page.locator(".pane").screenshot()
        now = np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), int)
        if last is not None and now.shape == last.shape and np.abs(now - last).max() < 8:
            return now
        last = now
        time.sleep(0.15)
    return last


def choose(page, part, value):
    page.select_option(f"select[data-part='{part}']", value)


def set_joint(page, joint, value):
    page.select_option(f"select[data-joint='{joint}']", value)


def test_the_page_shows_scene_trial_verdicts_and_caution(page):
    assert "Osier depot" in page.inner_text("h1")
    assert "PASS" in page.inner_text(".first .badge")
    assert "Planning aid only" in page.inner_text("footer")
    seen = picture(page)
    assert seen.std() > 8, "the picture is blank"
    teal = (seen[..., 1] - seen[..., 0] > 12) & (seen[..., 2] - seen[..., 0] > 8)
    assert teal.mean() > 0.01, "what the tool reaches is not in the picture"


def test_a_pick_in_the_list_is_outlined_and_named(page):
    before = picture(page)
    page.click("li[data-name='PB2']")
    page.wait_for_selector(".tag")
    assert "PB2" in page.inner_text(".tag")
    assert "Panel bolt, right" in page.inner_text(".tag")
    assert np.abs(picture(page) - before).max() > 60


def test_a_click_in_the_picture_picks_what_is_there(page):
    page.click("li[data-name='SA']")
    page.wait_for_function("document.querySelector('.tag b').innerText === 'SA'")
    box = page.locator(".pane").bounding_box()
    x, y = ring(picture(page))
    page.click("li[data-name='RA']")
    page.wait_for_function("document.querySelector('.tag b').innerText === 'RA'")
    page.mouse.click(box["x"] + x, box["y"] + y)
    page.wait_for_function("document.querySelector('.tag b').innerText === 'SA'")


def ring(seen):
    """Middle of the ochre ring round what is picked."""
    is_ochre = (seen[..., 0] > 215) & (np.abs(seen[..., 1] - 162) < 25) & (seen[..., 2] < 60)
    is_ochre[:60] = False  # the tag that names it
    rows, columns = np.nonzero(is_ochre)
    assert len(rows) > 20, "nothing is outlined"
    return float(np.median(columns)), float(np.median(rows))


def test_keys_go_through_a_list(page):
    page.focus("ul[aria-label='Fasteners']")
    page.keyboard.press("Home")
    page.wait_for_function("document.querySelector('.tag b').innerText === 'PB1'")
    page.keyboard.press("ArrowDown")
    page.wait_for_function("document.querySelector('.tag b').innerText === 'PB2'")
    assert page.get_attribute("li[data-name='PB2']", "aria-selected") == "true"


def test_a_changed_setting_changes_picture_and_numbers(page):
    before, margin = picture(page), page.inner_text(".first .margin")
    set_joint(page, "clocking", "6")
    page.wait_for_function(
        f"![{margin!r}, 'being worked out'].includes("
        "document.querySelector('.first .margin').innerText)"
    )
    assert "OPEN" in page.inner_text(".first .badge.reach")
    settled(page)
    assert np.abs(picture(page) - before).max() > 60
    assert "reach" in page.inner_text(".findings li.open")
    set_joint(page, "clocking", "0")
    page.wait_for_function(f"document.querySelector('.first .margin').innerText === {margin!r}")
    settled(page)


def test_what_was_unfolded_stays_so_when_the_answers_are_new(page):
    passes = page.locator("details", has_text="What passes")
    passes.locator("summary").click()
    set_joint(page, "clocking", "1")
    page.wait_for_selector(".first.stale, .first em:not(:has-text('Every check'))")
    settled(page)
    page.wait_for_function(
        "[...document.querySelectorAll('details')].some(one => one.open && "
        "one.innerText.includes('What passes'))"
    )
    set_joint(page, "clocking", "0")
    page.wait_for_function("document.querySelectorAll('.targets .badge.pass').length === 2")
    settled(page)
    passes.locator("summary").click()


def test_a_sheet_is_closed_by_escape_wherever_the_keys_are(page):
    for button in ("All cautions", "Keys and help"):
        page.click(f"button:text-is('{button}')")
        page.wait_for_selector(".sheet")
        page.keyboard.press("Escape")
        page.wait_for_selector(".sheet", state="detached")


def test_what_is_picked_can_be_looked_at(page):
    page.click("li[data-name='RA']")
    page.wait_for_function("document.querySelector('.tag b').innerText === 'RA'")
    before = picture(page)
    page.click(".tag button:text-is('Show it')")
    page.wait_for_timeout(400)
    assert np.abs(picture(page) - before).max() > 60
    page.click("button:text-is('Worksite')")


def test_all_targets_from_here_get_a_verdict(page):
    page.wait_for_function("document.querySelectorAll('.targets .badge.pass').length === 2")
    assert page.locator(".targets .badge.wait").count() == 0


def test_a_check_explains_itself_where_it_is_shown(page):
    page.click("summary >> nth=0")
    page.click("details button:text-is('What this check asks') >> nth=0")
    page.wait_for_selector(".why")
    for word in ("Question.", "Margin.", "Limit.", "Blind spots."):
        assert word in page.inner_text(".why")


def test_the_best_setting_is_looked_for_and_can_be_stopped(page):
    page.click("text=Best in any socket")
    page.wait_for_selector(".job progress")
    page.click("button:text-is('Stop')")
    page.wait_for_selector(".job", state="detached", timeout=10_000)
    assert "Stopped" in page.inner_text(".found")


def test_exports_are_written_on_request_and_say_where(page, served):
    assert not served.out.exists()
    page.click("button:text-is('Picture')")
    page.wait_for_function("document.querySelector('.wrote')?.innerText.includes('.png')")
    (drawn,) = served.out.glob("*.png")
    assert np.asarray(Image.open(drawn).convert("L")).std() > 8
    page.click("button:text-is('Findings')")
    page.wait_for_function("document.querySelector('.wrote')?.innerText.includes('.csv')")
    assert len(list(served.out.glob("findings*"))) == 2


def test_the_procedure_itself_is_written_only_when_the_user_says_so(page, osier):
    file = osier / "procedure.toml"
    before = file.read_bytes()
    try:
        page.click("button:text-is('Setting into a copy of the procedure')")
        page.wait_for_function("document.querySelector('.wrote')?.innerText.includes('.toml')")
        assert "step 'stand'" in page.inner_text(".wrote")
        page.click("button:text-is('Setting into the procedure itself')")
        page.wait_for_selector("[role=alertdialog]")
        assert "This changes" in page.inner_text("[role=alertdialog]")
        page.click("button:text-is('Leave it')")
        page.wait_for_selector("[role=alertdialog]", state="detached")
        assert file.read_bytes() == before
        set_joint(page, "clocking", "1")
        page.wait_for_selector(".first.stale, .first em:not(:has-text('Every check'))")
        settled(page)
        page.click("button:text-is('Setting into the procedure itself')")
        page.click("button:text-is('Write into it')")
        page.wait_for_function("document.querySelector('.wrote')?.innerText.includes('as before')")
        assert b"clocking = 1," in file.read_bytes()
        assert "goes on with the new procedure" in page.inner_text(".wrote")
        page.click("nav button:text-is('Procedure')")
        page.wait_for_function(
            "document.querySelector('.ledger')?.innerText.includes('clocking 1')", timeout=30_000
        )
        assert page.locator(".changed").count() == 0
        page.click("nav button:text-is('Trial')")
    finally:
        file.write_bytes(before)
        page.wait_for_selector(".changed")  # the file as it was is another again
        page.click(".changed button")
        page.wait_for_selector(".changed", state="detached", timeout=20_000)
        set_joint(page, "clocking", "0")
        settled(page)


def test_the_procedure_is_stepped_and_played_with_its_ledger(page):
    page.click("nav button:text-is('Procedure')")
    page.wait_for_function("document.querySelector('.step-name')?.innerText === 'stand'")
    page.wait_for_selector(".ledger td")
    assert "drive PB1" not in page.inner_text(".first")
    before = picture(page)
    page.click("li[data-step='left bolt']")
    page.wait_for_function("document.querySelector('.step-name').innerText === 'left bolt'")
    assert "drive PB1 with PD-A" in page.inner_text(".first")
    assert np.abs(picture(page) - before).max() > 60
    page.click("button.go")
    page.wait_for_function("document.querySelector('.step-name').innerText === 'right bolt'")
    page.wait_for_function("document.querySelector('button.go').innerText === 'Play'")


def test_the_procedure_is_checked_and_each_step_gets_its_verdict(page):
    assert page.locator("li[data-step] .mark.wait").count() == 3
    page.click("text=Check the whole procedure")
    page.wait_for_selector("li[data-step='stand'] .mark.pass", timeout=60_000)
    assert page.locator("li[data-step] .mark.wait").count() == 0


def test_an_edit_made_elsewhere_is_told_never_written_over_and_taken_when_asked(page, osier):
    file = osier / "procedure.toml"
    before = file.read_bytes()
    try:
        file.write_bytes(before + b"# somebody else\n")
        page.wait_for_selector(".changed")
        assert "procedure.toml has changed on the disk" in page.inner_text(".changed")
        page.wait_for_selector("li[data-step='stand'] .mark.wait")
        assert page.locator("li[data-step] .mark.pass").count() == 0
        assert "out of date" in page.inner_text(".first .badge")
        page.click("nav button:text-is('Trial')")
        page.click("button:text-is('Setting into the procedure itself')")
        page.click("button:text-is('Write into it')")
        page.wait_for_selector(".problem:has-text('has changed since this page read it')")
        assert file.read_bytes() == before + b"# somebody else\n"
        page.click(".problem button")
    finally:
        file.write_bytes(before + b"# somebody else, twice\n")
        page.click(".changed button")
        page.wait_for_selector(".changed", state="detached", timeout=20_000)
    page.click("nav button:text-is('Procedure')")
    page.wait_for_function("document.querySelector('.panel').innerText.includes('Out of date')")
    assert page.locator("li[data-step] .mark.pass").count() == 0
    page.click("text=Check the whole procedure")
    page.wait_for_selector("li[data-step='stand'] .mark.pass", timeout=60_000)


def test_the_findings_of_the_whole_procedure_are_exported(page, served):
    before = set(served.out.glob("findings*"))
    page.click("button:text-is('Findings of the whole procedure')")
    page.wait_for_function(
        "document.querySelector('.wrote')?.innerText.includes('.csv')", timeout=60_000
    )
    new = sorted(set(served.out.glob("findings*")) - before)
    assert [one.suffix for one in new] == [".csv", ".json"]
    assert "right bolt" in new[0].read_text()


def test_a_way_is_found_with_what_is_carried_and_the_line_worn_and_ages_when_asked_anew(page):
    page.click("nav button:text-is('Ways')")
    page.wait_for_function("document.querySelector('.drawn').innerText.includes('No way has been')")
    before = picture(page)
    page.select_option("select[data-way='start']", "SA")
    page.select_option("select[data-way='stop']", "AN-A")
    page.select_option("select[data-way='tether']", "LN-B")
    page.click(".held summary")
    page.select_option("select[data-item='BG-A']", "in_hand")
    page.click("button:text-is('Find the way')")
    page.wait_for_selector(".first b", timeout=30_000)
    told = page.inner_text(".panel")
    assert "in the hand BG-A, on LN-B" in told
    assert "1 hand free" in told
    assert "LN-B from AN-B" in told
    assert "Checks of this way" in told
    assert np.abs(picture(page) - before).max() > 60
    page.select_option("select[data-item='BG-A']", "")
    page.wait_for_selector(".first .badge:has-text('out of date')")
    page.select_option("select[data-item='BG-A']", "in_hand")
    page.wait_for_selector(".first .badge:not(:has-text('out of date'))")


def test_the_page_is_used_by_keys_alone(page):
    page.focus(".desk")
    reached = []
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.innerText"))
        if reached[-1] == "Trial":
            break
    assert reached[-1] == "Trial", reached
    page.keyboard.press("Enter")
    page.wait_for_selector("select[data-part='worker']")
    page.focus("button:text-is('All cautions')")
    page.keyboard.press("Enter")
    page.wait_for_selector(".sheet:focus-within, .sheet:focus")
    page.keyboard.press("Escape")
    page.wait_for_selector(".sheet", state="detached")
    assert page.evaluate("document.activeElement.className") == "desk"


NONSENSE = """async () => {
    const page = document.querySelector('#app').__vue_app__._context.provides.trame;
    for (const [name, args] of [
        ['step', [null]], ['frame', ['x']], ['joint', ['clocking', 'x'.repeat(9999)]],
        ['change', ['__class__', 'x']], ['pick', []], ['way', ['start', {}]], ['mode', [[]]],
        ['export', ['../../x']], ['why', ['reach', {}]], ['turn', ['x', 1e999, null]],
        ['take_over', [99]],
    ]) await page.trigger(name, args);
}"""


def test_what_the_page_itself_never_sends_harms_nothing(page, served):
    before = set(served.out.rglob("*"))
    page.evaluate(NONSENSE)
    page.wait_for_selector(".problem:has-text('cannot be asked')")
    page.click("nav button:text-is('Trial')")
    set_joint(page, "clocking", "0")
    settled(page)
    assert "PASS" in page.inner_text(".first .badge")
    assert set(served.out.rglob("*")) == before


def test_two_versions_are_compared_and_a_changed_step_is_drawn(page):
    page.click("nav button:text-is('Versions')")
    page.click("button:text-is('Compare')")
    assert page.locator("text=What was edited").count() == 0
    page.wait_for_selector("text=PB1 → PB2", timeout=60_000)
    told = page.inner_text(".panel")
    assert told.index("Worse") < told.index("Better") < told.index("What was edited")
    assert "is now\tosier/other.toml" in told
    assert told.count("■ ") >= 2
    page.click("text=Show it as it is now >> nth=0")
    page.wait_for_function("document.querySelector('.panel').innerText.includes('as it is now')")


# ---- who may ask ------------------------------------------------------------------------------


def ask(served, path, **headers):
    host, port = served.root.removeprefix("http://").split(":")
    link = http.client.HTTPConnection(host, int(port), timeout=10)
    link.request("GET", path, headers=headers)
    answer = link.getresponse()
    answer.read()
    link.close()
    return answer


def open_socket(served, **headers):
    host, port = served.root.removeprefix("http://").split(":")
    lines = {
        "Host": f"{host}:{port}", "Upgrade": "websocket", "Connection": "Upgrade",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version": "13",
        "Origin": served.root, **headers,
    }  # fmt: skip
    said = "GET /ws HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in lines.items()) + "\r\n"
    with socket.create_connection((host, int(port)), timeout=10) as link:
        link.sendall(said.encode())
        return int(link.recv(64).split()[1])


def cookie(served):
    return {"Cookie": f"{cookie_name(served)}={served.token}"}


def cookie_name(served):
    return f"reach-view-{served.root.rsplit(':', 1)[1]}"


@pytest.mark.parametrize("path", ["/", "/index.html", "/ws", "/?token=wrong", "/vue.global.js"])
def test_without_the_token_nothing_is_given(served, path):
    assert ask(served, path).status == 403


def test_the_token_becomes_a_cookie_that_scripts_and_other_sites_do_not_get(served):
    answer = ask(served, f"/?token={served.token}")
    assert answer.status == 302
    assert "token" not in answer.headers["Location"]
    assert "HttpOnly" in answer.headers["Set-Cookie"]
    assert "SameSite=Strict" in answer.headers["Set-Cookie"]
    assert ask(served, answer.headers["Location"], **cookie(served)).status == 200


def test_the_websocket_wants_token_and_the_pages_own_origin(served):
    assert open_socket(served, **cookie(served)) == 101
    assert open_socket(served) == 403
    assert open_socket(served, Cookie=f"{cookie_name(served)}=wrong") == 403
    assert open_socket(served, Cookie=f"reach-view-1={served.token}") == 403
    assert open_socket(served, **cookie(served), Origin="http://evil.example") == 403
    assert open_socket(served, **cookie(served), Origin="http://127.0.0.1:1") == 403


def test_a_foreign_host_is_refused_with_the_token_too(served):
    assert ask(served, "/index.html", Host="evil.example", **cookie(served)).status == 403
    assert open_socket(served, **cookie(served), Host="evil.example:80") == 403


def test_an_oversize_message_ends_the_connection(served):
    async def said():
        async with aiohttp.ClientSession(headers=cookie(served)) as session:
            link = await session.ws_connect(f"{served.root}/ws", origin=served.root)
            await link.send_bytes(bytes(MOST_BYTES + 100_000))
            return (await link.receive(10)).type, link.close_code

    with ThreadPoolExecutor(1) as beside:  # the browser has a loop in this thread
        found = beside.submit(lambda: asyncio.run(said())).result()
    assert found == (aiohttp.WSMsgType.CLOSE, aiohttp.WSCloseCode.MESSAGE_TOO_BIG)


@pytest.mark.parametrize(
    "path",
    [
        "/assets/", "/../../etc/passwd", "/scene.toml", "/%2e%2e/x", "/..%2f..%2fetc/passwd",
        "//etc/passwd", "/assets/..\\..\\x", "/index.html/../../x", "/%00", "/" + "x" * 4000,
    ],
)  # fmt: skip
def test_nothing_but_the_librarys_own_files_is_served(served, path):
    assert ask(served, path, **cookie(served)).status in (400, 403, 404)


def raw(served, said, wait=5.0):
    """Answer to bytes as they are sent."""
    host, port = served.root.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=wait) as one:
        one.sendall(said)
        return one.recv(200)


def test_wrong_and_hostile_requests_are_refused_and_the_page_goes_on(served):
    host = served.root.removeprefix("http://").encode()
    head = b"Host: " + host + b"\r\nCookie: " + cookie(served)["Cookie"].encode() + b"\r\n"
    for said in (
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"GET /index.html HTTP/1.1\r\n" + head + b"X: " + b"y" * 20_000 + b"\r\n\r\n",
        b"GET /" + b"x" * 20_000 + b" HTTP/1.1\r\n" + head + b"\r\n",
        b"POST /index.html HTTP/1.1\r\n" + head + b"Content-Length: 9999999999\r\n\r\n",
        b"TRACE / HTTP/1.1\r\n" + head + b"\r\n",
        b"GET /index.html HTTP/1.1\r\n" + head + b"Host: evil.example\r\n\r\n",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    ):
        status = raw(served, said).split(b" ")[1:2]
        assert status[:1] and status[0][:1] == b"4", said[:60]
    assert ask(served, "/vue.global.js", **cookie(served)).status == 200


def test_many_slow_requests_keep_nobody_else_waiting(served):
    host, port = served.root.removeprefix("http://").split(":")
    slow = [socket.create_connection((host, int(port)), timeout=5) for _ in range(150)]
    try:
        for one in slow:
            one.sendall(b"GET /index.html HTTP/1.1\r\nHost: ")
        start = time.monotonic()
        assert ask(served, "/vue.global.js", **cookie(served)).status == 200
        assert time.monotonic() - start < 5.0
    finally:
        for one in slow:
            one.close()


def test_the_page_may_load_nothing_from_elsewhere(served):
    policy = ask(served, "/index.html", **cookie(served)).headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "http" not in policy
    assert "*" not in policy


def test_it_listens_on_this_computer_alone(served):
    port = int(served.root.rpartition(":")[2])
    own = {one[4][0] for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for address in own - {"127.0.0.1", "127.0.1.1"}:
        with pytest.raises(OSError), socket.create_connection((address, port), timeout=2):
            pass
