"""What is put into the drawer is there, whatever its names are and whatever befalls its files."""

import json
import os
import re
from dataclasses import replace
from pathlib import Path

import pytest
from drawer import sample
from PIL import Image

from outgrown.drawer.entry import ID_FORM, State, clean_words, find_sizes
from outgrown.drawer.keeping import (
    empty_bin,
    note,
    prepare_pattern,
    put_in,
    put_in_bin,
    rename,
    take_from_bin,
)
from outgrown.drawer.listing import list_entries
from outgrown.drawer.opening import find_entry, open_entry, open_pattern, read_kept_pattern
from outgrown.drawer.place import Drawer, find_drawer, writing
from outgrown.drawer.searching import Wanted, find_entries
from outgrown.drawer.upgrading import NEWEST
from outgrown.errors import ArchiveError, TargetError

KEPT = Path(__file__).resolve().parent / "kept"
NAMES = [
    "Zoë’s Fischhose",
    "夜の魚のレギンス",
    "../../etc/passwd",
    "C:\\con\\nul.txt",
    "aux",
    'a<b>c:d"e|f?g*h',
    "trailing dot. ",
    "LEGGINGS",
    "leggings",
    "👖👨‍👩‍👧",
    "a\x00b\nc\x1b[2Jd",
    "\u202eback to front",
    "e\u0301",
    "",
    "x" * 5000,
    "-rf",
    "\ud800 half a letter",
]


@pytest.fixture
def drawer(tmp_path):
    return Drawer(tmp_path / "drawer")


@pytest.fixture(scope="module")
def ready():
    return prepare_pattern(sample(0))


def folder_of(drawer, entry):
    return drawer.folder / entry.place


def test_a_pattern_comes_back_as_it_was_put_in(drawer, ready):
    kept = put_in(drawer, replace(ready, notes="Loved.\nWider next time."))
    assert kept.is_new
    (entry,) = list_entries(drawer)
    assert entry == kept.entry
    assert (entry.name, entry.for_whom, entry.garment) == ("Leggings no. 0", "Mika, 92 cm", "leggings")
    assert (entry.made_on, entry.sizes, entry.pieces, entry.photo) == ("2020-01-01", (92,), ("leg",), "kites.jpg")
    assert entry.notes == "Loved.\nWider next time."
    folder = folder_of(drawer, entry)
    assert (folder / "pattern.json").read_bytes() == sample(0)
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "Loved.\nWider next time.\n"
    with Image.open(folder / "drawing.png") as drawing:
        assert max(drawing.size) == 480 and len(drawing.getcolors()) > 3


def test_the_same_pattern_is_not_put_in_twice_but_under_another_name(drawer, ready):
    first = put_in(drawer, ready)
    again = put_in(drawer, ready)
    assert not again.is_new and again.entry.id == first.entry.id
    assert put_in(drawer, replace(ready, name="For the cousin")).is_new
    assert len(list_entries(drawer)) == 2


@pytest.mark.parametrize("name", NAMES)
def test_no_name_becomes_a_path_and_every_name_is_found_again(drawer, ready, name):
    before = sorted(drawer.folder.parent.iterdir())
    entry = put_in(drawer, replace(ready, name=clean_words(name))).entry
    assert ID_FORM.fullmatch(entry.id) and re.fullmatch(r"\d{4}-\d\d-\d\d-[a-z2-9]{6}", entry.id)
    assert sorted(drawer.folder.parent.iterdir()) == sorted([*before, drawer.folder])
    assert [item.name for item in drawer.patterns.iterdir()] == [entry.id]
    assert entry.name.isprintable() or "👖" in name  # the joiner of a family counts as not printable
    assert 0 < len(entry.name) <= 200
    assert find_entry(drawer, entry.name).id == entry.id
    opened = open_pattern(entry.id, drawer)
    assert opened.pattern.title == entry.name
    assert re.fullmatch(r"[a-z0-9-]{1,60}", opened.name)
    assert list_entries(drawer, use_cache=False) == list_entries(drawer) == [entry]


def test_renaming_alters_the_name_that_is_printed_and_nothing_that_was_kept(drawer, ready):
    entry = put_in(drawer, ready).entry
    renamed = rename(drawer, entry, "Fish ☂", "Bo, 98 cm")
    assert list_entries(drawer) == [renamed]
    assert renamed.sizes == (98,)
    assert (folder_of(drawer, entry) / "pattern.json").read_bytes() == sample(0)
    pattern = read_kept_pattern("fish ☂", drawer)
    assert (pattern.title, pattern.for_whom) == ("Fish ☂", "Bo, 98 cm")
    with pytest.raises(ArchiveError, match="empty"):
        rename(drawer, entry, " \n ")


def test_notes_grow_by_a_line_or_are_written_anew_and_may_be_edited_by_hand(drawer, ready):
    entry = put_in(drawer, ready).entry
    note(drawer, entry, "one")
    assert note(drawer, entry, "two").notes == "one\ntwo"
    (folder_of(drawer, entry) / "notes.txt").write_bytes("\ufeffby hand\r\nü\r\n".encode())
    assert list_entries(drawer)[0].notes == "by hand\nü"
    assert note(drawer, entry, "new", is_instead=True).notes == "new"
    with pytest.raises(ArchiveError, match="too long"):
        note(drawer, entry, "long " * 300_000)
    assert list_entries(drawer)[0].notes == "new"


def test_the_bin_gives_back_what_was_put_into_it_until_it_is_emptied(drawer, ready):
    entry = put_in(drawer, ready).entry
    put_in_bin(drawer, entry)
    assert list_entries(drawer) == []
    (binned,) = list_entries(drawer, is_binned=True)
    assert binned.id == entry.id and re.fullmatch(r"\d{4}-\d\d-\d\d", binned.binned_on)
    take_from_bin(drawer, binned)
    assert list_entries(drawer) == [entry]
    with pytest.raises(TargetError, match="not where it was"):
        take_from_bin(drawer, binned)
    put_in_bin(drawer, entry)
    assert empty_bin(drawer, list_entries(drawer, is_binned=True)) == 1
    assert list_entries(drawer, is_binned=True) == []
    assert list(drawer.staging.iterdir()) == list(drawer.bin.iterdir()) == []


def test_only_what_is_in_the_bin_can_be_deleted(drawer, ready):
    entry = put_in(drawer, ready).entry
    assert empty_bin(drawer, [entry]) == 0
    assert list_entries(drawer) == [entry]


def test_a_newer_pattern_is_listed_as_such_and_neither_opened_nor_altered(drawer, ready):
    good = put_in(drawer, ready).entry
    newer = drawer.patterns / "2027-01-01-bcdfgh"
    newer.mkdir()
    document = json.loads(sample(1)) | {"schema": f"outgrown-pattern/{NEWEST + 1}", "choices": "told otherwise now"}
    (newer / "pattern.json").write_text(json.dumps(document), encoding="utf-8")
    states = {entry.id: entry for entry in list_entries(drawer)}
    assert states[good.id].state is State.GOOD
    entry = states["2027-01-01-bcdfgh"]
    assert entry.state is State.NEWER and "newer outgrown" in entry.trouble and "unharmed" in entry.trouble
    for change in (lambda: rename(drawer, entry, "x"), lambda: open_entry(drawer, entry)):
        with pytest.raises(ArchiveError, match="newer outgrown"):
            change()


def test_an_entry_kept_by_a_newer_outgrown_is_left_alone(drawer, ready):
    entry = put_in(drawer, ready).entry
    header = folder_of(drawer, entry) / "entry.json"
    header.write_bytes(header.read_bytes().replace(b"outgrown-drawer/1", b"outgrown-drawer/2"))
    (now,) = list_entries(drawer)
    assert now.state is State.NEWER and now.name == "Leggings no. 0"
    with pytest.raises(ArchiveError, match="newer"):
        note(drawer, now, "x")


@pytest.mark.parametrize("kept", sorted(KEPT.glob("*.json")), ids=lambda path: path.stem)
def test_every_older_pattern_is_listed_and_opened(drawer, kept):
    entry = put_in(drawer, prepare_pattern(kept.read_bytes())).entry
    assert entry.state is State.GOOD and entry.garment
    assert open_entry(drawer, entry).pattern.pieces


DAMAGE = {
    "cut short": lambda folder: (folder / "pattern.json").write_bytes(sample(0)[:900]),
    "empty": lambda folder: (folder / "pattern.json").write_bytes(b""),
    "gone": lambda folder: (folder / "pattern.json").unlink(),
    "something else": lambda folder: (folder / "pattern.json").write_text('{"schema": "a-poem/1"}', encoding="utf-8"),
    "not text": lambda folder: (folder / "pattern.json").write_bytes(bytes(range(256)) * 9),
    "a part gone": lambda folder: (folder / "pattern.json").write_text(
        json.dumps({k: v for k, v in json.loads(sample(0)).items() if k != "choices"}), encoding="utf-8"
    ),
    "deep": lambda folder: (folder / "pattern.json").write_text("[" * 100_000, encoding="utf-8"),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_what_is_damaged_is_listed_with_advice_and_its_name_and_hides_nothing_else(drawer, ready, damage):
    entry = put_in(drawer, ready).entry
    other = put_in(drawer, replace(ready, name="Well")).entry
    damage(folder_of(drawer, entry))
    found = {e.id: e for e in list_entries(drawer)}
    assert found[other.id] == other
    hurt = found[entry.id]
    assert hurt.state is State.DAMAGED and hurt.name == entry.name
    assert "outgrown drawer unpack" in hurt.trouble
    with pytest.raises(ArchiveError, match="Damaged"):
        open_entry(drawer, hurt)
    put_in_bin(drawer, hurt)
    assert [e.id for e in list_entries(drawer, is_binned=True)] == [entry.id]


def test_without_its_entry_json_a_pattern_is_as_it_says_itself(drawer, ready):
    entry = put_in(drawer, replace(ready, name="Named")).entry
    (folder_of(drawer, entry) / "entry.json").unlink()
    (now,) = list_entries(drawer)
    assert (now.name, now.state, now.sha256) == ("Leggings no. 0", State.GOOD, entry.sha256)
    (folder_of(drawer, entry) / "entry.json").write_bytes(b"\x00")
    (now,) = list_entries(drawer)
    assert now.state is State.GOOD and "rename" in now.trouble
    rename(drawer, now, "Named")
    assert list_entries(drawer)[0].trouble == ""


def test_a_pattern_altered_by_hand_is_shown_as_it_is_now(drawer, ready):
    entry = put_in(drawer, ready).entry
    document = json.loads(sample(0)) | {"made_on": "2025-12-24", "pieces": []}
    (folder_of(drawer, entry) / "pattern.json").write_text(json.dumps(document), encoding="utf-8")
    (now,) = list_entries(drawer)
    assert (now.made_on, now.pieces, now.name) == ("2025-12-24", (), entry.name)


@pytest.mark.parametrize("content", [b"", b"junk", b"outgrown-list/1/2 00\n[]", b"\xff" * 400])
def test_a_damaged_cache_is_made_again_silently(drawer, ready, content):
    entry = put_in(drawer, ready).entry
    list_entries(drawer)
    good = drawer.cache.read_bytes()
    drawer.cache.write_bytes(content)
    assert list_entries(drawer) == [entry]
    assert drawer.cache.read_bytes() == good


@pytest.mark.parametrize("place", range(0, 900, 60))
def test_no_damaged_byte_of_the_cache_reaches_the_list(drawer, ready, place):
    entry = put_in(drawer, ready).entry
    list_entries(drawer)
    content = bytearray(drawer.cache.read_bytes())
    content[place % len(content)] ^= 1
    drawer.cache.write_bytes(content)
    assert list_entries(drawer) == [entry]


def test_the_cache_is_used_and_is_only_a_cache(drawer, ready, monkeypatch):
    from outgrown.drawer import listing

    entry = put_in(drawer, ready).entry
    list_entries(drawer)
    monkeypatch.setattr(listing, "read_entry", lambda *_: pytest.fail("read again"))
    assert list_entries(drawer) == [entry]
    monkeypatch.undo()
    drawer.cache.unlink()
    drawer.cache.mkdir()  # nothing can be written there
    assert list_entries(drawer) == [entry]
    assert [item.name for item in drawer.folder.iterdir() if item.name.startswith(".list.json.")] == []


def test_what_a_killed_writer_left_is_not_listed_and_goes_with_the_next_change(drawer, ready):
    put_in(drawer, ready)
    (drawer.staging / "2026-01-01-zzzzzz").mkdir()
    (drawer.staging / "2026-01-01-zzzzzz" / "pattern.json").write_bytes(b"half")
    (drawer.staging / "half.entry.json").write_bytes(b"half")
    (drawer.folder / ".list.json.4711").write_bytes(b"half")
    assert len(list_entries(drawer)) == 1
    put_in(drawer, replace(ready, name="Next"))
    assert list(drawer.staging.iterdir()) == []
    assert sorted(item.name for item in drawer.folder.iterdir()) == [
        *(".list.json", ".lock", ".writing", "bin", "patterns")
    ]


def test_a_folder_used_for_something_else_is_no_drawer(tmp_path, ready):
    (tmp_path / "letters.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(TargetError, match=r"letters\.txt"):
        put_in(Drawer(tmp_path), ready)
    with pytest.raises(TargetError, match="is a file"):
        put_in(Drawer(tmp_path / "letters.txt"), ready)
    assert [item.name for item in tmp_path.iterdir()] == ["letters.txt"]
    assert list_entries(Drawer(tmp_path)) == list_entries(Drawer(tmp_path / "nowhere")) == []


def test_a_second_writer_waits_and_is_told_in_the_end(drawer, ready, monkeypatch):
    from outgrown.drawer import place

    put_in(drawer, ready)
    monkeypatch.setattr(place, "_PATIENCE_S", 0.1)
    with writing(drawer), pytest.raises(TargetError, match="Another outgrown"):
        put_in(drawer, replace(ready, name="Second"))
    assert put_in(drawer, replace(ready, name="Second")).is_new


def test_where_the_drawer_is(tmp_path, monkeypatch):
    monkeypatch.delenv("OUTGROWN_DRAWER", raising=False)
    monkeypatch.delenv("OUTGROWN_DATA", raising=False)
    assert find_drawer().folder.name == "outgrown" and find_drawer().folder.is_absolute()
    monkeypatch.setenv("OUTGROWN_DATA", str(tmp_path / "data"))
    assert find_drawer().folder == tmp_path / "data" / "drawer"
    monkeypatch.setenv("OUTGROWN_DRAWER", str(tmp_path / "named"))
    assert find_drawer().folder == tmp_path / "named"
    assert find_drawer(Path("said")).folder == Path("said")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user whom rights bind")
def test_a_drawer_that_may_not_be_written_is_listed_and_refused(drawer, ready):
    entry = put_in(drawer, ready).entry
    drawer.patterns.chmod(0o500)
    try:
        assert list_entries(drawer) == [entry]
        with pytest.raises(TargetError, match="permission"):
            put_in(drawer, replace(ready, name="Second"))
    finally:
        drawer.patterns.chmod(0o700)


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    drawer = Drawer(tmp_path_factory.mktemp("full") / "drawer")
    ready = prepare_pattern(sample(0))
    for number in range(12):
        put_in(drawer, replace(ready, content=sample(number), notes="Älter, für den Sommer" if number == 7 else ""))
    return drawer


@pytest.mark.parametrize(
    ("wanted", "numbers"),
    [
        (Wanted(("leggings",)), {0, 4, 8}),
        (Wanted(("SKIRT", "no. 5")), {5}),
        (Wanted(for_whom="zoe"), {1, 4, 7, 10}),
        (Wanted(for_whom="ZOË", garment="short"), {10}),
        (Wanted(("alter", "fur")), {7}),
        (Wanted(since="2025"), {5, 6}),
        (Wanted(since="2022-10", until="2023"), {9, 3, 10}),
        (Wanted(until="2020-01-01"), {0}),
        (Wanted(sizes_cm=(110, 110)), {3, 10}),
        (Wanted(sizes_cm=(108, 118)), {3, 4, 10, 11}),
        (Wanted(("kites.jpg",), garment="t-shirt"), {3, 7, 11}),
        (Wanted(("no such",)), set()),
    ],
)
def test_search(full, wanted, numbers):
    found = find_entries(list_entries(full), wanted)
    assert {int(entry.name.split()[-1]) for entry in found} == numbers


def test_a_name_that_may_mean_several_lists_them(full):
    with pytest.raises(ArchiveError) as told:
        find_entry(full, "leggings")
    assert told.value.problem.count("Leggings no.") == 3
    assert find_entry(full, "leggings no. 4").name == "Leggings no. 4"
    assert find_entry(full, "Skirt no. 1, zoe, 98 cm").name == "Skirt no. 1"
    with pytest.raises(ArchiveError, match="There is no “poncho”"):
        find_entry(full, "poncho")


def test_a_folder_that_is_there_goes_before_a_name(full, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("Skirt no. 1").mkdir()
    assert open_pattern("Skirt no. 1", full).pattern.title == "Skirt no. 1"
    Path("Skirt no. 1", "pattern.json").write_bytes(sample(2))
    assert open_pattern("Skirt no. 1", full).pattern.title == "Shorts no. 2"
    with pytest.raises(ArchiveError, match="There is no “a"):
        open_pattern("a\x00b", full)


@pytest.mark.parametrize(
    ("text", "sizes"),
    [
        ("Mika, 110 cm", (110,)),
        ("104/110", (104, 110)),
        ("age 5, 66 months", ()),
        ("20 mm longer, 50 % wool, 2026", ()),
        ("size M", ()),
        ("98,5 cm", ()),
    ],
)
def test_heights_are_told_from_other_numbers(text, sizes):
    assert find_sizes(text) == sizes


def test_folders_put_there_by_hand_are_taken_whatever_they_are_called(drawer, ready, tmp_path):
    from outgrown.drawer.packing import pack, unpack

    put_in(drawer, ready)
    for name in ("My_Fish 夜", "nur so"):
        (drawer.patterns / name).mkdir()
        (drawer.patterns / name / "pattern.json").write_bytes(sample(3 + len(name)))
    by_id = {entry.id: entry for entry in list_entries(drawer)}
    assert {"My_Fish 夜", "nur so"} < set(by_id)
    pack(drawer, list_entries(drawer), tmp_path / "all.zip")
    assert len(unpack(Drawer(tmp_path / "other"), tmp_path / "all.zip").kept) == 3
    rename(drawer, by_id["nur so"], "con")
    assert open_pattern("con", drawer).name == "pattern"
    put_in_bin(drawer, by_id["My_Fish 夜"])
    (drawer.patterns / "nur so").rename(drawer.bin / "moved by hand")
    binned = {entry.id: entry for entry in list_entries(drawer, is_binned=True)}
    assert set(binned) == {"My_Fish 夜", "moved by hand"}
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d", entry.binned_on) for entry in binned.values())
    take_from_bin(drawer, binned["My_Fish 夜"])
    assert "My_Fish 夜" in {entry.id for entry in list_entries(drawer)}
