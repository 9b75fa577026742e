"""Reports as JSON: what a parser gets back, and how a person sees it."""

import json

import pytest

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
