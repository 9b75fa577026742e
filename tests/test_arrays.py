from dataclasses import dataclass

import numpy as np
import pytest

from overlay.arrays import Array, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Noun:
    values: Array
    name: str = "n"

    def __post_init__(self) -> None:
        read_only(self)


def test_a_frozen_noun_cannot_be_written_into_and_the_caller_keeps_theirs() -> None:
    mine = np.zeros(3)
    noun = Noun(mine)
    with pytest.raises(ValueError, match="read-only"):
        noun.values[0] = 1.0
    mine[0] = 2.0
    assert mine.flags.writeable
    assert noun.values[0] == 2.0
