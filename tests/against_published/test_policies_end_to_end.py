"""Published derating policies from ``job.toml`` to ``results.json``: every line through the command `map`.

MIL-STD-975M (NASA), 5 August 1994, Appendix A, pp. A.4 to A.33 (open transcription); ECSS-Q-ST-30-11C Rev.2,
Tables 6-10 and 6-17 (quoted verbatim in a public repository).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from overlay_cli import main as command_line

DEMO = Path(__file__).parents[2] / "demo_board"


def mapped(folder: Path, policy: str, rows: str, monkeypatch: pytest.MonkeyPatch) -> dict[str, dict[str, Any]]:
    """Each part's worst case of the demonstration's loaded top side, under a policy and with other ratings."""
    job = folder / "job"
    shutil.copytree(DEMO, job, ignore=shutil.ignore_patterns("simulation", "revision_c", "warm_up", "truth.json"))
    text = (job / "job.toml").read_text(encoding="utf-8")
    head, *captures = text.split("[[capture]]")
    loaded = next(capture for capture in captures if 'name = "full load"' in capture)
    head = head.replace('derating = "none"', f'derating = "{policy}"')
    (job / "job.toml").write_text(f"{head}[[capture]]{loaded}", encoding="utf-8")
    (job / "parts.csv").write_text(rows, encoding="utf-8")
    arguments = ["board-overlay", "map", str(job), "--out", str(folder / "out")]
    monkeypatch.setattr("sys.argv", arguments)
    with pytest.raises(SystemExit) as caught:
        command_line.main()
    assert caught.value.code == 0
    found = json.loads((folder / "out" / "results.json").read_text(encoding="utf-8"))
    return {part["refdes"]: part["worst"] for part in found["components"]}


HEAD = "refdes,kind,limit_c,limit_at,psi_jt_k_per_w,power_w,rated_power_w,derates_by\n"


def test_mil_std_975m_from_the_job_to_the_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = HEAD + (
        "R17,resistor,155,surface,,0.336,0.5,\n"  # p. A.24: 0.60 to 70 °C, over the air of 60 °C
        "R31,resistor,155,surface,,0.265,0.33,surface\n"  # far beyond the line's end at 118 °C, where it is drawn so
        '"C4-C22",capacitor,125,surface,,,,\n'  # p. A.4: 110 °C
        "L1,inductor,125,surface,,,,\n"  # p. A.14: 105 °C for that class, 10 K inside
        "U1,ic,150,junction,9,0.182,,\n"  # p. A.16: junction 100 °C
        "U5,regulator,150,surface,,,,\n"  # the same ceiling, and no way to the junction
        "D3,diode,150,junction,18,0.29,,\n"  # p. A.10: junction 125 °C
        "Q1,transistor,175,junction,3,0.327,,\n"  # p. A.33: junction 125 °C
        "J1,connector,105,surface,,,,\n"  # p. A.6: 50 K below the insert's rating
        "TH1,thermistor,150,surface,,,,\n"  # p. A.29: 100 °C
        "F1,fuse,125,surface,,,,\n"  # no rule by temperature for fuses in App. A as transcribed
    )
    worst = mapped(tmp_path, "MIL-STD-975M", rows, monkeypatch)
    limits = {name: worst[name]["limit_c"] for name in ("C5", "L1", "J1", "TH1")}
    assert limits == {"C5": 110.0, "L1": 95.0, "J1": 55.0, "TH1": 100.0}
    assert worst["U1"]["limit_c"] == pytest.approx(100.0 - 9 * 0.182)
    assert worst["D3"]["limit_c"] == pytest.approx(125.0 - 18 * 0.29)
    assert worst["Q1"]["limit_c"] == pytest.approx(125.0 - 3 * 0.327)
    assert worst["J1"]["verdict"] == "over"  # even the air is hotter than 55 °C
    assert (worst["U5"]["verdict"], worst["U5"]["limit_c"]) == ("over", 100.0)  # its surface alone is hotter
    assert worst["R17"]["load_ratio"] == pytest.approx(0.336 / (0.60 * 0.5), abs=1e-4)
    assert worst["R17"]["verdict"] == "over"
    assert (worst["R31"]["verdict"], worst["R31"]["load_ratio"]) == ("over", None)
    assert worst["F1"]["verdict"] == "unrated"
    assert any("has no rule for this kind" in text for text in worst["F1"]["why"])
    assert "App. A, p. A.14" in worst["L1"]["limit_source"]


def test_ecss_connector_and_fuse_from_the_job_to_the_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = HEAD + "J1,connector,105,surface,,,,\nF1,fuse,125,surface,,0.4,1.0,surface\nU1,ic,125,surface,,,,\n"
    worst = mapped(tmp_path, "ECSS-Q-ST-30-11C", rows, monkeypatch)
    assert worst["J1"]["limit_c"] == 75.0  # Table 6-10: 30 K below its rating
    assert worst["F1"]["limit_c"] == 110.0  # Table 6-17: nothing above
    case_c = worst["F1"]["surface_c"]
    share = 0.65 if case_c <= 85.0 else 0.65 - (case_c - 85.0) / 25.0 * 0.15
    assert worst["F1"]["load_ratio"] == pytest.approx(0.4 / share, abs=1e-3)
    assert worst["U1"]["verdict"] == "unrated"
