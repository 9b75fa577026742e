"""Pieces side by side in forks: the same answers in the same order, the same errors, and nothing left behind."""

import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable
from functools import partial

import pytest

from overlay.errors import InputError, input_error
from overlay.forks import answers

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="forks are used on Linux alone")


def nobody(_index: int) -> None:
    pass


def after(seconds: float, answer: int) -> tuple[int, int]:
    time.sleep(seconds)
    return answer, os.getpid()


def refuse(name: str) -> tuple[int, int]:
    raise input_error(name, None, "is odd", "mend it")


@pytest.mark.parametrize("workers", [1, 2, 9])
def test_answers_come_in_the_order_of_the_pieces(workers: int) -> None:
    pieces = [partial(after, 0.2, 0), partial(after, 0.0, 1), partial(after, 0.1, 2)]
    begun: list[int] = []
    found = answers(pieces, workers, begun.append)
    assert [item[0] for item in found if not isinstance(item, InputError)] == [0, 1, 2]
    assert begun == [0, 1, 2]
    processes = {item[1] for item in found if not isinstance(item, InputError)}
    assert processes == {os.getpid()} if workers == 1 else len(processes) == 3 and os.getpid() not in processes


@pytest.mark.parametrize("workers", [1, 2])
def test_wrong_input_is_told_beside_what_could_be_done(workers: int) -> None:
    one, two, three = answers([partial(refuse, "a"), partial(after, 0.0, 1), partial(refuse, "b")], workers, nobody)
    assert isinstance(one, InputError)
    assert isinstance(three, InputError)
    assert [str(error) for error in (one, three)] == ["a: is odd; mend it", "b: is odd; mend it"]
    assert not isinstance(two, InputError)


def only_here(home: int, how: Callable[[], object]) -> str:
    if os.getpid() != home:
        how()
    return "done again"


@pytest.mark.parametrize("how", [lambda: os.kill(os.getpid(), signal.SIGKILL), lambda: 1 // 0, sys.exit])
def test_a_piece_whose_fork_dies_is_done_again_here(how: Callable[[], object]) -> None:
    assert answers([partial(only_here, os.getpid(), how)] * 2, 2, nobody) == ["done again"] * 2


def test_a_fault_is_raised_here_as_the_piece_raises_it() -> None:
    with pytest.raises(ZeroDivisionError):
        answers([lambda: 1 // 0, lambda: 1], 2, nobody)


def test_shared_objects_come_back_as_themselves() -> None:
    board, other = ["a board"], ["something else"]
    found = answers([lambda: (board, other)] * 2, 2, nobody, same=(board,))
    for item in found:
        assert not isinstance(item, InputError)
        assert item[0] is board
        assert item[1] == other
        assert item[1] is not other


def test_an_interruption_ends_the_forks_at_once() -> None:
    def interrupt(index: int) -> None:
        if index == 2:
            raise KeyboardInterrupt

    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        answers([partial(after, 60.0, 0), partial(after, 0.2, 1), partial(after, 0.0, 2)], 2, interrupt)
    assert time.monotonic() - began < 30.0
    assert not multiprocessing.active_children()
