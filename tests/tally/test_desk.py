"""Keys in and screen out, with stand-ins for keyboard and screen, so on any system: bandscan/tally/desk.py."""

from __future__ import annotations

import os
import signal
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput
from tally.bench import KNOWN, NOW, ready

from bandscan.errors import InputError
from bandscan.tally import Desk, Kept, State, desk, read_state


class Window(DummyOutput):
    """A screen of a given size."""

    def __init__(self, columns: int = 80, rows: int = 24) -> None:
        self.size = Size(rows=rows, columns=columns)

    def get_size(self) -> Size:
        """As the library asks for it."""
        return self.size


def run(path: Path, keys: str, window: Window | None = None, state: State | None = None) -> State:
    """One tally to its end, with keys as a terminal sends them."""
    with create_pipe_input() as pipe:
        pipe.send_text(keys)
        return Desk(state or ready(), KNOWN, Kept(path), lambda: NOW).run(pipe, window or Window())


def test_keys_reach_the_sheet_and_the_end_is_an_end(tmp_path: Path) -> None:
    """Ticks, a typed reading with Enter, then Q twice: the file holds what the state holds."""
    state = run(tmp_path / "s.csv", "39d96.5\r qq")
    assert state.over
    assert [(stop.grade, stop.dial) for stop in state.stops] == [("3", ""), ("3", "96.5"), ("2", "")]
    assert read_state((tmp_path / "s.csv").read_text(), "s.csv").stops == state.stops


def test_keys_with_codes_are_known(tmp_path: Path) -> None:
    """Arrows, both codes of Enter and of Backspace, Tab: as terminals send them."""
    state = run(tmp_path / "s.csv", "e3\x1b[C\x1b[C3aKreuz\t\r\r\n\x7f\x08qq")
    assert [stop.name for stop in state.stops] == ["", "91.3"]


def test_escape_alone_leaves_what_is_typed(tmp_path: Path) -> None:
    """The key itself is told from the beginning of an arrow's code by the pause behind it."""
    one = Desk(ready(), KNOWN, Kept(tmp_path / "s.csv"), lambda: NOW)

    def go_on() -> None:
        wait_until(lambda: one.state.entry is not None)
        wait_until(lambda: one.state.entry is None)
        pipe.send_text("3qq")

    with create_pipe_input() as pipe:
        pipe.send_text("3d96\x1b")
        threading.Thread(target=go_on).start()
        state = one.run(pipe, Window())
    assert [(stop.grade, stop.dial) for stop in state.stops] == [("3", ""), ("3", "")]


def test_what_is_pasted_is_text_and_no_keys(tmp_path: Path) -> None:
    """A paste into the sweep ticks nothing; into a remark it is the remark, without what steers a terminal."""
    state = run(tmp_path / "s.csv", "3\x1b[200~333 uuu qq\x1b[201~t\x1b[200~50 Hz\x1b]0;x\x07\nhum\x1b[201~\rqq")
    assert [(stop.grade, stop.remark) for stop in state.stops] == [("3", "50 Hz]0;xhum")]


def test_keys_of_no_use_are_passed_over(tmp_path: Path) -> None:
    """Function keys, control keys and pages change nothing."""
    assert len(run(tmp_path / "s.csv", "3\x1bOP\x1b[5~\x01\x00\x1b[15~qq").stops) == 1


def test_in_a_small_window_keys_wait(tmp_path: Path) -> None:
    """What cannot be seen is not noted; CTRL-C still leaves, and no file was made."""
    with pytest.raises(KeyboardInterrupt):
        run(tmp_path / "s.csv", "333qq\x03", Window(79, 24))
    assert not (tmp_path / "s.csv").exists()


def test_ctrl_c_leaves_and_all_is_kept(tmp_path: Path) -> None:
    """Also in the middle of a word, which is there again when the sheet is opened."""
    with pytest.raises(KeyboardInterrupt):
        run(tmp_path / "s.csv", "39d96\x03")
    state = read_state((tmp_path / "s.csv").read_text(), "s.csv")
    assert len(state.stops) == 2
    assert state.entry is not None
    assert (state.entry.what, state.entry.text) == ("dial", "96")


def test_a_terminal_that_is_gone_is_left_as_by_ctrl_c(tmp_path: Path) -> None:
    """The line was cut: no traceback, and all is kept."""
    with create_pipe_input() as pipe:
        one = Desk(ready(), KNOWN, Kept(tmp_path / "s.csv"), lambda: NOW)
        pipe.send_text("39")
        cut = threading.Timer(0.4, pipe.close)
        cut.start()
        with pytest.raises(KeyboardInterrupt):
            one.run(pipe, Window())
        # the library closes what is still open: not while the other thread is about to note that it has closed it
        cut.join()
    assert len(read_state((tmp_path / "s.csv").read_text(), "s.csv").stops) == 2


def test_a_defect_ends_it_and_is_not_swallowed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What no one foresaw comes out of the call, after the terminal was put right."""

    def broken(*_: object) -> State:
        raise ZeroDivisionError("a defect")

    monkeypatch.setattr(desk, "press", broken)
    with pytest.raises(ZeroDivisionError, match="a defect"):
        run(tmp_path / "s.csv", "3")


def shown(one: Desk) -> str:
    """What stands on the screen."""
    return " ".join(text for _, text, *_ in one._shown(Window()))


def wait_until(so: Callable[[], bool]) -> None:
    """Until it is so, or for ten seconds: a busy machine takes its time, and what follows then says what is missing."""
    deadline = time.monotonic() + 10.0
    while not so() and time.monotonic() < deadline:
        time.sleep(0.02)


def test_a_sheet_that_cannot_be_saved_is_said_and_tried_again(tmp_path: Path) -> None:
    """The tally does not end unsaved; once the fault is mended the next key saves all of it."""
    folder = tmp_path / "gone"
    folder.write_text("a file in the place of the folder")
    one = Desk(ready(), KNOWN, Kept(folder / "s.csv"), lambda: NOW)
    seen = []

    def mend() -> None:
        wait_until(lambda: "NOT SAVED: " in shown(one))
        seen.append(shown(one))
        folder.unlink()
        pipe.send_text("nqq")

    with create_pipe_input() as pipe:
        pipe.send_text("39qq")
        threading.Timer(0.5, mend).start()
        state = one.run(pipe, Window())
    assert "NOT SAVED: " in seen[0]
    assert "cannot be written" in seen[0]
    assert len(read_state((folder / "s.csv").read_text(), "s.csv").stops) == len(state.stops) == 2


def test_leaving_unsaved_is_an_error(tmp_path: Path) -> None:
    """CTRL-C leaves even then, and the command does not say that all is kept."""
    (tmp_path / "gone").write_text("a file in the place of the folder")
    with pytest.raises(InputError, match="cannot be written"):
        run(tmp_path / "gone" / "s.csv", "39\x03")


@pytest.fixture
def fault(tmp_path: Path) -> Path:
    """A file in the place of the sheet's folder; removed, saving works."""
    folder = tmp_path / "gone"
    folder.write_text("a file in the place of the folder")
    return folder


@pytest.fixture
def spare(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The temp folder of the process."""
    folder = tmp_path / "temp"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def unsaved(fault: Path, then: Callable[[Desk, PipeInput], None], window: Window | None = None) -> None:
    """A tally of two rows that were not saved, and what is done once it has said so; its end is that of the call."""
    one = Desk(ready(), KNOWN, Kept(fault / "s.csv"), lambda: NOW)

    def go_on() -> None:
        wait_until(lambda: "NOT SAVED: " in shown(one) and len(one.state.stops) == 2)
        then(one, pipe)

    with create_pipe_input() as pipe:
        pipe.send_text("39")
        threading.Thread(target=go_on).start()
        one.run(pipe, window or Window())


def leave(_: Desk, pipe: PipeInput) -> None:
    """CTRL-C."""
    pipe.send_text("\x03")


def test_room_that_was_made_before_the_end_is_used(fault: Path, spare: Path) -> None:
    """CTRL-C after the fault was mended: all is in the sheet, as the command then says."""

    def mend(one: Desk, pipe: PipeInput) -> None:
        fault.unlink()
        leave(one, pipe)

    with pytest.raises(KeyboardInterrupt):
        unsaved(fault, mend)
    assert len(read_state((fault / "s.csv").read_text(), "s.csv").stops) == 2
    assert not list(spare.iterdir())


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="a line that can be hung up")
def test_a_hang_up_loses_no_row_that_can_be_saved(fault: Path) -> None:
    """Told twice, as a shell and the system do: it ends with the signal's status, and the sheet holds all of it."""

    def hang_up(*_: object) -> None:
        fault.unlink()
        for _ in range(2):
            os.kill(os.getpid(), signal.SIGHUP)

    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)  # the second may come after the end
    try:
        with pytest.raises(SystemExit) as left:
            unsaved(fault, hang_up)
    finally:
        signal.signal(signal.SIGHUP, before)
    assert left.value.code == 128 + signal.SIGHUP
    assert len(read_state((fault / "s.csv").read_text(), "s.csv").stops) == 2


def test_what_could_not_be_saved_is_in_the_temp_folder_and_said_to_be(fault: Path, spare: Path) -> None:
    """One line: how many rows, why, and in which file they are."""
    with pytest.raises(InputError) as left:
        unsaved(fault, leave)
    (path,) = spare.iterdir()
    assert str(left.value).startswith(f"{fault / 's.csv'}: cannot be written: ")
    assert str(left.value).endswith(f"; 2 rows are not in it; the whole sheet is in {path}: put that in its place")
    assert len(read_state(path.read_text(), "s.csv").stops) == 2


def test_only_rows_that_the_sheet_lacks_are_counted(tmp_path: Path, spare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of three rows the first was saved and then changed, or saved and left alone; or no row is missing at all."""
    save, texts = Kept.save, []

    def once(kept: Kept, text: str) -> bool:
        texts.append(text)
        if len(texts) > 1:
            raise InputError("cannot be written: no", where=kept.path, do="wait")
        return save(kept, text)

    monkeypatch.setattr(Kept, "save", once)
    cases = [
        ("333", "2 rows are"),
        ("3l33", "3 rows are"),
        ("33", "1 row is"),
        ("3n", "the last keys are"),
        ("3u", "the last keys are"),
    ]
    for keys, said in cases:
        texts.clear()
        with pytest.raises(InputError, match=f"cannot be written: no; {said} not in it; the whole sheet is in "):
            run(tmp_path / f"{keys}.csv", f"{keys}\x03")


def test_where_the_temp_folder_fails_too_the_loss_is_said(fault: Path, spare: Path) -> None:
    """Nothing is claimed that is not so."""
    spare.rmdir()
    said = r"2 rows are not in it; nor could it be put into the temp folder \(No such file.*: that is lost"
    with pytest.raises(InputError, match=said):
        unsaved(fault, leave)


def test_a_defect_says_what_was_not_saved_too(fault: Path, spare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The defect is what is raised, and bears the line."""

    def broken(*_: object) -> State:
        raise ZeroDivisionError("a defect")

    def break_it(_: Desk, pipe: PipeInput) -> None:
        monkeypatch.setattr(desk, "press", broken)
        pipe.send_text("3")

    with pytest.raises(ZeroDivisionError, match="a defect") as left:
        unsaved(fault, break_it)
    (path,) = spare.iterdir()
    assert f"2 rows are not in it; the whole sheet is in {path}" in left.value.__notes__[0]


def test_a_key_in_a_small_window_saves_what_is_not_saved(fault: Path) -> None:
    """It notes nothing, but it is the key that was asked for."""
    window, seen = Window(), []

    def mend(one: Desk, pipe: PipeInput) -> None:
        window.size = Size(rows=10, columns=40)
        fault.unlink()
        pipe.send_text("3")
        wait_until((fault / "s.csv").is_file)
        seen.append((fault / "s.csv").is_file())
        leave(one, pipe)

    with pytest.raises(KeyboardInterrupt):
        unsaved(fault, mend, window)
    assert seen == [True]
    assert len(read_state((fault / "s.csv").read_text(), "s.csv").stops) == 2


def test_a_sheet_that_somebody_changed_is_not_written_over(tmp_path: Path) -> None:
    """The tally says so and goes on in a file beside it that holds all of it."""
    one = Desk(ready(), KNOWN, Kept(tmp_path / "s.csv"), lambda: NOW)
    seen = []

    def meddle() -> None:
        wait_until((tmp_path / "s.csv").is_file)
        (tmp_path / "s.csv").write_text("a spreadsheet's\n")
        pipe.send_text("2")

    def look() -> None:
        wait_until(lambda: "changed by another program" in shown(one))
        seen.append(shown(one))
        pipe.send_text("qq")

    with create_pipe_input() as pipe:
        pipe.send_text("3")
        threading.Timer(0.4, meddle).start()
        threading.Timer(0.8, look).start()
        one.run(pipe, Window())
    assert "changed by another program" in seen[0]
    assert "s-2.csv" in seen[0]
    assert (tmp_path / "s.csv").read_text() == "a spreadsheet's\n"
    assert [stop.grade for stop in read_state((tmp_path / "s-2.csv").read_text(), "s-2.csv").stops] == ["3", "2"]
