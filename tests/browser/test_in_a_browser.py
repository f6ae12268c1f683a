"""The whole job in a browser, on a desk and on a phone: photo, correction, choices, pages, PDF, drawer."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import PHOTO
from paper.reading import open_pdf, page_text

from outgrown.names import LONGEST_NAME

READY = "Does the line follow the edge?"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def take_photo(page):
    page.get_by_label("Choose a photo").set_input_files(PHOTO)
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.locator(".viewer.paper svg").wait_for()


def drawn(page):
    """Return the pattern's drawing when nothing more is on its way."""
    page.locator(".viewer.paper svg").first.wait_for()
    page.wait_for_function("() => { const g = outgrown.garment; return !g.isAsking && !g.isStale && !g.isWaiting; }")
    return page.evaluate("document.querySelector('.viewer.paper svg').innerHTML")


def wait_for_change(page, before):
    page.wait_for_function("before => document.querySelector('.viewer.paper svg').innerHTML !== before", arg=before)
    return drawn(page)


def corner(page, name):
    """Return where a named corner is on the screen."""
    box = page.locator(f"[data-corner='{name}'] circle").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, start, end, touches):
    """Drag with the mouse, or with a finger."""
    if not touches:
        page.mouse.move(*start)
        page.mouse.down()
        page.mouse.move(*[(a + b) / 2 for a, b in zip(start, end, strict=True)])
        page.mouse.move(*end)
        page.mouse.up()
        return
    hand = page.context.new_cdp_session(page)
    for kind, place in (("touchStart", start), ("touchMove", end), ("touchEnd", None)):
        points = [] if place is None else [{"x": place[0], "y": place[1]}]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_from_the_photo_to_the_printed_pattern(open_page, size):
    page = open_page(size)
    take_photo(page)
    assert "Good to about" in page.locator("main").inner_text()
    # A corner is dragged a little towards the hem; the pattern follows, is taken back and brought again.
    page.get_by_role("button", name="Pull the edge").click()
    page.locator(".viewer").first.scroll_into_view_if_needed()
    before = drawn(page)
    x, y = corner(page, "crotch")
    hem_x, hem_y = corner(page, "hem-inner")
    drag(page, (x, y), (x + 0.06 * (hem_x - x), y + 0.06 * (hem_y - y)), size == "phone")
    moved = wait_for_change(page, before)
    page.get_by_role("button", name="Undo").click()
    assert wait_for_change(page, moved) == before
    page.get_by_role("button", name="Redo").click()
    assert wait_for_change(page, before) == moved
    # A stretch of the hem is pulled outward.
    ends = [corner(page, name) for name in ("hem-outer", "hem-inner")]
    side = corner(page, "waist-side")
    middle = [sum(values) / 2 for values in zip(*ends, strict=True)]
    away = [0.05 * (m - s) for m, s in zip(middle, side, strict=True)]
    drag(page, middle, [m + a for m, a in zip(middle, away, strict=True)], size == "phone")
    pulled = wait_for_change(page, moved)
    # Choices are typed in her own units.
    page.get_by_label("Name of the garment").fill("Dotted leggings")
    page.get_by_label("Body waist", exact=True).fill("52")
    page.get_by_text("ribbed cuff of its own").click()
    wait_for_change(page, pulled)
    page.get_by_text("Look at the printed pages").click()
    page.locator(".sheets svg").first.wait_for()
    with page.expect_download() as got:
        page.get_by_role("link", name="Save the PDF").click()
    document = open_pdf(got.value.path().read_bytes())
    assert page.locator(".sheets figure").count() == len(document)
    assert "Dotted leggings" in page_text(document[0])


def test_two_clicks_from_the_start_to_the_printed_sample(open_page):
    page = open_page()
    clicks = 0
    page.get_by_role("button", name="Try it with a sample").click()
    clicks += 1
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    link = page.get_by_role("link", name="Print the pattern")
    link.wait_for()
    with page.context.expect_page():
        link.click()
        clicks += 1
    printed = page.request.get(page.url.split("#")[0].rstrip("/") + link.get_attribute("href"))
    assert len(open_pdf(printed.body())) > 3
    assert clicks <= 5


def test_kept_found_compared_and_opened_again(open_page):
    page = open_page()
    take_photo(page)
    for name in ("Striped trousers", "Dotted trousers"):
        before = drawn(page)
        page.get_by_label("Name of the garment").fill(name)
        wait_for_change(page, before)
        page.get_by_role("button", name="Keep it in the drawer").click()
        page.get_by_text(f"“{name}” lies in the drawer.").wait_for()
    page.get_by_role("link", name="Drawer").click()
    page.get_by_role("heading", name="Dotted trousers").wait_for()
    ticks = page.get_by_label("Compare", exact=True)
    for i in range(2):
        ticks.nth(i).check()
    page.get_by_role("button", name="Compare two").click()
    page.get_by_role("region", name="Differences").wait_for()
    page.get_by_label("Find").fill("striped")
    page.wait_for_function("() => document.querySelectorAll('.shelf li').length === 1")
    page.get_by_role("button", name="Open").click()
    page.get_by_role("heading", name="The pattern: Striped trousers").wait_for()


def test_a_photo_that_does_not_do_is_said_and_can_be_replaced(open_page, tmp_path):
    from PIL import Image

    Image.new("RGB", (900, 1200), (128, 120, 110)).save(tmp_path / "floor.jpg")
    page = open_page("phone")
    page.get_by_label("Choose a photo").set_input_files(tmp_path / "floor.jpg")
    alert = page.get_by_role("alert")
    alert.wait_for(timeout=60_000)
    assert len(alert.inner_text().split()) > 6
    # It is shown all the same, to point at the card in it; then it is looked at again.
    page.locator(".viewer image").wait_for()
    page.get_by_role("button", name="Point at the card").click()
    with page.expect_request("**/again") as asked:
        page.locator(".viewer svg").click()
    assert asked.value.post_data_json["reference_at"] == pytest.approx([450, 600], abs=60)
    page.get_by_role("alert").wait_for(timeout=60_000)
    take_photo(page)


def test_a_reload_loses_nothing_and_another_screen_goes_on(open_page):
    page = open_page()
    take_photo(page)
    first = drawn(page)
    page.get_by_label("Name of the garment").fill("Half-done leggings")
    page.get_by_text("ribbed cuff of its own").click()
    cuffed = wait_for_change(page, first)
    page.get_by_role("button", name="Pull the edge").click()
    x, y = corner(page, "crotch")
    drag(page, (x, y), (x + 12, y + 4), touches=False)
    done = wait_for_change(page, cuffed)
    page.on("dialog", lambda dialog: dialog.accept())
    page.reload()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.get_by_role("heading", name="Half-done leggings").wait_for()
    assert drawn(page) == done
    other = open_page("phone")
    other.get_by_role("link", name="Half-done leggings").first.click()
    other.get_by_role("heading", name=READY).wait_for(timeout=90_000)


def test_a_second_photo_of_another_pair_is_refused_and_left_out_again(open_page):
    page = open_page(may_refuse=True)
    page.get_by_role("button", name="Try it with a sample").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    before = drawn(page)
    page.get_by_text("More photos of this garment").click()
    page.get_by_label("Backs out").set_input_files(PHOTO)
    page.get_by_role("alert").wait_for(timeout=90_000)
    page.get_by_role("button", name="Do without the second photo").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert drawn(page) == before


def card_corners(page):
    """Return where the corners of the card found are in the photo, each somewhat off."""
    found = page.evaluate("outgrown.garment.panels.front.seen.references[0].corners")
    return [(x + off, y - off) for (x, y), off in zip(found, (9, -7, 6, -8), strict=True)]


def on_screen(page, place):
    """Return where a place in the photo is on the screen."""
    ask = """([x, y]) => { const m = document.querySelector('.viewer svg').getScreenCTM();
        const p = new DOMPoint(x, y).matrixTransform(m); return [p.x, p.y]; }"""
    return page.evaluate(ask, list(place))


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_the_four_corners_of_a_card_are_tapped_and_undone(open_page, size):
    page = open_page(size)
    take_photo(page)
    corners = card_corners(page)
    page.get_by_role("button", name="Card's corners").click()
    page.locator(".viewer").first.scroll_into_view_if_needed()
    page.get_by_role("button", name="All of it").first.click()
    for place in corners[:3]:
        (page.touchscreen.tap if size == "phone" else page.mouse.click)(*on_screen(page, place))
    page.get_by_text("3 of 4 corners set.").wait_for()
    page.get_by_role("button", name="Undo").click()
    assert page.locator(".handle").count() == 2
    page.get_by_role("button", name="Redo").click()
    with page.expect_request("**/again") as asked:
        (page.touchscreen.tap if size == "phone" else page.mouse.click)(*on_screen(page, corners[3]))
    said = asked.value.post_data_json
    assert len(said["reference_corners"]) == 4 and said["reference_at"] is None
    assert said["reference_corners"][3] == pytest.approx(corners[3], abs=8)
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert page.evaluate("outgrown.garment.panels.front.seen.references.length") == 1
    # A corner is dragged: the photo is looked at once more.
    place = on_screen(page, corners[0])
    with page.expect_request("**/again") as asked:
        drag(page, place, (place[0] + 3, place[1]), size == "phone")
    assert asked.value.post_data_json["reference_corners"][0][0] > said["reference_corners"][0][0]
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)


@pytest.mark.parametrize("way", ["mouse", "finger", "keys"])
def test_what_is_no_card_is_taken_away_and_had_back(open_page, way):
    page = open_page("phone" if way == "finger" else "desktop", may_refuse=True)
    take_photo(page)
    before = drawn(page)
    corners = card_corners(page)
    middle = [sum(corner[k] for corner in corners) / 4 for k in (0, 1)]
    page.get_by_role("button", name="Not a card").focus()
    page.keyboard.press("Enter")
    viewer = page.locator(".viewer").first

    def tap(place):
        if way == "keys":
            page.evaluate(
                "([x, y]) => { const v = outgrown.garment.panels.front.viewer, [, , w, h] = v.box;"
                "v.show([x - w / 2, y - h / 2, w, h]); }",
                place,
            )
            viewer.focus()
            page.keyboard.press("Enter")
        else:
            viewer.scroll_into_view_if_needed()
            (page.touchscreen.tap if way == "finger" else page.mouse.click)(*on_screen(page, place))

    page.get_by_role("button", name="All of it").first.click()
    tap([40, 40])
    page.get_by_text("Nothing here was taken for a card or sheet").wait_for()
    with page.expect_request("**/again") as asked:
        tap(middle)
    assert asked.value.post_data_json["no_references"][0] == pytest.approx(middle, abs=8)
    page.get_by_role("heading", name="This photo does not do yet").wait_for(timeout=90_000)
    assert page.locator(".none path").count() == 2
    if way == "mouse":
        page.get_by_role("button", name="Undo").click()
    else:
        tap(middle)  # on its cross
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert page.locator(".none path").count() == 0
    assert drawn(page) == before


def test_keys_keep_their_place(open_page):
    """What the keys are at goes away while the photo is looked at; then they are led on, never back to the top."""
    page = open_page()
    at = "() => [document.activeElement.tagName, document.activeElement.innerText || '']"
    assert page.title() == "Make · outgrown"
    page.get_by_role("button", name="Try it with a sample").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    assert page.evaluate(at) == ["H1", "Looking at the photo"]
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    before = drawn(page)
    assert page.evaluate(at) == ["H1", READY]
    page.locator("[data-corner='crotch']").focus()
    page.keyboard.press("ArrowLeft")
    moved = wait_for_change(page, before)
    undo = page.get_by_role("button", name="Undo").first
    undo.focus()
    page.keyboard.press("Enter")
    assert wait_for_change(page, moved) == before
    assert page.evaluate(at) == ["BUTTON", "Undo"] and undo.get_attribute("aria-disabled") == "true"
    page.keyboard.press("Enter")  # there is nothing more to undo
    assert drawn(page) == before
    page.get_by_role("button", name="Brush: floor").click()
    viewer = page.locator(".viewer").first
    viewer.focus()
    for key in ("Shift+ArrowDown", "Enter", "ArrowRight", "Enter"):
        page.keyboard.press(key)
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    drawn(page)
    assert viewer.evaluate("one => one === document.activeElement")
    page.get_by_role("link", name="Drawer").click()
    page.wait_for_function("() => document.title === 'Drawer · outgrown'")


def test_a_card_is_shown_with_keys_alone(open_page):
    page = open_page()
    take_photo(page)
    corners = card_corners(page)
    page.get_by_role("button", name="Card's corners").focus()
    page.keyboard.press("Enter")
    viewer = page.locator(".viewer").first
    viewer.focus()
    assert "Enter sets a corner" in viewer.get_attribute("aria-label")
    page.keyboard.press("0")
    for x, y in corners:
        for _ in range(400):
            ax, ay = page.evaluate("outgrown.garment.panels.front.viewer.middle()")
            w, h = page.evaluate("outgrown.garment.panels.front.viewer.box.slice(2)")
            if abs(x - ax) <= 0.01 * w and abs(y - ay) <= 0.01 * h:
                break
            across = abs(x - ax) / w > abs(y - ay) / h
            key = ("ArrowRight" if x > ax else "ArrowLeft") if across else ("ArrowDown" if y > ay else "ArrowUp")
            far = max(abs(x - ax) / w, abs(y - ay) / h) > 0.13
            page.keyboard.press(f"Shift+{key}" if far else key)
        if page.locator(".handle").count() == 3:
            break
        page.keyboard.press("Enter")
    # A corner set is moved with arrows, too, and the fourth lets the photo be looked at.
    page.locator(".handle").nth(0).focus()
    at = page.evaluate("outgrown.garment.edits.frame.front[0]")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.evaluate("outgrown.garment.edits.frame.front[0][0]") > at[0]
    viewer.focus()
    with page.expect_request("**/again") as asked:
        page.keyboard.press("Enter")
    assert len(asked.value.post_data_json["reference_corners"]) == 4
    page.get_by_role("heading", name="Looking at the photo").wait_for()


def test_the_edge_is_pulled_and_the_floor_brushed_with_keys_alone(open_page):
    page = open_page()
    take_photo(page)
    before = drawn(page)
    page.get_by_role("button", name="Pull the edge").click()
    viewer = page.locator(".viewer").first
    viewer.focus()
    # The picture is moved until an edge of the hem lies below the cross.
    page.evaluate(
        "() => { const p = outgrown.garment.panels.front;"
        "const c = p.seen.corners.filter((one) => one.name.startsWith('hem')).map((one) => one.at);"
        "const [x, y] = [0, 1].map((k) => (c[0][k] + c[1][k]) / 2), [, , w, h] = p.viewer.box;"
        "p.viewer.show([x - w / 2, y - h / 2, w, h]); }"
    )
    page.keyboard.press("Enter")
    for _ in range(2):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    assert page.evaluate("outgrown.garment.edits.pulls.front.length") == 1
    moved = wait_for_change(page, before)
    # Escape leaves it as it was.
    viewer.focus()
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Escape")
    assert drawn(page) == moved
    page.get_by_role("button", name="Brush: floor").click()
    viewer.focus()
    with page.expect_request("**/again") as asked:
        page.keyboard.press("Shift+ArrowDown")
        page.keyboard.press("Enter")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
    assert asked.value.post_data_json["hints"][0][0] == "floor"


def test_a_lens_that_the_photos_do_not_teach_is_told(open_page):
    page = open_page("phone")
    page.get_by_role("link", name="Lens", exact=True).click()
    page.get_by_label("Paper").select_option("letter")
    assert "paper=letter" in page.get_by_role("link", name="Lens sheet", exact=True).get_attribute("href")
    page.get_by_label("Photos of the lens sheet", exact=True).set_input_files([PHOTO])
    page.get_by_role("alert").wait_for(timeout=60_000)
    assert "4 at least" in page.get_by_role("alert").inner_text()


def test_lengths_on_a_phone_stay_in_one_piece(open_page):
    page = open_page("phone")
    page.get_by_role("button", name="Try it with a sample").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    before = drawn(page)
    page.get_by_label("Or simply longer by").fill("20 mm")
    wait_for_change(page, before)
    page.get_by_role("heading", name="Grown").wait_for()
    lines = """cells => cells.map(cell => {
        const text = document.createRange();
        text.selectNodeContents(cell);
        return text.getClientRects().length;
    })"""
    for name in ("Lengths", "Before and after"):
        told = page.get_by_role("region", name=name)
        assert told.get_by_role("row").count() > 4
        assert max(told.locator("td.one").evaluate_all(lines)) == 1
        assert told.evaluate("part => part.scrollWidth <= part.clientWidth + 12")
    # The reason stands below, as wide as the table.
    why = page.get_by_role("region", name="Before and after").locator("td.below").first
    assert why.bounding_box()["width"] > 250


def is_laid(response):
    return response.request.method == "POST" and response.url.endswith("/lay")


def test_the_floor_of_a_cloth_and_its_bar_are_given(open_page):
    page = open_page(may_refuse=True)
    take_photo(page)
    page.get_by_text("How it lies on cloth").click()
    with page.expect_response(is_laid, timeout=90_000):
        page.get_by_label("Photo of the cloth", exact=True).set_input_files(PHOTO)
    part = page.get_by_role("region", name="The photo of the cloth")
    part.get_by_role("heading", name="Does the line follow the cloth's edge?").wait_for(timeout=90_000)
    part.get_by_text("Where it is not found well").click()
    without = part.get_by_role("button", name="Do without the photo of the floor")
    assert without.is_hidden()
    part.get_by_label("Photo of the empty floor below the cloth").set_input_files(PHOTO)
    page.get_by_role("alert").get_by_text("not one of the empty floor").wait_for(timeout=90_000)
    with page.expect_response(is_laid, timeout=90_000):
        without.click()
    assert without.is_hidden()
    with page.expect_request("**/again") as asked, page.expect_response(is_laid, timeout=90_000):
        part.get_by_label("Bar on your printed targets").fill("148.6")
        part.get_by_role("button", name="Look again with it").click()
    said = asked.value.post_data_json
    assert said["role"] == "cloth" and said["bar"] == "148.6"
    with page.expect_request("**/again") as asked:
        part.get_by_role("button", name="Undo").click()
    assert asked.value.post_data_json["bar"] == ""


def test_a_name_is_no_longer_than_the_program_takes(open_page):
    page = open_page()
    take_photo(page)
    assert page.get_by_label("Name of the garment").get_attribute("maxlength") == str(LONGEST_NAME)


def test_the_photo_of_a_cloth_is_mended_too(open_page):
    page = open_page("phone", may_refuse=True)
    page.get_by_role("button", name="Try it with a sample").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.get_by_text("How it lies on cloth").click()
    page.get_by_label("Photo of the cloth", exact=True).set_input_files(PHOTO)
    part = page.get_by_role("region", name="The photo of the cloth")
    part.get_by_role("heading", name="Does the line follow the cloth's edge?").wait_for(timeout=90_000)
    page.get_by_role("link", name="Print the plan").wait_for(timeout=60_000)
    before = page.evaluate("outgrown.garment.panels.cloth.seen.outline.length")
    assert before > 50
    part.get_by_role("button", name="Brush: cloth").click()
    part.locator(".viewer").scroll_into_view_if_needed()
    box = part.locator(".viewer svg").bounding_box()
    start = box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"]
    with page.expect_request("**/again") as asked:
        drag(page, start, (start[0] + 30, start[1]), touches=True)
    said = asked.value.post_data_json
    assert said["role"] == "cloth" and said["hints"][0][0] == "garment"
    page.get_by_role("status").filter(has_text="looking").first.wait_for()
    page.get_by_role("link", name="Print the plan").wait_for(timeout=90_000)
    with page.expect_request("**/again") as asked:
        part.get_by_role("button", name="Undo").click()
    assert asked.value.post_data_json["hints"] == []
    # The garment's own photo was let alone.
    assert page.get_by_role("heading", name=READY).is_visible()


def test_brushing_looks_again(open_page):
    page = open_page()
    take_photo(page)
    page.get_by_role("button", name="Brush: floor").click()
    page.locator(".viewer").first.scroll_into_view_if_needed()
    box = page.locator(".viewer svg").first.bounding_box()
    start = box["x"] + 0.1 * box["width"], box["y"] + 0.1 * box["height"]
    drag(page, start, (start[0] + 40, start[1]), touches=False)
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)


def test_keys_alone_will_do(open_page):
    page = open_page()
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Try it with a sample":
            break
    page.keyboard.press("Enter")
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    before = drawn(page)
    page.locator("[data-corner='crotch']").focus()
    for _ in range(6):
        page.keyboard.press("ArrowLeft")
    moved = wait_for_change(page, before)
    for _ in range(6):
        page.keyboard.press("Control+z")
    assert wait_for_change(page, moved) == before
    viewer = page.locator(".viewer").first
    viewer.focus()
    box = viewer.locator("svg").first.get_attribute("viewBox")
    page.keyboard.press("+")
    assert viewer.locator("svg").first.get_attribute("viewBox") != box


def test_the_wheel_zooms_and_dragging_moves(open_page):
    page = open_page()
    take_photo(page)
    viewer = page.locator(".viewer svg").first
    before = viewer.get_attribute("viewBox")
    box = [float(v) for v in before.split()]
    place = viewer.bounding_box()
    page.mouse.move(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    page.mouse.wheel(0, -400)
    is_other = "old => document.querySelector('.viewer svg').getAttribute('viewBox') !== old"
    page.wait_for_function(is_other, arg=before)
    closer = [float(v) for v in viewer.get_attribute("viewBox").split()]
    assert closer[2] < box[2]
    page.mouse.down()
    page.mouse.move(place["x"] + place["width"] / 2 + 80, place["y"] + place["height"] / 2)
    page.mouse.up()
    aside = [float(v) for v in viewer.get_attribute("viewBox").split()]
    assert aside[0] < closer[0] and aside[2] == pytest.approx(closer[2])


def test_two_fingers_zoom(open_page):
    page = open_page("phone")
    take_photo(page)
    viewer = page.locator(".viewer svg").first
    page.locator(".viewer").first.scroll_into_view_if_needed()
    before = [float(v) for v in viewer.get_attribute("viewBox").split()]
    box = viewer.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = page.context.new_cdp_session(page)
    for kind, apart in (("touchStart", 30), ("touchMove", 60), ("touchMove", 90)):
        points = [{"x": x - apart, "y": y, "id": 1}, {"x": x + apart, "y": y, "id": 2}]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    closer = [float(v) for v in viewer.get_attribute("viewBox").split()]
    assert closer[2] == pytest.approx(before[2] / 3, rel=0.1)
    # What was between the fingers stays there.
    assert closer[0] + closer[2] / 2 == pytest.approx(before[0] + before[2] / 2, abs=0.05 * before[2])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_everybody_can_use_it(open_page, size, scheme):
    """WCAG 2.2 AA as far as axe-core 4.12 can tell, every part opened, nothing wider than the screen."""
    page = open_page(size, scheme, checks_csp=False)

    def check(where):
        found = Axe().run(page, options={"runOnly": RULES}).response["violations"]
        assert not found, f"{where}: {[(v['id'], v['nodes'][0]['html'][:200]) for v in found]}"
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), where

    check("start")
    page.get_by_role("button", name="Try it with a sample").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    page.locator(".sheets svg").first.wait_for()
    check("making")
    for room, words in (
        ("drawer", "The drawer"),
        ("lens", "Your phone's lens"),
        ("guide", "How to lay and photograph it"),
    ):
        page.goto(re.sub("#.*", "", page.url) + f"#{room}")
        page.get_by_role("heading", name=words).first.wait_for()
        page.wait_for_timeout(200)
        check(room)
