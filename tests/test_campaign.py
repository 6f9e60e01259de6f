"""Campaigns: the draws, the judging, the result file, the limits on the rate, the cluster."""

import dataclasses
import json
import math
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob import cli
from sunhob.errors import UserError
from sunhob_sim.bench import Bench
from sunhob_sim.campaign import kits as kits_of
from sunhob_sim.campaign import run as campaign
from sunhob_sim.campaign import shrink as shrinking
from sunhob_sim.campaign.draw import blocks_of, episode_text
from sunhob_sim.campaign.episode import COLUMNS, Row, run_text
from sunhob_sim.campaign.kits import kit_of
from sunhob_sim.campaign.rate import rule_of_three, upper_limit
from sunhob_sim.campaign.results import Results, summary
from sunhob_sim.faults.library import FAULTS
from sunhob_sim.scenario import cooker_of, parse

FOUND = Path(__file__).parent / "data" / "found"


def row(seed=1, faults="restart", hazards="", detected=True, loose_s=5.0, because=None,
        cannot_leave=0):
    because = (faults if hazards else "") if because is None else because
    return Row(
        seed=seed, faults=faults, engine="cpython", latitude_deg=10.0, start="2026-03-01T08:00:00+00:00",
        fault_at_s=300.0, severity=1.0, hazards=hazards, detail="", because=because, stranded=0,
        cannot_leave=cannot_leave,
        detected=detected, sign="restarted" if detected else "", noticed_s=2.0 if detected else -1.0,
        pot_s=7.5, light_s=20.0, loose_s=loose_s, told=4, wall_s=0.5,
    )  # fmt: skip


@pytest.mark.parametrize("k", range(len(FAULTS)))
def test_every_draw_is_a_good_scenario_and_the_same_again(k):
    name = FAULTS[k].name
    text = episode_text(1000 + k, (name,))
    assert text == episode_text(1000 + k, (name,))
    one = parse(text)
    assert [f.name for f in one.fault] == [name]
    cooker_of(one)


def test_a_fault_that_halts_the_board_and_outlasts_the_run_is_a_good_scenario_too():
    for seed in range(20_300, 20_420):
        parse(episode_text(seed, ("chain_low",)))


def test_a_seed_with_the_usual_cooker_draws_what_it_always_drew():
    for name in ("table_gone_7", "pot_gone_5094"):
        fault, seed = name.rsplit("_", 1)
        assert episode_text(int(seed), (fault,)) == (FOUND / f"{name}.toml").read_text("utf-8")


def test_every_kind_of_cooker_comes_by_and_has_what_its_fault_spoils():
    place = (-31.0, 20.0, datetime(2030, 6, 21, 10, tzinfo=UTC))
    kits = [kit_of(seed, ("restart",), place, False) for seed in range(2000)]
    for one in kits_of.MOUNTS:
        share = sum(kit.mount is one for kit in kits) / 2000
        assert share == pytest.approx(one.share, abs=0.02)  # four standard errors
    assert sum(kit.board == "esp32" for kit in kits) / 2000 == pytest.approx(0.1, abs=0.027)
    assert all(set(kit.sections["sensor"]) == set(kits_of.SENSORS) - (
        {"axis2_tilt"} if "mount" in kit.sections else set()) for kit in kits if "sensor" in kit.sections)
    for seed in range(60):
        assert kit_of(seed, ("pulses2_low", "gust"), place, True).sections["axis1"]["drive"] != "stepper"
        assert "mount" not in kit_of(seed, ("dish_tilt_frozen",), place, True).sections
        assert kit_of(seed, ("axis2_slips",), place, False).mount.name != "season_by_hand"
        by_hand = kit_of(seed, ("restart",), place, False)
        if by_hand.season_deg is not None:  # the screw reads the season seen from the south
            assert by_hand.season_deg == pytest.approx(-23.44, abs=kits_of.SEASON_OFF_DEG + 0.06)


def test_seeds_differ():
    assert len({episode_text(seed, ("restart",)) for seed in range(30)}) == 30


def test_pairs_are_of_two_kinds_and_all_come_by():
    jobs = campaign.pair_jobs(len(FAULTS) * (len(FAULTS) - 1) // 2, 5)
    assert all(len(set(names)) == 2 for _, names, _ in jobs)
    assert len({names for _, names, _ in jobs}) == len(jobs)


@given(st.integers(1, 10**6))
def test_with_no_hazard_the_limit_is_the_closed_form(runs):
    # (1 - p)^n = 0.05 for no hazard in n episodes: Clopper & Pearson, Biometrika 26 (1934) 404, one-sided
    assert upper_limit(0, runs) == pytest.approx(1.0 - 0.05 ** (1.0 / runs), rel=1e-6)
    assert upper_limit(0, runs) <= rule_of_three(runs) + 1e-12


@given(st.integers(0, 50), st.integers(51, 5000))
def test_the_limit_is_where_so_few_hazards_would_have_a_chance_of_one_in_twenty(hazards, runs):
    p = upper_limit(hazards, runs)
    few = (
        math.fsum(math.comb(runs, i) * p**i * (1.0 - p) ** (runs - i) for i in range(hazards + 1))
        if runs < 500
        else None
    )
    if few is not None:
        assert few == pytest.approx(0.05, rel=1e-4)
    assert hazards / runs < p <= 1.0


def test_result_file_goes_on_after_a_line_cut_short(tmp_path):
    path = tmp_path / "c.csv"
    first = Results(path)
    first.add(row(1))
    first.add(row(2, hazards="loose_light", detected=False))
    first.close()
    with path.open("a") as file:
        file.write("3,restart,cpy")
    again = Results(path)
    assert [r.seed for r in again.rows] == [1, 2] and again.rows[1] == row(
        2, hazards="loose_light", detected=False
    )
    again.add(row(3))
    again.close()
    assert [r.seed for r in Results(path).rows] == [1, 2, 3]
    assert path.read_text().splitlines()[0] == ",".join(COLUMNS)


def test_a_foreign_file_is_refused(tmp_path):
    path = tmp_path / "c.csv"
    path.write_text("a,b\n1,2\n")
    with pytest.raises(UserError, match="no result file"):
        Results(path)


def test_summary_counts_by_fault():
    rows = [
        row(1),
        row(2, hazards="loose_light", detected=False),
        row(3, "restart+gust", "crash", True, 40.0),
    ]
    found = summary(rows, 9)
    assert found["runs"] == 3 and found["hazards"] == 2 and found["undetected"] == 1 and found["seed"] == 9
    assert found["by_fault"]["restart"] == {
        "runs": 3,
        "hazards": 2,
        "undetected": 1,
        "detected": 2,
        "stranded": 0,
        "cannot_leave": 0,
        "signs": {"restarted": 2},
        "worst_seconds_to_notice": 2.0,
        "worst_seconds_to_pot_clear": 7.5,
        "worst_seconds_to_light_clear": 20.0,
        "worst_seconds_to_safe": 40.0,
    }
    assert found["by_fault"]["gust"]["runs"] == 1


def test_what_one_axis_could_not_leave_is_counted_apart_and_kept_out_of_the_times():
    rows = [row(1, "axis2_stalled"), row(2, "axis2_stalled", loose_s=4000.0, cannot_leave=1)]
    found = summary(rows, 1)
    assert found["cannot_leave"] == 1 and found["stranded"] == found["hazards"] == 0
    assert found["by_fault"]["axis2_stalled"]["cannot_leave"] == 1
    assert found["by_fault"]["axis2_stalled"]["worst_seconds_to_safe"] == 5.0


def test_shrinking_leaves_only_what_the_hazard_needs(monkeypatch):
    text = episode_text(7, ("axis1_slips",))

    def judged(trial, _engine):
        both = 'do = "arm"' in trial and "axis1_slips" in trial
        return row(hazards="loose_light" if both else "")

    monkeypatch.setattr(shrinking, "run_text", judged)
    small = shrinking.shrink(text, "loose_light")
    _, blocks = blocks_of(small)
    assert len(blocks) == 2 and any("arm" in b for b in blocks) and any("axis1_slips" in b for b in blocks)


def test_an_episode_runs_and_a_crash_is_a_hazard(monkeypatch):
    text = (
        'name = "e"\nstart = 2026-03-01T08:00:00Z\nhours = 0.05\n[[fault]]\nname = "restart"\nat = "08:01"\n'
    )
    good = run_text(text)
    assert good.hazards == "" and good.detected and good.told > 0
    monkeypatch.setattr("sunhob_sim.bench.Bench.run", lambda *_: 1 / 0)
    assert run_text(text).hazards == "crash"


@pytest.mark.parametrize(("start", "ends_s"), [
    ("2026-01-15T06:00:00Z", (800.0, 1100.0)),  # at the pole, over 90 deg from a winter's sun
    ("2026-06-15T06:00:00Z", (3600.0, 3601.0)),  # 67 deg from a summer's: what becomes of its light is judged
])
def test_an_episode_ends_once_it_rests_and_no_light_can_come_loose(start, ends_s):
    bench = Bench(parse(f'name = "e"\nstart = {start}\nhours = 1\n[settings.site]\n'
                        "latitude_deg = 48.0\n[settings.axis2]\nhome_deg = 46.0\n"), "cpython")
    bench.run(None, 800.0)
    bench.close()
    assert ends_s[0] <= bench.board.now_us / 1e6 <= ends_s[1]


def test_on_a_cluster_of_real_worker_processes():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        jobs = campaign.single_jobs(2, 40, ["restart"])
        rows = list(campaign.run_jobs(jobs, 2, cluster.scheduler_address))
    assert sorted(r.seed for r in rows) == [40, 41]
    assert all(r.hazards != "crash" for r in rows)


@pytest.mark.parametrize(
    ("arguments", "words", "code"),
    [
        (["--fault", "axis9_stalled"], "fault axis9_stalled: not in the library", 2),
        (["--pairs", "--fault", "restart"], "--fault: does not go with --pairs", 2),
        (["--engine", "pypy"], "engine pypy", 2),
        (["--runs", "0"], "--runs", 2),
        (["--cluster", "tcp://127.0.0.1:1", "--runs", "1"], "no scheduler answers", 3),
    ],
)
def test_bad_use_is_one_line(arguments, words, code, tmp_path, capsys):
    assert cli.run(["bench", "campaign", "--out", str(tmp_path / "c.csv"), *arguments]) == code
    told = capsys.readouterr().err
    assert words in told and told.count("sunhob: ") == 1


def test_command_writes_rows_and_a_summary_and_goes_on(tmp_path, capsys, monkeypatch):
    out = tmp_path / "c.csv"

    def same(seed, faults, engine):
        return dataclasses.replace(row(seed, "+".join(faults)), engine=engine)

    asked = [
        "bench",
        "campaign",
        "--runs",
        "3",
        "--fault",
        "restart",
        "--cores",
        "1",
        "--out",
        str(out),
        "--json",
    ]
    monkeypatch.setattr(campaign, "run_episode", same)
    assert cli.run(asked) == 0
    assert json.loads(capsys.readouterr().out)["runs"] == 3
    monkeypatch.setattr(campaign, "run_episode", lambda *_: 1 / 0)
    assert cli.run(asked) == 0  # nothing left to run
    assert json.loads(out.with_suffix(".json").read_text())["by_fault"]["restart"]["runs"] == 3
