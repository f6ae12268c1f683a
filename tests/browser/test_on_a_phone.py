"""What a small screen and a finger need: the photo first, the page still scrolling, what comes of a button in sight."""

from itertools import combinations

import pytest
from browser.conftest import PHOTO
from browser.test_a_new_user import take_sample
from browser.test_in_a_browser import READY, drag

BOX = "outgrown.garment.panels.front.viewer.box"


@pytest.fixture
def page(open_page):
    opened = open_page("phone", may_refuse=True)
    take_sample(opened)
    return opened


def of(page, selector):
    """Return where the first of something is on the screen: left, top, right, bottom."""
    return page.evaluate(
        "s => { const b = document.querySelector(s).getBoundingClientRect();"
        " return [b.left, b.top, b.right, b.bottom]; }",
        selector,
    )


def swipe_over_the_photo(page, way):
    left, top, right, bottom = of(page, ".photo .viewer > svg")
    x, y = (left + right) / 2, (top + bottom) / 2
    drag(page, (x, y - way / 2), (x, y + way / 2), touches=True)
    page.wait_for_timeout(300)


def resting_scroll(page):
    """Return how far the page is scrolled once it has come to rest after a finger's way."""
    before, now = None, page.evaluate("scrollY")
    while now != before:
        page.wait_for_timeout(300)
        before, now = now, page.evaluate("scrollY")
    return now


def test_the_photo_comes_first_and_nothing_lies_over_it(page):
    *_, bottom = of(page, ".photo .viewer > svg")
    assert bottom <= of(page, ".photo .zoom")[1] and of(page, ".photo .viewer")[3] <= page.viewport_size["height"]
    assert of(page, ".photo .tools")[1] >= of(page, ".photo .viewer")[3]
    # Names of corners are written beside one another, also where the garment is small.
    page.get_by_role("button", name="Pull the edge").tap()
    page.get_by_role("button", name="All of it").first.tap()
    names = page.evaluate(
        "[...document.querySelectorAll('.corner text')].filter((t) => getComputedStyle(t).visibility === 'visible')"
        ".map((t) => t.getBoundingClientRect()).map((b) => [b.left, b.top, b.right, b.bottom])"
    )
    assert len(names) >= 3
    for a, b in combinations(names, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 3 or b[3] <= a[1] + 3


def test_a_finger_on_the_photo_scrolls_the_page_until_it_is_zoomed(page):
    shown = page.evaluate(BOX)
    swipe_over_the_photo(page, -160)
    assert page.evaluate("scrollY") > 60 and page.evaluate(BOX) == shown
    resting_scroll(page)
    page.evaluate("scrollTo(0, 0)")
    for _ in range(3):
        page.get_by_role("button", name="Larger").first.tap()
    zoomed, at = page.evaluate(BOX), resting_scroll(page)
    for _ in range(8):  # however far it is moved, some of it stays in sight
        swipe_over_the_photo(page, 160)
    moved = page.evaluate(BOX)
    assert moved[1] < zoomed[1] and page.evaluate("scrollY") == at
    assert moved[1] + moved[3] / 2 == pytest.approx(-0.5, abs=1)


def test_a_line_pulled_so_that_nothing_can_be_made_of_it_is_left_where_it_was(page):
    pull = (
        "() => { const { outline } = outgrown.garment.panels.front.seen;"
        "const from = outline[Math.floor(outline.length / 3)];"
        "outgrown.garment.edit(false, (e) => e.pulls.front.push({ from, to: [from[0], from[1] + 150] })); }"
    )
    page.evaluate(pull)
    page.get_by_text("It is left as it was.").wait_for()
    page.wait_for_function("() => outgrown.garment.isSettled()")
    assert page.evaluate("outgrown.garment.edits.pulls.front.length") == 0
    assert page.get_by_role("heading", name=READY).is_visible()
    assert not page.get_by_text("The last change could not be drawn").is_visible()
    assert page.get_by_role("button", name="Undo").first.get_attribute("aria-disabled") == "true"


def test_a_bar_that_is_no_length_is_not_in_the_way_of_later_looks(page):
    page.get_by_text("More photos of this garment").tap()
    page.get_by_label("Bar on your printed targets").fill("abc")
    page.get_by_role("button", name="Look again with it").tap()
    page.get_by_text("“abc” is not a length").wait_for()
    page.wait_for_function("() => outgrown.garment.isSettled()")
    assert page.evaluate("outgrown.garment.edits.bars.front") == ""
    assert page.get_by_role("heading", name=READY).is_visible()


def test_a_card_pointed_at_after_all_bears_no_cross(page):
    crosses = (
        "(isMeant) => { const g = outgrown.garment, p = g.panels.front, e = structuredClone(g.edits);"
        "const [a, , c] = p.seen.references[0].corners, at = [(a[0] + c[0]) / 2, (a[1] + c[1]) / 2];"
        "e.none.front = [at]; if (isMeant) e.card.front = at; p.showCards(e); return p.noneLayer.children.length; }"
    )
    assert page.evaluate(crosses, False) == 1
    assert page.evaluate(crosses, True) == 0


def test_what_comes_of_a_button_is_led_to(page):
    page.get_by_text("How it lies on cloth, and how much to buy").tap()
    page.get_by_role("button", name="Lay it", exact=True).tap()
    page.get_by_role("link", name="Print the plan").wait_for(timeout=60_000)
    _, top, _, bottom = of(page, "[aria-live] h3")
    assert top >= 0 and bottom <= page.viewport_size["height"], (top, bottom)


def test_text_twice_as_large_scrolls_down_only(page):
    page.evaluate("document.documentElement.style.fontSize = '34px'")
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_program_started_anew_takes_the_photo_again_and_keeps_the_answers(open_page):
    page = open_page("phone", may_refuse=(404,))
    take_sample(page)
    gone = {"problem": "This garment is no longer on the desk.", "advice": "Choose its photo again."}
    page.route("**/pattern", lambda route: route.fulfill(status=404, json=gone))
    page.get_by_label("Name of the garment").fill("Fish for Mika")
    alert = page.get_by_role("alert")
    alert.wait_for()
    assert "no longer on the desk" in alert.inner_text() and of(page, "[role=alert]")[1] >= 0
    assert not page.get_by_role("link", name="Print the pattern").is_visible()
    page.unroute("**/pattern")
    alert.get_by_label("Choose a photo").set_input_files(PHOTO)
    page.get_by_role("heading", name="The pattern: Fish for Mika").wait_for(timeout=90_000)
    assert page.get_by_label("Name of the garment").input_value() == "Fish for Mika"


def test_a_printed_page_can_be_zoomed(page):
    page.get_by_text("Look at the printed pages").tap()
    page.get_by_role("button", name="Page 1 of").tap()
    page.locator("dialog .viewer").wait_for()
    before = of(page, "dialog .viewer > svg g")
    page.locator("dialog").get_by_role("button", name="Larger").tap()
    after = of(page, "dialog .viewer > svg g")
    assert after[2] - after[0] > 1.4 * (before[2] - before[0])


def test_two_of_the_drawer_are_compared_where_the_second_was_chosen(page):
    for name in ("First of two", "Second of two"):
        page.get_by_label("Name of the garment").fill(name)
        page.get_by_role("button", name="Keep it in the drawer").tap()
        page.get_by_text(f"“{name}” lies in the drawer.").wait_for()
    page.get_by_role("link", name="Drawer").tap()
    ticks = page.get_by_label("Compare", exact=True)
    ticks.nth(1).wait_for()
    for i in range(2):
        ticks.nth(i).check()
    # Something kept a moment ago comes into the list, and takes nothing away that was chosen.
    with page.expect_response("**/api/drawer?*"):
        page.evaluate("dispatchEvent(new CustomEvent('kept'))")
    assert ticks.nth(0).is_checked() and ticks.nth(1).is_checked()
    height = page.viewport_size["height"]
    assert of(page, "button.ready")[1] >= 0 and of(page, "button.ready")[3] <= height
    page.get_by_role("button", name="Compare two").tap()
    page.get_by_role("heading", name="laid on").wait_for()
    page.wait_for_timeout(100)
    assert 0 <= of(page, "[aria-label='Two patterns compared'] h2")[1] < height
    assert not page.locator("button.ready").count()
