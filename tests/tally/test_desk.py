"""Keys in and screen out, with stand-ins for keyboard and screen, so on any system: bandscan/tally/desk.py."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import create_pipe_input
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
