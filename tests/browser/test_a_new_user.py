"""What somebody new to it does: wrong answers, long names, second thoughts, two screens, back and forward."""

import re
from io import BytesIO

import pytest
from browser.conftest import PHOTO
from browser.test_in_a_browser import READY, corner, drag, drawn, wait_for_change
from paper.reading import open_pdf, page_text
from PIL import Image


def take_sample(page):
    page.get_by_role("button", name="Try it with a sample").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    return drawn(page)


def printed(page):
    """Return the first page of what would be printed now, as text."""
    with page.expect_download() as got:
        page.get_by_role("link", name="Save the PDF").click()
    return page_text(open_pdf(got.value.path().read_bytes())[0])


def is_seen(page, place):
    """Tell whether something is on the screen as it is scrolled now."""
    box = place.bounding_box()
    return box is not None and box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"]


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_a_wrong_answer_is_said_where_it_was_typed_and_what_is_printed_is_told(open_page, size):
    page = open_page(size, may_refuse=True)
    before = take_sample(page)
    waist = page.get_by_label("Body waist", exact=True)
    waist.fill("a lot")
    bad = page.locator(".field .bad")
    bad.wait_for()
    assert "is not a length" in bad.inner_text() and is_seen(page, bad)
    assert waist.get_attribute("aria-invalid") == "true"
    assert page.get_by_text("The last change could not be drawn").is_visible()
    # The photo is as good as before, also when the page is loaded anew.
    page.reload()
    page.get_by_role("heading", name="A choice does not do yet").wait_for()
    assert not page.get_by_role("link", name="Print the pattern").is_visible()
    waist.fill("52")
    page.get_by_role("heading", name=READY).wait_for()
    assert drawn(page) == before
    assert not bad.count() and not page.get_by_text("The last change could not be drawn").is_visible()
    # Half an answer of several: it is said at what was answered last, in the page's own words.
    page.get_by_text("The next size").click()
    page.get_by_label("Height now").fill("110")
    bad.wait_for()
    assert "“Height when it fitted”" in bad.inner_text() and is_seen(page, bad)


def test_what_was_typed_a_moment_ago_is_printed(open_page):
    page = open_page()
    take_sample(page)
    page.get_by_label("Name of the garment").fill("Just typed")
    page.evaluate("document.querySelector('a[download][href*=\"pattern.pdf\"]').focus()")
    with page.expect_download() as got:
        page.keyboard.press("Enter")
    assert "Just typed" in page_text(open_pdf(got.value.path().read_bytes())[0])


def test_a_lay_of_an_earlier_pattern_is_told(open_page):
    page = open_page()
    before = take_sample(page)
    page.get_by_text("How it lies on cloth, and how much to buy").click()
    page.get_by_role("button", name="Lay it", exact=True).click()
    page.get_by_role("link", name="Print the plan").wait_for(timeout=60_000)
    told = page.get_by_text("The pattern has changed since it was laid.")
    assert not told.is_visible()
    page.get_by_text("The next size").click()
    longer = page.get_by_label("Or simply longer by")
    longer.fill("20 cm")
    wait_for_change(page, before)
    assert told.is_visible()
    longer.fill("")
    page.wait_for_function("b => document.querySelector('.viewer.paper svg').innerHTML === b", arg=before)
    told.wait_for(state="hidden")


def test_back_and_forward_reload_and_the_skip_link_lead_where_they_say(open_page):
    page = open_page()
    take_sample(page)
    made = page.url
    page.go_back()
    page.get_by_role("heading", name="Which garment fits?").wait_for()
    page.go_forward()
    page.get_by_role("heading", name=READY).wait_for()
    page.get_by_role("link", name="Drawer").click()
    page.get_by_role("heading", name="The drawer").wait_for()
    page.locator(".skip").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    assert page.get_by_role("heading", name="The drawer").is_visible() and page.url.endswith("#drawer")
    page.get_by_role("link", name="Make").click()
    page.get_by_role("heading", name=READY).wait_for()
    assert page.url == made
    page.reload()
    page.get_by_role("heading", name=READY).wait_for()


def darker(photo):
    """Another picture of the same garment; one picture is not taken for both sides of a pair."""
    content = BytesIO()
    with Image.open(photo) as picture:
        picture.point(lambda value: value * 0.85).save(content, "JPEG", quality=95, exif=picture.info["exif"])
    return content.getvalue()


def test_corners_of_the_second_photo_cannot_be_taken_for_those_of_the_first(open_page):
    page = open_page()
    page.get_by_label("Choose a photo").set_input_files(PHOTO)
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    page.get_by_text("More photos of this garment").click()
    page.get_by_label("Backs out").set_input_files(
        {"name": "backs.jpg", "mimeType": "image/jpeg", "buffer": darker(PHOTO)}
    )
    page.get_by_role("heading", name="The second photo, backs out").wait_for(timeout=90_000)
    drawn(page)
    first, second = page.locator(".viewer:not(.paper)").all()
    assert first.locator("[data-corner][tabindex]").count() == 5
    assert second.locator("[data-corner]").count() == 5 and not second.locator("[data-corner][tabindex]").count()
    page.get_by_role("button", name="Pull the edge").nth(1).click()
    second.scroll_into_view_if_needed()
    box = second.locator("[data-corner='crotch'] circle").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = drawn(page)
    drag(page, (x, y), (x, y + 6), touches=False)
    page.wait_for_function("() => outgrown.garment.edits.pulls.back.length === 1")
    assert page.evaluate("Object.keys(outgrown.garment.edits.corners).length") == 0
    wait_for_change(page, before)
    page.get_by_text("More photos of this garment").click()
    page.get_by_role("button", name="Do without the second photo").click()
    page.get_by_role("heading", name="The second photo, backs out").wait_for(state="detached")


def test_a_way_of_lying_that_is_not_the_photos_is_said_where_it_was_chosen(open_page):
    page = open_page("phone", may_refuse=True)
    take_sample(page)
    page.get_by_text("open, both legs side by side").click()
    bad = page.locator(".field .bad")
    bad.wait_for()
    assert "legs" in bad.inner_text() and is_seen(page, bad)
    page.reload()
    page.get_by_role("heading", name="This photo does not do yet").wait_for()
    page.get_by_text("taken apart, one leg's piece").click()
    page.locator(".field .bad", has_text="one leg's piece").wait_for()
    assert is_seen(page, bad)
    page.get_by_text("as told from the outline").first.click()
    page.get_by_role("heading", name=READY).wait_for()


def test_where_the_keys_are_is_seen(open_page):
    """Also on a button that is a file's label, and nothing empty is stopped at."""
    page = open_page()
    ring = "getComputedStyle(document.activeElement.closest('.button') || document.activeElement).outlineStyle"
    for label in ("Take a photo", "Choose a photo"):
        while page.evaluate("document.activeElement.getAttribute('aria-label')") != label:
            page.keyboard.press("Tab")
        assert page.evaluate(ring) == "solid"
    take_sample(page)
    assert not page.get_by_role("region", name="Before and after").is_visible()


def test_two_clicks_on_the_sample_begin_one_garment(open_page):
    page = open_page()
    count = len(page.request.get(f"{page.url}api/works").json()["works"])
    page.get_by_role("button", name="Try it with a sample").dblclick()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    works = page.request.get(re.sub("#.*", "", page.url) + "api/works").json()["works"]
    assert len(works) == count + 1


def test_another_screen_goes_on_with_what_was_mended_and_each_prints_what_it_shows(open_page):
    page = open_page()
    before = take_sample(page)
    page.get_by_label("Name of the garment").fill("Begun leggings")
    named = wait_for_change(page, before)
    page.get_by_role("button", name="Pull the edge").click()
    x, y = corner(page, "crotch")
    drag(page, (x, y), (x + 12, y + 4), touches=False)
    mended = wait_for_change(page, named)
    other = open_page("phone", at="#" + page.url.partition("#")[2])
    other.get_by_role("heading", name=READY).wait_for()
    assert drawn(other) == mended
    assert other.get_by_label("Name of the garment").input_value() == "Begun leggings"
    other.get_by_label("Name of the garment").fill("Altered on the phone")
    wait_for_change(other, mended)
    # The first screen shows it by itself, before anybody touches it; and prints what it shows.
    page.get_by_role("heading", name="Altered on the phone").wait_for()
    assert page.get_by_label("Name of the garment").input_value() == "Altered on the phone"
    assert "Altered on the phone" in printed(page)
    # A photo brushed on the one is looked at anew on the other, and what is mended there is seen here.
    other.evaluate("outgrown.garment.edit(false, (e) => e.hints.front.push(['floor', [[8, 8], [40, 8]]]), 'front')")
    page.get_by_role("heading", name="Looking at the photo").wait_for()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert page.evaluate("outgrown.garment.edits.hints.front.length") == 1
    other.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    drawn(other)
    assert drawn(page) == drawn(other)


def test_a_window_that_is_behind_keeps_and_prints_nothing_stale(open_page):
    page = open_page(may_refuse=True)
    take_sample(page)
    page.evaluate("outgrown.garment.checkOthers = () => {}")  # as between two looks
    other = open_page(at="#" + page.url.partition("#")[2])
    other.get_by_role("heading", name=READY).wait_for()
    before = drawn(other)
    other.get_by_label("Name of the garment").fill("The newer name")
    wait_for_change(other, before)
    page.get_by_role("button", name="Keep it in the drawer").click()
    page.get_by_text("This was changed meanwhile, perhaps in another window.").wait_for()
    link = page.get_by_role("link", name="Print the pattern")
    printed_now = page.request.get(page.url.split("#")[0].rstrip("/") + link.get_attribute("href"))
    assert printed_now.status == 412 and "changed meanwhile" in printed_now.text()
    # An answer given here after all comes on top of what was changed there.
    page.get_by_label("Body waist", exact=True).fill("52")
    page.get_by_role("heading", name="The newer name").wait_for()
    assert page.get_by_label("Body waist", exact=True).input_value() == "52"
    assert "The newer name" in printed(page)


def test_what_was_stopped_is_no_fault_of_the_photo(open_page):
    page = open_page()
    page.get_by_label("Choose a photo").set_input_files(PHOTO.with_name("a4.jpg"))
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("heading", name="This photo was not looked at").wait_for()
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)


def test_second_photos_pointing_and_the_way_out_of_a_photo_that_does_not_do(open_page, tmp_path):
    Image.new("RGB", (900, 1200), (128, 120, 110)).save(tmp_path / "floor.jpg")
    page = open_page("phone")
    before = take_sample(page)
    page.get_by_text("More photos of this garment").click()
    page.get_by_text("Photo of the empty floor", exact=True).scroll_into_view_if_needed()
    page.get_by_label("Photo of the empty floor").set_input_files(tmp_path / "floor.jpg")
    page.get_by_role("alert").wait_for(timeout=60_000)
    assert is_seen(page, page.get_by_role("alert"))
    assert not page.get_by_role("link", name="Print the pattern").is_visible()
    page.get_by_role("button", name="Do without the photo of the floor").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert drawn(page) == before
    # A stroke that makes the photo worse can be taken back where there are no keys.
    page.get_by_role("button", name="Brush: floor").click()
    box = page.locator("[data-corner='hem-outer'] circle").bounding_box()
    crotch = page.locator("[data-corner='waist-side'] circle").bounding_box()
    drag(page, (crotch["x"] + 20, crotch["y"] - 10), (box["x"] - 20, box["y"] - 20), touches=False)
    page.get_by_role("heading", name=re.compile("^(This photo does not do yet|Does the line)")).wait_for(timeout=90_000)
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert drawn(page) == before
    # A card pointed at in one photo is not looked for in the next, and nothing of the old one is brought back.
    page.evaluate("outgrown.garment.edit(false, (e) => (e.card.front = [40, 40]))")
    page.evaluate("outgrown.garment.refused('front', 'No.', '')")
    page.get_by_label("Choose a photo").set_input_files(PHOTO)
    page.get_by_role("heading", name=READY).wait_for(timeout=90_000)
    assert page.evaluate("outgrown.garment.edits.card.front") is None
    assert page.get_by_role("button", name="Undo").is_disabled()
    page.evaluate("outgrown.garment.refused('front', 'No.', '')")
    page.get_by_role("button", name="Another garment").click()
    page.get_by_role("heading", name="Which garment fits?").wait_for()


def test_the_drawer_shows_the_paper_of_a_pattern_its_warnings_and_keeps_what_is_typed(open_page):
    page = open_page(may_refuse=True)
    before = take_sample(page)
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    page.get_by_label("Paper of the printer").select_option("letter")
    page.get_by_label("Body waist", exact=True).fill("52")
    for name in ("Letter one", "Letter two"):
        page.get_by_label("Name of the garment").fill(name)
        before = wait_for_change(page, before)
        page.get_by_role("button", name="Keep it in the drawer").click()
        page.get_by_text(f"“{name}” lies in the drawer.").wait_for()
    page.get_by_role("link", name="Drawer").click()
    page.get_by_label("Find").fill("letter")
    page.wait_for_function("() => document.querySelectorAll('.shelf li').length === 2")
    for tick in page.get_by_label("Compare", exact=True).all():
        tick.check()
    page.get_by_role("button", name="Compare two").click()
    page.get_by_role("cell", name="cut length, elastic").wait_for()
    # What was put away is not compared any more.
    page.get_by_role("button", name="Put away").first.click()
    page.wait_for_function("() => document.querySelectorAll('.shelf li').length === 1")
    assert page.get_by_role("button", name="Compare two").is_disabled()
    # A name that cannot be is said where it stands, and the keys of a text are the text's own.
    page.get_by_role("button", name="Rename").click()
    notes = page.get_by_label("Notes")
    notes.press_sequentially("soft")
    page.keyboard.press("Control+z")
    assert notes.input_value() != "soft"
    notes.fill("soft cloth")
    page.get_by_label("Name", exact=True).fill(" ")
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("alert").filter(has_text="The new name is empty.").wait_for()
    assert notes.input_value() == "soft cloth"
    page.get_by_label("Name", exact=True).fill("Letter three")
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("heading", name="Letter three").wait_for()
    page.get_by_role("button", name="Open").click()
    page.get_by_role("heading", name="The pattern: Letter three").wait_for()
    page.evaluate("document.querySelectorAll('details.card').forEach(part => part.open = true)")
    assert page.get_by_label("Paper of the printer").input_value() == "letter"
    before = drawn(page)
    page.get_by_label("Body waist now").fill("57")
    wait_for_change(page, before)
    assert page.get_by_text("shorter than the elastic").is_visible()
    # A wrong answer kept over a reload is said, and the pattern is missed where it would stand.
    page.get_by_label("Body waist now").fill("x")
    page.locator(".field .bad").wait_for()
    page.reload()
    page.get_by_text("It is drawn as soon as that is mended.").wait_for()
    page.get_by_label("Body waist now").fill("")
    drawn(page)


def test_long_names_and_large_letters_make_nothing_wider_than_the_screen(open_page):
    page = open_page("phone")
    before = take_sample(page)
    fits = "document.documentElement.scrollWidth <= innerWidth"
    for label in ("Name of the garment", "For whom, or which size"):
        page.get_by_label(label).fill("W" * 100)
        before = wait_for_change(page, before)
    assert page.evaluate(fits)
    page.get_by_role("button", name="Keep it in the drawer").click()
    page.get_by_text("lies in the drawer.").wait_for()
    assert page.locator("#say").bounding_box()["width"] > 0.85 * page.viewport_size["width"]
    page.get_by_role("link", name="Drawer").click()
    page.get_by_role("heading", name="W" * 100).wait_for()
    assert page.evaluate(fits)
    page.evaluate("document.documentElement.style.fontSize = '34px'")
    assert page.evaluate(fits)
    page.goto(re.sub("#.*", "", page.url) + "#make")
    page.get_by_role("heading", name="On the desk").wait_for()
    assert page.evaluate(fits)
