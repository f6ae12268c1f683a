"""One file to carry elsewhere; what comes back is taken for a stranger's."""

import io
import json
import stat
import zipfile
from dataclasses import replace

import pytest
from drawer import sample
from PIL import Image

from outgrown.drawer.keeping import note, prepare_pattern, put_in, put_in_bin, rename
from outgrown.drawer.listing import list_entries
from outgrown.drawer.opening import open_entry
from outgrown.drawer.packing import pack, unpack
from outgrown.drawer.place import Drawer
from outgrown.errors import ArchiveError, TargetError


def picture(form="PNG", side=900):
    made = io.BytesIO()
    Image.linear_gradient("L").resize((side, side)).convert("RGB").save(made, form)
    return made.getvalue()


@pytest.fixture(scope="module")
def ready():
    return [prepare_pattern(sample(0), picture()), prepare_pattern(sample(1))]


@pytest.fixture
def packed(tmp_path, ready):
    """Return a drawer of two patterns and the file they are packed in."""
    drawer = Drawer(tmp_path / "one")
    first = put_in(drawer, ready[0]).entry
    note(drawer, rename(drawer, first, "Fish 夜", "Bo"), "Loved")
    put_in(drawer, ready[1])
    pack(drawer, list_entries(drawer), tmp_path / "packed.zip")
    return drawer, tmp_path / "packed.zip"


@pytest.fixture
def other(tmp_path):
    return Drawer(tmp_path / "other")


def test_everything_comes_back_elsewhere(packed, other):
    drawer, file = packed
    done = unpack(other, file)
    assert [kept.is_new for kept in done.kept] == [True, True] and not done.refused
    there = list_entries(other)
    assert there == list_entries(drawer)
    for entry in there:
        assert open_entry(other, entry).pattern.title == entry.name
        for name in ("pattern.json", "drawing.png"):
            one, two = ((d.folder / entry.place / name).read_bytes() for d in (drawer, other))
            assert one == two
    with_photo = next(e for e in there if e.name == "Fish 夜")
    with Image.open(other.folder / with_photo.place / "photo.jpg") as photo:
        assert photo.size == (480, 480)


def test_the_same_patterns_give_the_same_file(packed, tmp_path):
    drawer, file = packed
    pack(drawer, list_entries(drawer), tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == file.read_bytes()
    with pytest.raises(TargetError, match="there already"):
        pack(drawer, list_entries(drawer), tmp_path / "again.zip")
    with zipfile.ZipFile(file) as seen:
        assert seen.testzip() is None
        assert sorted({name.split("/")[0] for name in seen.namelist()}) == ["drawer.json", "patterns"]


def test_nothing_is_brought_in_twice_and_nothing_written_over(packed):
    drawer, file = packed
    before = {p: p.read_bytes() for p in drawer.patterns.rglob("*") if p.is_file()}
    done = unpack(drawer, file)
    assert [kept.is_new for kept in done.kept] == [False, False]
    assert {p: p.read_bytes() for p in drawer.patterns.rglob("*") if p.is_file()} == before
    entries = {entry.name: entry for entry in list_entries(drawer)}
    rename(drawer, entries["Fish 夜"], "Mine now")
    put_in_bin(drawer, entries["Skirt no. 1"])
    done = unpack(drawer, file)
    assert all(kept.is_new for kept in done.kept)
    assert sorted(entry.name for entry in list_entries(drawer)) == ["Fish 夜", "Mine now", "Skirt no. 1"]
    ids = [e.id for is_binned in (False, True) for e in list_entries(drawer, is_binned=is_binned)]
    assert len(set(ids)) == 4


def rewritten(file, tmp_path, change):
    """Return a copy of the packed file whose members, name -> content, `change` alters."""
    with zipfile.ZipFile(file) as seen:
        members = {name: seen.read(name) for name in seen.namelist()}
    changed = change(members) or members
    copy = tmp_path / "changed.zip"
    with zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in changed.items():
            made.writestr(name, content)
    return copy


BAD_NAMES = [
    "../../evil.txt",
    "/etc/evil",
    "patterns/../../evil/pattern.json",
    "C:/evil.txt",
    "patterns\\evil",
    "patterns/a/../../../evil",
    "evil\x1b[2J",
]


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_name_that_leads_elsewhere_refuses_the_whole_file(packed, other, tmp_path, name):
    bad = rewritten(packed[1], tmp_path, lambda members: members | {name: b"x"})
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(ArchiveError, match="which no packed drawer holds"):
        unpack(other, bad)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_link_and_a_name_twice_refuse_the_whole_file(packed, other, tmp_path):
    with zipfile.ZipFile(packed[1]) as seen:
        name = next(n for n in seen.namelist() if n.endswith("pattern.json"))
    for info in (zipfile.ZipInfo("patterns/2026-01-01-link22/pattern.json"), zipfile.ZipInfo(name)):
        copy = tmp_path / "with.zip"
        copy.write_bytes(packed[1].read_bytes())
        info.external_attr = (stat.S_IFLNK | 0o777) << 16 if "link" in info.filename else 0
        with zipfile.ZipFile(copy, "a") as made:
            if "link" in info.filename:
                made.writestr(info, "/etc/passwd")
            else:
                with pytest.warns(UserWarning, match="Duplicate"):
                    made.writestr(info, b"{}")
        with pytest.raises(ArchiveError, match="which no packed drawer holds"):
            unpack(other, copy)
    assert not other.patterns.exists() or not list(other.patterns.iterdir())


def test_what_swells_is_not_unpacked_beyond_its_limit(packed, other, tmp_path):
    swollen = b'{"schema": "outgrown-pattern/2", "title": "' + b"a" * 60_000_000 + b'"}'
    bomb = rewritten(
        packed[1], tmp_path, lambda members: members | {"patterns/2026-01-01-bmbbmb/pattern.json": swollen}
    )
    assert bomb.stat().st_size < 500_000
    done = unpack(other, bomb)
    assert [ident for ident, _ in done.refused] == ["2026-01-01-bmbbmb"] and "more than 50000 kB" in done.refused[0][1]
    assert len(list_entries(other)) == 2
    content = bytearray(bomb.read_bytes())  # the same with a header that lies about the size
    place = content.find(b"PK\x01\x02")
    while place >= 0:
        if int.from_bytes(content[place + 24 : place + 28], "little") > 50_000_000:
            content[place + 24 : place + 28] = (1000).to_bytes(4, "little")
        place = content.find(b"PK\x01\x02", place + 4)
    bomb.write_bytes(content)
    assert len(unpack(other, bomb).refused) == 1


def test_one_pattern_that_cannot_be_read_is_refused_alone(packed, other, tmp_path):
    def change(members):
        names = sorted(n for n in members if n.endswith("pattern.json"))
        newer = json.loads(members[names[0]]) | {"schema": "outgrown-pattern/99"}
        return members | {names[0]: json.dumps(newer).encode()}

    done = unpack(other, rewritten(packed[1], tmp_path, change))
    assert len(done.kept) == len(done.refused) == 1
    assert "newer outgrown" in done.refused[0][1]
    assert len(list_entries(other)) == 1


def test_pictures_are_drawn_again_and_unknown_files_left_out(packed, other, tmp_path):
    def change(members):
        extra = {n.replace("pattern.json", "virus.exe"): b"MZ" for n in members if n.endswith("pattern.json")}
        return {n: (b"no picture" if n.endswith((".png", ".jpg")) else c) for n, c in members.items()} | extra

    done = unpack(other, rewritten(packed[1], tmp_path, change))
    assert len(done.kept) == 2
    names = {path.name for path in other.patterns.rglob("*") if path.is_file()}
    assert names == {"pattern.json", "entry.json", "notes.txt", "drawing.png"}
    for path in other.patterns.rglob("drawing.png"):
        Image.open(path).load()


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "no packed drawer"), (b"PK\x03\x04 cut short", "no packed drawer"), (b"\x89PNG", "no packed drawer")],
)
def test_what_is_no_zip_is_refused(other, tmp_path, content, words):
    (tmp_path / "x.zip").write_bytes(content)
    with pytest.raises(ArchiveError, match=words):
        unpack(other, tmp_path / "x.zip")
    with pytest.raises(ArchiveError, match="There is no"):
        unpack(other, tmp_path / "gone.zip")
    assert not other.folder.exists()


def test_a_file_cut_short_anywhere_brings_in_whole_patterns_or_none(packed, tmp_path):
    content = packed[1].read_bytes()
    for share in (0.3, 0.9, 0.999):
        (tmp_path / "cut.zip").write_bytes(content[: int(len(content) * share)])
        with pytest.raises(ArchiveError):
            unpack(Drawer(tmp_path / "cut"), tmp_path / "cut.zip")
        assert list_entries(Drawer(tmp_path / "cut")) == []


def test_a_flipped_byte_never_brings_in_anything_but_what_was_packed(packed, tmp_path):
    content = packed[1].read_bytes()
    whole = {entry.sha256 for entry in list_entries(packed[0])}
    for number, place in enumerate(range(40, len(content), len(content) // 12)):
        hurt = bytearray(content)
        hurt[place] ^= 0x55
        (tmp_path / "hurt.zip").write_bytes(hurt)
        into = Drawer(tmp_path / f"hurt{number}")
        try:
            unpack(into, tmp_path / "hurt.zip")
        except ArchiveError:
            assert list_entries(into) == []
        assert {entry.sha256 for entry in list_entries(into)} <= whole


@pytest.mark.parametrize(
    ("manifest", "words"),
    [
        (None, r"holds no drawer\.json"),
        (b"{}", "no packed drawer"),
        (b'{"schema": "outgrown-pack/2"}', "newer outgrown"),
        (b"[" * 9000, "no packed drawer"),
    ],
)
def test_the_manifest_is_read_first(packed, other, tmp_path, manifest, words):
    def change(members):
        rest = {n: c for n, c in members.items() if n != "drawer.json"}
        return rest if manifest is None else rest | {"drawer.json": manifest}

    with pytest.raises(ArchiveError, match=words):
        unpack(other, rewritten(packed[1], tmp_path, change))


def test_a_damaged_pattern_is_not_packed(packed, tmp_path):
    drawer, _ = packed
    (drawer.folder / list_entries(drawer)[0].place / "pattern.json").write_bytes(b"{")
    with pytest.raises(ArchiveError, match="cannot be packed"):
        pack(drawer, list_entries(drawer), tmp_path / "new.zip")
    assert not (tmp_path / "new.zip").exists()
    assert not list(tmp_path.glob(".outgrown-*"))


def test_a_check_picture_that_is_none_is_left_out(tmp_path):
    drawer = Drawer(tmp_path / "drawer")
    for content in (b"", b"\x89PNG\r\n\x1a\n", picture("GIF"), picture()[:400]):
        entry = put_in(drawer, replace(prepare_pattern(sample(2), content), name=f"{len(content)}")).entry
        assert not (drawer.folder / entry.place / "photo.jpg").exists()


def test_lines_that_cannot_be_drawn_are_refused_not_crashed_on():
    whole = json.loads(sample(0))
    (piece,) = whole["pieces"]
    far = [[1e308, -1e308], [0.0, 1e308], [1.0, 1.0]]
    for pieces in (
        [],
        [piece] * 300,
        [piece | {"edges": []}],
        [piece | {"cut_ring_mm": []}],
        [piece | {"cut_ring_mm": [[float("nan"), 0.0], [1.0, 1.0], [2.0, 0.0]]}],
        [piece | {"cut_ring_mm": [[float("inf"), 0.0], [1.0, 1.0], [2.0, 0.0]]}],
        [piece | {"cut_ring_mm": far}],
        [piece | {"grainline_mm": []}],
    ):
        content = json.dumps(whole | {"pieces": pieces}).encode()
        try:
            prepared = prepare_pattern(content)
        except ArchiveError as error:
            assert error.advice
        else:
            assert Image.open(io.BytesIO(prepared.drawing)).size[0] > 0
