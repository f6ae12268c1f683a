"""`outgrown pattern` over many photos."""

import json
import os
import shutil
import signal
import threading
import time
from pathlib import Path

import pytest
from work_samples import work

from outgrown.cli import capacity, run, wardrobe
from outgrown.cli.making import FILES, Made
from outgrown.cli.photos import find_photos, name_folders
from outgrown.cli.workers import Outcome, run_jobs
from outgrown.errors import PhotoError

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
PATTERN = Path(__file__).resolve().parents[1] / "drawer" / "kept" / "schema-1.json"


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OUTGROWN_DRAWER", str(tmp_path / "drawer"))
    monkeypatch.setenv("OUTGROWN_DATA", str(tmp_path / "data"))
    return tmp_path


def test_real_photos_in_processes_of_their_own(here, capfd):
    shutil.copy(FIXTURES / "card.jpg", here / "card.jpg")
    Path("note.jpg").write_text("elastic, thread", encoding="utf-8")
    words = ["pattern", "*.jpg", "--out", "all", "--jobs", "1", "--keep"]
    assert run(words) == 2
    said = capfd.readouterr()
    row = next(line for line in said.out.splitlines() if line.startswith("card.jpg"))
    assert row.split()[1] == "leggings" and row.endswith(str(Path("all", "card")))
    assert "note.jpg" in said.out and "not a photo" in said.out
    assert said.err.splitlines() == [
        "1 of 2 photos gave no pattern. The table says why; the same command then makes only what is missing."
    ]
    assert sorted(p.name for p in Path("all").rglob("*")) == sorted(["card", *FILES])
    before = {p: p.stat().st_mtime_ns for p in Path("all").rglob("*")}
    Path("note.jpg").unlink()
    shutil.move("card.jpg", "renamed.jpg")
    shutil.move("all/card", "all/renamed")
    shutil.copy("renamed.jpg", "twice.jpg")
    shutil.copytree("all/renamed", "all/twice")
    assert run(words) == 0
    said = capfd.readouterr()
    assert said.out.count("made before") == 2
    assert {p.name: p.stat().st_mtime_ns for p in Path("all/renamed").iterdir()} == {
        p.name: at for p, at in before.items() if p.suffix
    }
    assert len(list(Path("drawer/patterns").iterdir())) == 1


class Bench:
    """Stands in for the workers and counts what is made."""

    def __init__(self, monkeypatch):
        self.made = []
        self.stop_after = None
        monkeypatch.setattr(wardrobe, "run_jobs", self.run_jobs)

    def run_jobs(self, _, jobs, count, progress, is_stopped):
        for index, (photo, options) in enumerate(jobs):
            if is_stopped():
                return
            progress(index, "measuring", 0.5)
            if b"bad" in photo.read_bytes():
                yield Outcome(index, None, PhotoError("It is bad.", "Take another."))
                continue
            self.made.append(photo.as_posix())
            document = json.loads(PATTERN.read_bytes())
            document["provenance"] |= {"made_from": options["made_from"], "taken": {"kind": "skirt", "laid": "other"}}
            content = json.dumps(document).encode()
            files = dict.fromkeys(FILES, b"some") | {"pattern.json": content}
            if len(self.made) == self.stop_after:
                signal.raise_signal(signal.SIGINT)
            yield Outcome(index, Made(files, (), "skirt", 1.25, ("! Look at the waist.",)), None)


@pytest.fixture
def bench(here, monkeypatch):
    for name in ("a/x.jpg", "b/x.jpg", "b/y.jpg", "b/z.png"):
        Path(name).parent.mkdir(exist_ok=True)
        Path(name).write_text(name, encoding="utf-8")
    return Bench(monkeypatch)


def test_each_photo_gets_a_folder_and_a_row(bench, capsys):
    Path("b/y.jpg").write_text("bad", encoding="utf-8")
    assert run(["pattern", "a/x.jpg", "b/*.jpg", "b/z.png", "--out", "all"]) == 2
    said = capsys.readouterr()
    assert sorted(p.name for p in Path("all").iterdir()) == ["a-x", "b-x", "z"]
    lines = said.out.splitlines()
    assert lines[0].split() == ["photo", "garment", "error", "pattern", "in,", "or", "what", "to", "do"]
    assert lines[1].split()[:4] == ["a/x.jpg", "skirt", "1.2", "mm"]
    assert "! It is bad. Take another." in lines[3]
    assert said.out.count("Look at the waist.") == 3
    assert "1 of 4 photos gave no pattern" in said.err


def test_it_goes_on_where_it_stopped(bench, capsys):
    words = ["pattern", "a/x.jpg", "b/x.jpg", "b/y.jpg", "b/z.png", "--out", "all"]
    before = signal.getsignal(signal.SIGINT)
    bench.stop_after = 2
    assert run(words) == 130
    assert "Stopped after 2 of 4 photos; what is written is whole." in capsys.readouterr().err
    assert sorted(p.name for p in Path("all").iterdir()) == ["a-x", "b-x"]
    bench.stop_after = None
    bench.made.clear()
    assert run(words) == 0
    assert bench.made == ["b/y.jpg", "b/z.png"]
    bench.made.clear()
    assert run(words) == 0 and bench.made == []
    assert run([*words, "--replace"]) == 0 and len(bench.made) == 4
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.parametrize("file", FILES)
def test_a_folder_that_is_not_whole_is_neither_passed_over_nor_written_over(bench, capsys, file):
    words = ["pattern", "a/x.jpg", "b/y.jpg", "--out", "all"]
    assert run(words) == 0
    Path("all/x", file).write_bytes(b"")
    bench.made.clear()
    assert run(words) == 2
    assert "another pattern. Say --replace" in capsys.readouterr().out
    assert bench.made == [] and Path("all/x", file).read_bytes() == b""


def test_other_choices_and_other_photos_are_told_apart(bench, capsys):
    words = ["pattern", "a/x.jpg", "b/y.jpg", "--out", "all"]
    assert run(words) == 0
    assert run([*words, "--hem", "raw"]) == 2
    assert capsys.readouterr().out.count("of this photo made with other choices") == 2
    Path("a/x.jpg").write_text("another photo", encoding="utf-8")
    bench.made.clear()
    assert run(words) == 2
    assert "“all/x” holds another pattern" in capsys.readouterr().out.replace("\\", "/")
    assert bench.made == []


def test_what_lies_in_the_way_stops_its_own_photo_only(bench, capsys):
    Path("all").mkdir()
    Path("all/y").write_text("mine", encoding="utf-8")
    assert run(["pattern", "a/x.jpg", "b/y.jpg", "--out", "all"]) == 2
    assert "is a file" in capsys.readouterr().out
    assert Path("all/y").read_text(encoding="utf-8") == "mine" and Path("all/x/pattern.json").exists()


def test_two_photos_are_told_how_one_pair_is_made_of_both(bench, capsys):
    assert run(["pattern", "a/x.jpg", "b/y.jpg"]) == 0
    assert "--back BACK.jpg" in capsys.readouterr().out
    assert Path("x/pattern.json").exists() and Path("y/pattern.json").exists()


@pytest.mark.parametrize(
    "words", [["--back", "b/z.png"], ["--garment", "5,5"], ["--floor-at", "5,5"], ["--reference-at", "5,5"]]
)
def test_what_belongs_to_one_photo_is_refused_with_several(bench, capsys, words):
    assert run(["pattern", "a/x.jpg", "b/y.jpg", *words]) == 2
    assert words[0] in capsys.readouterr().err
    assert bench.made == [] and not Path("x").exists()


def test_photos_are_named_once_and_patterns_of_names_expanded(here):
    for name in ("x.jpg", "y.jpg", "[z].jpg", "sub/w.jpg"):
        Path(name).parent.mkdir(exist_ok=True)
        Path(name).touch()
    found = [
        p.as_posix() for p in find_photos(["y.jpg", "?.jpg", "./y.jpg", "[z].jpg", "**/w.jpg", "no*.png", "gone.jpg"])
    ]
    assert found == ["y.jpg", "x.jpg", "[z].jpg", "sub/w.jpg", "no*.png", "gone.jpg"]
    assert find_photos(["a\x00*"]) == [Path("a\x00*")]


def test_a_pattern_of_names_that_nothing_is_called_like_is_said_to_be(here, capsys):
    assert run(["pattern", "no*.jpg"]) == 2
    assert "No photo is called like “no*.jpg”" in capsys.readouterr().err
    assert list(here.iterdir()) == []


@pytest.mark.parametrize(
    ("photos", "folders"),
    [
        (["x.jpg", "y.jpg"], ["x", "y"]),
        (["a/x.jpg", "b/x.jpg", "b/y.jpg"], ["a-x", "b-x", "y"]),
        (["a/x.jpg", "a/x.png"], ["x-jpg", "x-png"]),
        (["a/x.jpg", "a/X.jpg"], ["x", "X-2"]),
        (["a/x.jpg", "b/x.jpg", "a-x.jpg"], ["a-x", "b-x", "a-x-2"]),
        (["1/a/x.jpg", "2/a/x.jpg"], ["x", "x-2"]),
    ],
)
def test_no_two_photos_share_a_folder(here, photos, folders):
    assert name_folders([Path(photo) for photo in photos]) == folders


def outcomes(jobs, count=2, **more):
    told = []
    found = {}
    for outcome in run_jobs(work, jobs, count, lambda *words: told.append(words), **more):
        assert outcome.index not in found
        found[outcome.index] = outcome
    return found, told


@pytest.mark.skipif(os.name == "nt", reason="kills")
def test_a_process_that_crashes_fails_its_own_job_alone(capfd):
    large = 3_000_000
    jobs = [("double", 4), ("killed",), ("refuse",), ("exit",), ("fault",), ("memory",), ("double", 5)]
    jobs += [("large", large), ("threads",)]
    found, told = outcomes(jobs)
    assert [found[i].result for i in (0, 6)] == [8, 10] and len(found[7].result) == large
    assert "SIGKILL" in str(found[1].error) and "exit status 7" in str(found[3].error)
    assert "--jobs 1" in found[1].error.advice
    assert str(found[2].error) == "This was seen. Do that."
    assert "our fault" in str(found[4].error) and "memory" in str(found[5].error)
    log = Path(str(found[4].error).split()[-1].rstrip("."))
    assert "a fault of ours" in log.read_text(encoding="utf-8")
    log.unlink()
    assert found[8].result == ("1", 1, signal.SIG_IGN)
    assert (0, "doing double", 0.5) in told
    assert capfd.readouterr().err == ""


def test_a_wish_to_stop_ends_the_workers_at_once():
    stopped = threading.Event()
    start = time.monotonic()
    found, _ = {}, threading.Timer(1.0, stopped.set).start()
    for outcome in run_jobs(work, [("sleep", 60)] * 3, 2, lambda *_: None, stopped.is_set):
        found[outcome.index] = outcome
    assert found == {}
    assert time.monotonic() - start < 20
    import multiprocessing

    assert multiprocessing.active_children() == []


def test_as_many_processes_as_cores_memory_and_photos_allow(monkeypatch):
    monkeypatch.setattr(capacity, "_cores", lambda: 8)
    for free, photos, jobs in ((None, 3, 3), (None, 30, 8), (1_700_000_000, 30, 3), (10, 30, 1), (None, 1, 1)):
        monkeypatch.setattr(capacity, "available_bytes", lambda free=free: free)
        assert capacity.choose_jobs(photos) == jobs
    monkeypatch.undo()
    assert capacity.available_bytes() is None or capacity.available_bytes() > 10_000_000


def test_patterns_without_a_name_are_told_apart_in_the_drawer_by_their_photos(bench, capsys):
    words = ["pattern", "a/x.jpg", "b/y.jpg", "--out", "all", "--keep"]
    assert run(words) == 0 and run(words) == 0
    capsys.readouterr()
    assert run(["drawer", "list", "--json"]) == 0
    names = sorted(entry["name"] for entry in json.loads(capsys.readouterr().out)["patterns"])
    assert names == ["skirt, x", "skirt, y"]


def test_a_lens_learned_since_makes_the_pattern_another(bench, here, capsys):
    words = ["pattern", "a/x.jpg", "b/y.jpg", "--out", "all"]
    assert run(words) == 0
    (here / "data" / "lenses").mkdir(parents=True)
    (here / "data" / "lenses" / "pebble.json").write_text("{}", encoding="utf-8")
    assert run(words) == 2
    assert "made with other choices" in capsys.readouterr().out
    assert run([*words, "--lens", "none"]) == 2
