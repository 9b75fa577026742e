"""Parts that are not fitted: told by a column of their own or by words in any text."""

from pathlib import Path

import pytest

from overlay.board.model import BoardFiles
from overlay.board.placement.fitting import says_unfitted
from overlay.board.placement.read import read_placement
from overlay.board.read import read_board


@pytest.mark.parametrize(
    "text",
    ["DNP", "dnf", "10k DNP", "100n (DNM)", "10k_DNP", "N.C.", "NC", "N/C", "10k/NC", "not mounted", "Do not populate",
     "do-not-fit", "Nicht bestückt", "n.b.", "NOPOP", "NM", "NP", "unpopulated", "non monté", "未贴"],
)  # fmt: skip
def test_a_text_says_that_a_part_is_not_fitted(text: str) -> None:
    assert says_unfitted([text])


@pytest.mark.parametrize(
    "text", ["10 nF", "100nF", "SPST-NC", "NPN", "NC7SZ04", "DNI2305", "2N3904", "NTC", "3.3nH", "NCP1117", "PNP", ""]
)
def test_a_value_with_such_letters_says_nothing(text: str) -> None:
    assert not says_unfitted([text])


@pytest.mark.parametrize(
    ("heading", "there", "missing"),
    [("DNP", "", "x"), ("DNP", "No", "Yes"), ("Populate", "1", "0"), ("Fitted", "Fitted", "Not Fitted"),
     ("Bestückt", "ja", "nein"), ("Do not place", "", "DNP"), ("Stuff", "Y", "N")],
)  # fmt: skip
def test_a_column_of_its_own_says_it(heading: str, there: str, missing: str, tmp_path: Path) -> None:
    path = tmp_path / "placement.csv"
    path.write_text(f"Ref,X(mm),Y(mm),Rot,Side,{heading}\nR1,1,2,0,top,{there}\nR2,3,2,0,top,{missing}\n")
    placement, problems = read_placement(path, path.name)
    assert placement is not None
    assert not problems
    assert [(part.refdes, part.fitted) for part in placement.components] == [("R1", True), ("R2", False)]


@pytest.mark.parametrize("heading", ["Skip", "Place", "Mount"])
def test_who_places_a_part_says_nothing_of_whether_it_is_there(heading: str, tmp_path: Path) -> None:
    path = tmp_path / "placement.csv"
    path.write_text(f"Ref,X(mm),Y(mm),Rot,Side,{heading}\nR1,1,2,0,top,No\nR2,3,2,0,top,Yes\n")
    placement, _ = read_placement(path, path.name)
    assert placement is not None
    assert all(part.fitted for part in placement.components)


def test_a_part_that_is_not_fitted_is_listed_and_has_no_body(tmp_path: Path) -> None:
    (tmp_path / "placement.csv").write_text(
        "Ref,Value,Package,X(mm),Y(mm),Rot,Side\nR1,10k,R0603,1,2,0,top\nR2,N.C.,R0603,3,2,0,top\n"
    )
    board, _ = read_board(tmp_path, BoardFiles("placement.csv"))
    assert board is not None
    assert [part.refdes for part in board.components] == ["R1"]
    assert [(part.refdes, part.body, part.line) for part in board.unfitted] == [("R2", None, 3)]
