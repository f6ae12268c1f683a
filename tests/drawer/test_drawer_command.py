"""`outgrown drawer` as a person runs it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from drawer import sample

from outgrown.cli import run
from outgrown.cli.tables import shorten, width_of, write_table


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OUTGROWN_DRAWER", str(tmp_path / "drawer"))
    for number in range(3):
        folder = tmp_path / f"made{number}"
        folder.mkdir()
        (folder / "pattern.json").write_bytes(sample(number))
    return tmp_path


@pytest.fixture
def outgrown(here, capsys):
    """Return a function that runs the command and returns (status, output, errors)."""

    def run_with(*words):
        status = run(list(words))
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        return status, said.out, said.err

    assert run_with("drawer", "keep", "made0", "made1", "made2")[0] == 0
    return run_with


def listed(outgrown, *words):
    status, out, _ = outgrown("drawer", *(words or ("list",)), "--json")
    assert status == 0
    document = json.loads(out)
    assert document["schema"] == "outgrown-drawer-list/1"
    return {entry["name"]: entry for entry in document["patterns"]}


def test_list_is_an_aligned_table_and_json_for_scripts(outgrown):
    status, out, _ = outgrown("drawer", "list")
    lines = out.splitlines()
    assert status == 0 and len(lines) == 4
    for word in ("for", "garment", "made", "ID"):
        column = lines[0].index(word)
        assert all(line[column - 2 : column].isspace() and not line[column].isspace() for line in lines[1:]), word
    entry = listed(outgrown)["Skirt no. 1"]
    assert entry["sizes_cm"] == [98] and entry["state"] == "good" and entry["garment"] == "skirt"
    assert Path("drawer", entry["place"], "pattern.json").read_bytes() == sample(1)


def test_find_show_rename_note(outgrown):
    assert set(listed(outgrown, "find", "--for", "zoe")) == {"Skirt no. 1"}
    assert set(listed(outgrown, "find", "--size", "90-100")) == {"Leggings no. 0", "Skirt no. 1"}
    assert "None of the 3 patterns" in outgrown("drawer", "find", "poncho")[1]
    assert outgrown("drawer", "rename", "skirt", "Twirl", "--for", "Bo, 104")[0] == 0
    assert outgrown("drawer", "note", "twirl", "pockets", "next time")[0] == 0
    out = outgrown("drawer", "show", "twirl")[1]
    for words in ("Twirl", "Bo, 104", "pockets next time", "kites.jpg", "To cut:"):
        assert words in out
    assert "found" not in outgrown("drawer", "show", "Twirl", "--json")[1]


def test_a_name_of_the_drawer_is_taken_wherever_a_pattern_is(outgrown, here):
    outgrown("drawer", "rename", "leggings", "Fish & chips")
    assert outgrown("grow", "fish", "--longer", "2cm")[0] == 0
    made = json.loads((here / "fish-chips-next" / "pattern.json").read_text(encoding="utf-8"))
    assert made["title"].startswith("Fish & chips")
    assert "There is no “poncho”" in outgrown("sewn", "gone.jpg", "poncho")[2]
    assert "There is no file “gone.jpg”" in outgrown("sewn", "gone.jpg", "fish")[2]  # so the pattern was found
    assert outgrown("drawer", "take", "fish", "--paper", "a3", "--out", "again")[0] == 0
    assert sorted(p.name for p in (here / "again").iterdir()) == ["pattern.json", "pattern.pdf", "pattern.svg"]
    assert "already holds" in outgrown("drawer", "take", "fish", "--out", "again")[2]
    assert "paper size" in outgrown("drawer", "take", "fish", "--paper", "a9", "--out", "new")[2]
    assert not (here / "new").exists()


def test_the_same_bytes_are_written_out_again(outgrown, here):
    from outgrown.drawer.archive import read_pattern_json
    from outgrown.steps import draw_pattern_files

    assert outgrown("drawer", "take", "skirt", "--out", "a")[0] == 0
    for name, content in draw_pattern_files(read_pattern_json(sample(1).decode())).items():
        assert (here / "a" / name).read_bytes() == content


def test_pack_bin_restore_unpack(outgrown, here):
    assert "Packed 3 patterns" in outgrown("drawer", "pack", "all.zip")[1]
    assert outgrown("drawer", "pack", "one.zip", "skirt")[0] == 0
    assert "there already" in outgrown("drawer", "pack", "one.zip")[2]
    assert outgrown("drawer", "bin", "skirt", "shorts")[0] == 0
    assert set(listed(outgrown)) == {"Leggings no. 0"}
    assert set(listed(outgrown, "list", "--binned")) == {"Skirt no. 1", "Shorts no. 2"}
    assert outgrown("drawer", "restore", "shorts")[0] == 0
    assert "Brought in 1 pattern; 2 there already." in outgrown("drawer", "unpack", "all.zip")[1]
    assert len(listed(outgrown)) == 3
    assert outgrown("drawer", "unpack", "made0/pattern.json")[0] == 2


def test_the_bin_is_emptied_only_when_said_so(outgrown):
    outgrown("drawer", "bin", "skirt")
    status, _, err = outgrown("drawer", "empty-bin")
    assert status == 2 and "--yes" in err
    assert "nothing to delete" in outgrown("drawer", "empty-bin", "--yes", "--older-than", "30")[1]
    assert set(listed(outgrown, "list", "--binned")) == {"Skirt no. 1"}
    assert "Deleted 1 pattern" in outgrown("drawer", "empty-bin", "--yes")[1]
    assert listed(outgrown, "list", "--binned") == {}


def test_damaged_and_newer_ones_stand_in_the_list_with_advice(outgrown, here):
    entries = listed(outgrown)
    Path("drawer", entries["Skirt no. 1"]["place"], "pattern.json").write_bytes(b"{")
    newer = Path("drawer", entries["Shorts no. 2"]["place"], "pattern.json")
    newer.write_text(newer.read_text(encoding="utf-8").replace("outgrown-pattern/1", "outgrown-pattern/99"), "utf-8")
    status, out, _ = outgrown("drawer", "list")
    assert status == 0 and "(damaged)" in out and "(newer)" in out and "Kept by a newer outgrown" in out
    assert outgrown("drawer", "show", "skirt")[0] == 0
    status, _, err = outgrown("grow", "shorts", "--longer", "2cm")
    assert status == 2 and "newer" in err
    status, out, err = outgrown("drawer", "check")
    assert status == 2 and out.count("!") == 2
    assert "Left out" in outgrown("drawer", "pack", "all.zip")[1]


def test_check_finds_a_byte_that_changed(outgrown):
    assert outgrown("drawer", "check")[0] == 0
    path = Path("drawer", listed(outgrown)["Skirt no. 1"]["place"], "pattern.json")
    content = path.read_text(encoding="utf-8")
    path.write_text(content.replace('"quantity": 2', '"quantity": 3', 1), encoding="utf-8")
    status, out, _ = outgrown("drawer", "check")
    assert status == 2 and "no longer the one that was kept" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("keep", "nowhere"), "There is no “nowhere”"),
        (("keep", "."), "holds no pattern.json"),
        (("keep", "--drawer", "made0", "made1"), "no drawer"),
        (("show", "o. "), "may mean"),
        (("show", ""), "No name was given"),
        (("rename", "skirt", " "), "empty"),
        (("find",), "Say what to look for"),
        (("find", "--since", "spring"), "not a date"),
        (("find", "--size", "big"), "not a body height"),
        (("restore", "skirt"), "in the bin"),
        (("unpack", "nowhere.zip"), "There is no"),
        (("pack", "nowhere/all.zip"), "cannot write"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_sentence(outgrown, here, words, said):
    before = sorted(here.rglob("*"))
    status, out, err = outgrown("drawer", *words)
    assert status == 2 and said in err and len(err.strip().splitlines()) == 1, err
    assert out == ""
    assert sorted(here.rglob("*")) == before


def test_the_list_loads_no_library_of_vision(here):
    seen = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "outgrown", "drawer", "list"],
        env={"PYTHONPATH": sys.path[0] and ":".join(sys.path), "OUTGROWN_DRAWER": str(here / "none")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "is empty" in seen.stdout
    for library in ("cv2", "numpy", "skimage", "shapely"):
        assert f" {library}\n" not in seen.stderr


def test_tables_are_aligned_in_any_script():
    lines = write_table(("name", "n"), [("夜の魚", "1"), ("Zoë", "22"), ("e\u0301", "3")], right=(1,), indent="  ")
    assert {width_of(line) for line in lines} == {2 + 6 + 2 + 2}
    assert shorten("夜の魚夜の魚", 7) == "夜の魚…" and shorten("short", 7) == "short"


def test_a_grown_pattern_is_kept_too(outgrown):
    status, out, _ = outgrown("grow", "leggings", "--height-then", "92cm", "--height-now", "98cm", "--keep")
    assert status == 0 and "Kept “" in out
    assert list(listed(outgrown, "find", "--size", "98", "--garment", "leggings")) == ["Leggings no. 0"]
    assert "may mean" in outgrown("drawer", "show", "Leggings no. 0")[2]
    for words, whom in (("leggings 98", "Mika, 98 cm"), ("leggings no. 0, mika, 92 cm", "Mika, 92 cm")):
        assert f"for      {whom}" in outgrown("drawer", "show", words)[1]


def test_what_a_stranger_wrote_gives_the_terminal_no_orders(outgrown, here):
    place = here / "stranger"
    place.mkdir()
    text = (
        sample(5)
        .decode("utf-8")
        .replace("Skirt no. 5", "Evil \\u001b[2J\\u202e skirt")
        .replace('"elastic"', '"el\\u001b]0;"')
    )
    (place / "pattern.json").write_text(text, encoding="utf-8")
    assert outgrown("drawer", "keep", "stranger", "--note", "a\x1b[31mb")[0] == 0
    for words in (("list",), ("show", "evil"), ("note", "evil", "c\x1bd"), ("bin", "evil")):
        status, out, _ = outgrown("drawer", *words)
        assert status == 0 and "vil" in out
        assert not set(out) & {"\x1b", "\u202e"}
