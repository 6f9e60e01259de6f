"""Commands `sun` and `table`: output and refusals. Units: deg, m, Pa, degC, bytes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from sunhob.cli_sun import sun_command, table_app
from sunhob.errors import UserError
from typer.testing import CliRunner, Result

app = typer.Typer()
app.command("sun")(sun_command)
app.add_typer(table_app, name="table")
HEAD = "at_utc,latitude_deg,longitude_deg,altitude_m,pressure_pa,temp_c\n"


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words))


def refused(*words: str) -> str:
    error = run(*words).exception
    assert isinstance(error, UserError)
    assert "\n" not in str(error)
    return str(error)


def test_one_case_as_json() -> None:
    text = run(
        "sun", "--lat", "-1.2864", "--lon", "36.8172", "--at", "2025-09-26T12:24:00+03:00", "--json"
    ).stdout
    answer = json.loads(text)
    case = answer["cases"][0]
    assert case["at"] == "2025-09-26T09:24:00Z"
    assert case["board"]["elevation_deg"] == pytest.approx(89.873, abs=0.001)
    assert case["spa"]["azimuth_deg"] == pytest.approx(177.81, abs=0.05)
    assert case["separation_deg"] == answer["worst_separation_deg"] < 0.001
    assert answer["engine"] == "cpython"


def test_plain_output_names_the_worst() -> None:
    assert "worst separation 0.0000" in run("sun", "--lat", "10", "--lon", "20").stdout


def test_without_a_site_the_invented_cooker_serves_and_says_so(tmp_path: Path) -> None:
    picture = tmp_path / "day.png"
    result = run("sun", "--at", "2026-06-21T06:30:00Z", "--json", "--plot", str(picture))
    assert "invented" in result.stderr
    assert json.loads(result.stdout)["worst_separation_deg"] < 0.001
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_cases_of_a_file(tmp_path: Path) -> None:
    file = tmp_path / "cases.csv"
    file.write_text(
        HEAD + "2026-02-28T23:59:59Z,60,-180,0,101325,15\n2044-02-29 12:00,-89,180,2800,70000,-40\n"
    )
    answer = json.loads(run("sun", "--cases", str(file), "--json").stdout)
    assert [case["altitude_m"] for case in answer["cases"]] == [0, 2800]
    assert answer["worst_separation_deg"] < 0.001


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (("--lat", "95", "--lon", "0"), ("--lat", "95", "-90..90")),
        (("--lat", "nan", "--lon", "0"), ("--lat", "nan")),
        (("--lat", "5", "--lon", "181"), ("--lon", "181")),
        (("--lat", "5"), ("--lat and --lon",)),
        (("--lat", "5", "--lon", "1", "--at", "noon"), ("--at", "noon", "ISO 8601")),
        (("--lat", "5", "--lon", "1", "--at", "1850-01-01"), ("--at", "1973..2149")),
        (("--lat", "5", "--lon", "1", "--altitude", "1e9"), ("--altitude",)),
        (("--lat", "5", "--lon", "1", "--pressure", "1013"), ("--pressure", "Pa")),
        (("--lat", "5", "--cases", "x.csv"), ("--cases",)),
        (("--lat", "5", "--lon", "1", "--settings", "x.toml"), ("--settings",)),
        (("--settings", "no_such.toml"), ("no_such.toml",)),
        (("--plot", "no_such_folder/x.png"), ("--plot", "cannot be written")),
        (("--cases", "no_such.csv"), ("no_such.csv", "cannot be read")),
    ],
)
def test_bad_input_is_one_line_that_names_it(words: tuple[str, ...], names: tuple[str, ...]) -> None:
    text = refused("sun", *words)
    assert all(name in text for name in names)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("", "no column at_utc"),
        (HEAD, "holds no case"),
        (HEAD + "2026-01-01,5,6,7,101325,warm\n", "line 2: temp_c 'warm'"),
        (HEAD + "2026-01-01,5,6,7\n", "line 2: pressure_pa ''"),
        (HEAD + "2026-01-01,5,6,7,101325,15\nsoon,5,6,7,101325,15\n", "line 3: at_utc 'soon'"),
        (HEAD.replace("temp_c", "t"), "no column temp_c"),
    ],
)
def test_bad_case_files(tmp_path: Path, text: str, name: str) -> None:
    file = tmp_path / "cases.csv"
    file.write_text(text)
    assert name in refused("sun", "--cases", str(file))


def test_table_is_built_judged_and_used(tmp_path: Path) -> None:
    file = tmp_path / "sun.table"
    built = json.loads(run("table", "build", str(file), "--first-day", "2026-01-01", "--json").stdout)
    assert built["bytes"] == file.stat().st_size <= 16384
    judged = run("table", "check", str(file), "--per-site", "50", "--json")
    assert judged.exit_code == 0
    assert json.loads(judged.stdout)["worst_separation_deg"] < 0.001
    assert "worst separation" in run("table", "check", str(file), "--per-site", "50").stdout
    site = ("--lat", "5", "--lon", "6", "--table", str(file))
    assert (
        json.loads(run("sun", *site, "--at", "2030-01-01", "--json").stdout)["worst_separation_deg"] < 0.001
    )
    assert "expired" in refused("sun", *site, "--at", "2060-01-01")
    assert "early" in refused("sun", *site, "--at", "2020-01-01")


def test_bad_tables(tmp_path: Path) -> None:
    file = tmp_path / "sun.table"
    run("table", "build", str(file), "--years", "1")
    data = file.read_bytes()
    for spoilt, name in (
        (data[:-1], "short"),
        (data[:99] + bytes([data[99] ^ 1]) + data[100:], "corrupt"),
        (b"", "missing"),
    ):
        file.write_bytes(spoilt)
        assert name in refused("table", "check", str(file))
    assert "cannot be read" in refused("table", "check", str(tmp_path / "none"))
    assert "--first-day" in refused("table", "build", str(file), "--first-day", "tomorrow")
    assert "--years" in refused("table", "build", str(file), "--years", "500")
    assert "cannot be written" in refused("table", "build", str(tmp_path))
