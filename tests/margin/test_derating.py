from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import InputError
from overlay.margin.derating import PUBLISHED, Policy, load_line, read_policy

HERE = Path()


def policy(name: str) -> Policy:
    found = read_policy(name, HERE)
    assert found is not None
    return found


@pytest.mark.parametrize("name", PUBLISHED)
def test_every_published_policy_is_read_and_each_rule_says_where_it_stands(name: str) -> None:
    found = policy(name)
    assert found.name == name
    assert found.rules
    assert all(rule.clause for rule in found.rules)


@pytest.mark.parametrize("name", ["mil std 975m", "MIL_STD_975M", "navsea-sd-18-protected", "ECSS Q-ST-30-11C"])
def test_names_are_matched_without_regard_to_case_and_hyphens(name: str) -> None:
    assert policy(name).rules


def test_none_is_no_policy() -> None:
    assert read_policy("none", HERE) is None


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(InputError, match=r"MIL-STD-975M, .*nearest is 'MIL-STD-975M'"):
        read_policy("MIL-STD-975", HERE)


def test_forms_give_their_temperatures(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(
        "kind;form;value;offset_k;clause\n"
        "ic;abs;100;;house rule 1\n"
        "diode;offset;25,5;;\n"
        "inductor;fraction;0,75;;\n"
        "transistor;min;110;40;\n"
        "relay;not-allowed;;;\n"
    )
    own = read_policy("own.csv", tmp_path)
    assert own is not None
    allowed = {rule.kind: rule.allowed_c(145.0) for rule in own.rules}
    assert allowed == {"ic": 100.0, "diode": 119.5, "inductor": 108.75, "transistor": 105.0, "relay": None}


def test_the_first_rule_that_covers_the_rating_is_taken() -> None:
    found = policy("MIL-STD-975M")
    by_class = found.temperature_rule("inductor", 105.0)
    custom = found.temperature_rule("inductor", 120.0)
    assert by_class is not None
    assert custom is not None
    assert by_class.allowed_c(105.0) == 85.0
    assert custom.allowed_c(120.0) == 90.0
    assert found.temperature_rule("inductor", 180.0) is None
    assert found.temperature_rule("connector", 105.0) is not None
    assert found.temperature_rule("battery", 60.0) is None


def test_every_row_of_a_policy_of_ones_own_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text(
        "kind,form,value,points\n"
        "rezistor,abs,100,\n"
        "ic,absolute,100,\n"
        "ic,abs,,\n"
        "resistor,load,,118:0 70:0.6\n"
        "diode,fraction,1.5,\n"
    )
    with pytest.raises(InputError) as caught:
        read_policy("own.csv", tmp_path)
    assert [problem.line for problem in caught.value.problems] == [2, 3, 4, 5, 6]
    with pytest.raises(InputError, match="no such file"):
        read_policy("other.csv", tmp_path)
    (tmp_path / "empty.csv").write_text("kind,form,value\n")
    with pytest.raises(InputError, match="holds no rule"):
        read_policy("empty.csv", tmp_path)


@given(st.floats(-50.0, 300.0), st.floats(0.01, 50.0))
def test_a_derating_line_never_rises(temperature_c: float, more: float) -> None:
    points = ((70.0, 0.6), (118.0, 0.0))
    assert 0.0 <= load_line(temperature_c + more, points) <= load_line(temperature_c, points) <= 0.6


@given(st.binary(max_size=200))
def test_any_bytes_as_a_policy_give_rules_or_an_input_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    folder = tmp_path_factory.getbasetemp()
    (folder / "any.csv").write_bytes(b"kind,form,value,points\n" + data)
    try:
        read_policy("any.csv", folder)
    except InputError as error:
        assert error.problems
