"""Reports as JSON: what a parser gets back, and how a person sees it."""

import json

import pytest

from overlay.report.html import details_script
from overlay.report.write import json_bytes

VALUES = {
    "name": '25 °C, "R1"\n',
    "none": None,
    "empty": {},
    "rows": [{"refdes": "R1", "peak_c": 1e-9, "ok": True}, {"refdes": "R2", "why": ["a", "b"], "xy": (1.0, 2)}, []],
    "matrix": [[1.0, 2.0], [3.0, 4.5]],
}


def test_what_is_written_is_what_is_read() -> None:
    assert json.loads(json_bytes(VALUES)) == json.loads(json.dumps(VALUES))


def test_a_row_of_plain_values_takes_one_line() -> None:
    lines = json_bytes(VALUES).decode().splitlines()
    assert '  {"refdes": "R1", "peak_c": 1e-09, "ok": true},' in lines
    assert ' "empty": {},' in lines
    assert "  [1.0, 2.0]," in lines
    assert lines[0] == "{"
    assert lines[-1] == "}"


def test_numbers_that_json_does_not_know_are_refused() -> None:
    for values in ({"a": float("nan")}, {"a": [[float("inf")]]}):
        with pytest.raises(ValueError, match="JSON"):
            json_bytes(values)


def test_what_no_reader_would_see_is_escaped_and_keeps_its_value() -> None:
    unseen = {"part": "R1\x1b[31m\u202eEVIL\udc80", "rows": [["\u2028", "\ufeff"]]}
    text = json_bytes(unseen).decode()
    assert json.loads(text) == unseen
    assert text.isascii()
    assert text.replace("\n", "").isprintable()


def test_the_page_shows_by_its_number_what_no_reader_would_see() -> None:
    detail = {"facts": ["part", "4R7\x1b[31m\u202eEVIL"], "budget": [], "why": ["<b>"]}
    script = details_script({"R1": detail})
    assert "4R7[U+001B][31m[U+202E]EVIL" in script
    assert "<b>" not in script
