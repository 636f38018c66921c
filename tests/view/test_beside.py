"""The process beside the window: the newest files win, faults come as they are, cures are found."""

import io
import shutil
import sys
import time
from pathlib import Path

import pytest

import pathsim
from pathsim.cli.main import main
from pathsim.errors import CannotCheck, CellFaults
from pathsim.scene import Scene
from pathsim.view.beside import ENDED, LOOKING, Beside, of_module

SAMPLES = Path(__file__).parents[2] / "sample_cells"
CELL = "gate_hinge_no_retract"


@pytest.fixture
def folder(tmp_path):
    for name in ("shop", "shop_arm", "gate_hinge", CELL):
        shutil.copytree(SAMPLES / name, tmp_path / name)
    return tmp_path / CELL


@pytest.fixture
def beside(folder):
    process = Beside(of_module("pathsim.cli.beside_window", str(folder)))
    yield process
    process.close()


def waited(look, seconds=60):
    """Look again and again until there is something."""
    end = time.monotonic() + seconds
    while (found := look()) is None:
        assert time.monotonic() < end
        time.sleep(0.01)
    return found


def no_bar(_text, _share):
    pass


def test_of_files_saved_while_a_check_runs_only_the_newest_count(beside, folder):
    beside.ask()
    shares = []
    first = beside.first(lambda _text, share: shares.append(share))
    assert isinstance(first, Scene) and not first.result.is_clear
    assert shares and 0 <= min(shares) <= max(shares) <= 1
    path = folder / "cell.yaml"
    sound = path.read_text(encoding="utf-8")
    names = ["one", "two", "three"]
    start = time.perf_counter()
    for name in names:  # saved again while the check before runs
        path.write_text(sound.replace("name: ", f"name: {name} ", 1), encoding="utf-8")
        beside.ask()
        assert beside.take() is None and beside.is_running
    assert time.perf_counter() - start < 1.0  # asking waits for nothing
    found = waited(beside.take)
    assert isinstance(found, Scene) and found.result.cell.name.startswith("three")
    time.sleep(1.0)  # nor does an older one come after it
    assert beside.take() is None and not beside.is_running


def test_a_check_that_is_out_of_date_is_given_up():
    """Progress stops it at once; a cure that was looked for is looked for again afterwards."""
    from pathsim.cli.beside_window import Requests, Superseded
    from pathsim.view.messages import Check, FindCure

    requests = Requests()
    for request in (FindCure(1, 0), Check(1), FindCure(1, 2), Check(2)):
        requests.put(request)
    assert requests.next() == Check(2)
    requests.require_newest(2)
    requests.put(Check(3))
    with pytest.raises(Superseded):
        requests.require_newest(2)
    assert requests.next() == Check(3)
    assert requests.next() == FindCure(1, 2)  # the one that somebody looks at now
    requests.end()
    assert requests.next() is None
    with pytest.raises(Superseded):
        requests.require_newest(3)


def test_faults_come_as_they_are_and_the_cure_of_the_scene_before_is_still_found(beside, folder):
    beside.ask()
    before = beside.first(no_bar)
    path = folder / "cell.yaml"
    sound = path.read_text(encoding="utf-8")
    path.write_text(sound.replace("role: clamp", "role: clmp", 1), encoding="utf-8")
    beside.ask()
    found = waited(beside.take)
    assert isinstance(found, CellFaults)
    assert found.faults[0].line == 12 and "Did you mean 'clamp'?" in str(found)
    assert beside.cure(0) is LOOKING
    cure = waited(lambda: None if beside.cure(0) is LOOKING else beside.cure(0))
    assert cure.words[0] == "What cures it" and cure.ghost is not None
    ghost = cure.ghost
    # the proposal's way starts where the old one starts, and passes its new point
    assert len(ghost.points) == len(ghost.poses) == 1
    ends = [way[-1] for way in ghost.ways]
    assert min(abs(end - ghost.points[0].place).max() for end in ends) < 1e-6
    starts = {tuple(way[0].round(5)) for way in ghost.gone}
    assert starts & {tuple(way[0].round(5)) for way in ghost.ways}
    assert "touches" in ghost.before and "guaranteed" in ghost.after
    assert before.result.findings[0].text  # and the scene is the one that the window still shows


def test_a_cure_says_what_the_terminal_says_and_is_of_the_cell_that_is_shown(
    beside, folder, capsys
):
    def cure():
        return waited(lambda: None if beside.cure(1) is LOOKING else beside.cure(1))

    beside.ask()
    beside.first(no_bar)
    said = cure().words
    assert main(["explain", str(folder), "2"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert " ".join(said[:2]).replace(said[0], f"{said[0]} -") in printed
    assert all(" ".join(sentence.split()) in printed for sentence in said)
    shutil.copytree(SAMPLES / "deep_channel", folder, dirs_exist_ok=True)
    beside.ask()
    assert isinstance(waited(beside.take), Scene)
    assert beside.cure(0) is LOOKING  # what was found for the cell before is not of this one
    other = waited(lambda: None if beside.cure(0) is LOOKING else beside.cure(0))
    assert "no air point helps" in other.words[0] and other.ghost is None


def test_a_search_that_fails_says_so(monkeypatch):
    from pathsim.cli import beside_window as process
    from pathsim.view.messages import Check, FindCure, WriteCure, receive

    def broken(_evaluator, _number):
        raise RuntimeError("of this and that")

    monkeypatch.setattr(process, "advise_on", broken)
    answers = io.BytesIO()
    worker = process.BesideWindow(SAMPLES / CELL, answers)
    worker.do(Check(1))
    worker.do(FindCure(1, 0))
    worker.do(WriteCure(1, 0, SAMPLES / "never_written"))
    answers.seek(0)
    read = iter(lambda: receive(answers), None)
    cured, written = list(read)[-2:]
    assert cured.cure.words == ("The search for a cure ended early: of this and that",)
    assert not written.is_done and written.text == "Of this and that."
    assert not (SAMPLES / "never_written").exists()


def test_the_first_check_raises_what_is_wrong(tmp_path):
    beside = Beside(of_module("pathsim.cli.beside_window", str(tmp_path / "nowhere")))
    try:
        beside.ask()
        with pytest.raises(pathsim.errors.PathsimError, match="nowhere"):
            beside.first(no_bar)
    finally:
        beside.close()


def test_a_process_that_ends_early_is_said_and_started_again(tmp_path):
    mark = tmp_path / "started"
    code = (
        f"import pathlib, sys; p = pathlib.Path({str(mark)!r}); p.open('a').write('x'); sys.exit(9)"
    )
    beside = Beside([sys.executable, "-c", code])
    for count in (1, 2):
        beside.ask()
        found = waited(beside.take)
        assert isinstance(found, CannotCheck) and "ended early (exit code 9)" in str(found)
        assert len(mark.read_text()) >= count
    waited(lambda: True if beside.cure(0) is ENDED else None)
    beside.close()


def test_what_is_written_reads_back_and_checks(beside, folder):
    beside.ask()
    beside.first(no_bar)
    new = folder.with_name("cured")
    beside.write(0, new)
    written = waited(beside.written)
    assert written.is_done and written.text.startswith(f"Written to '{new}', read back the same")
    result = pathsim.check(pathsim.load_cell(new))
    before = pathsim.check(pathsim.load_cell(folder))
    assert len(result.findings) < len(before.findings)
    beside.write(0, new)  # a folder that is there is never written over
    refused = waited(beside.written)
    assert not refused.is_done and "exists already" in refused.text
    path = folder / "cell.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "\n# saved\n", encoding="utf-8")
    beside.ask()
    beside.write(0, folder.with_name("late"))  # of a check that is out of date by then
    assert waited(beside.written).text == "Nothing was written: the cell was saved meanwhile."
    assert not folder.with_name("late").exists()
