"""The real firmware on the live bench, over the real link. Units: those of declared/methods.py; seconds."""

import shutil
import socket
import threading
from datetime import UTC, datetime

import pytest
from sunhob import cli_dish, link
from sunhob.errors import LinkError, UserError
from sunhob_board.declared.methods import METHODS

pytest.importorskip("sunhob_sim.bench")
from sunhob_sim import live
from sunhob_sim.bench import Bench

from .test_engine_same_day import fitted


@pytest.mark.parametrize("engine", ["cpython", "micropython"])
def test_the_board_serves_every_declared_method(engine):
    if engine == "micropython" and shutil.which("node") is None:
        pytest.skip("node is not installed: MicroPython cannot be run here")
    told = []
    with link.Dish("bench", events=told.append, wire=live.open_port("short", engine)) as dish:
        assert dish.hello()["table"] == link.table_id()
        day, ms = cli_dish.board_time(datetime(2026, 3, 12, 9, tzinfo=UTC))
        asked = {
            "heat": {"percent": 50}, "cook": {"percent": 50}, "clear": {"code": 0},
            "subscribe": {"telemetry_ms": 0},
            "nudge": {"axis": 1, "rate_percent": 10, "hold_ms": 100, "covered": True},
            "set": {"what": "time", "day": day, "ms": ms}, "log": {"from": 0, "count": 16},
        }
        for name in [row[0] for row in METHODS]:
            try:
                assert dish.call(name, **asked.get(name, {}))
            except link.BoardRefused as error:
                assert error.code == -32000, f"{name}: {error}"
        assert dish.call("status")["bad_lines"] == 0
    assert told


def test_it_tells_what_each_further_sensor_sees():
    day = fitted("two_actuators")
    port = live.LivePort(Bench(day, "cpython"), 1200.0, 1.0)
    with link.Dish("bench", wire=port) as dish:
        told, status = dish.call("sensors"), dish.call("status")
        plant = port.bench.plant
    assert abs(told["encoder1_deg"] - plant.axes_deg[0]) % 360.0 < 0.5
    assert "encoder2_deg" in told  # the dish's tilt, which on a polar mount is no angle of an axis
    assert abs(told["lean_east_deg"]) < 0.5 and abs(told["lean_north_deg"]) < 0.5
    assert 10.0 < told["supply_v"] < 15.0 and 0.0 <= told["gust_m_s"] < 15.0
    assert 0.0 < told["board_c"] < 60.0 and len(told["sun_sensor_w_m2"]) == 3
    assert len(status["spare_c"]) == 3
    with link.Dish("bench:short") as dish:
        assert set(dish.call("sensors")) <= {"board_c", "sun_sensor_w_m2"}


def test_nobody_arms_it_from_afar():
    with link.Dish("bench:short") as dish:
        with pytest.raises(link.BoardRefused, match="ARM"):
            dish.call("cook", percent=50)
        assert dish.call("status")["armed_s"] == 0


@pytest.mark.parametrize("name", ["short@noon", "short@2020-01-01T00:00:00Z", "no_such_scenario"])
def test_a_wrong_scenario_is_told(name):
    with pytest.raises(UserError):
        live.open_port(name)


def test_the_end_of_the_scenario_is_told():
    port = live.open_port("short", speed=1e6)
    with pytest.raises(LinkError, match="is over"):
        for _ in range(1000):
            port.read()
    port.close()


def test_serving_on_a_socket():
    listener = socket.create_server(("127.0.0.1", 0))
    port = live.open_port("short")

    def served():
        try:
            live.serve(port, listener)
        except (LinkError, OSError):
            pass

    thread = threading.Thread(target=served, daemon=True)
    thread.start()
    for _ in range(2):
        with link.Dish(f"socket://127.0.0.1:{listener.getsockname()[1]}") as dish:
            assert dish.call("status", timeout_s=10)["version"]
    listener.close()
    thread.join(10)
    assert not thread.is_alive()
    port.close()
