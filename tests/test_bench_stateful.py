"""Any order of the cook's actions, on the bench with the real firmware, never yields a hazard.

Units: seconds, percent. Judged from the true state of the plant, never from what the firmware believes.
The cook and the place are invented.
"""

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from sunhob_board.core import panel as keys
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import Bench
from sunhob_sim.judge import judge
from sunhob_sim.judge_told import armed_s
from sunhob_sim.truth import build

HOURS = 8
TEXT = """
name = "any_order"
start = {start}
hours = {hours}
[settings.axis2]
home_deg = 19.0
[settings.site]
latitude_deg = 21.15
longitude_deg = 79.05
altitude_m = 310
[settings.cook]
return_after_cloud = {back}
"""
STARTS = ("2026-03-12T03:00:00Z", "2026-03-12T06:20:00Z", "2026-09-28T10:00:00Z")


class AnyOrder(RuleBasedStateMachine):
    """The cook does anything at any time; the truth is judged when the day is over."""

    @initialize(start=st.sampled_from(STARTS), back=st.booleans(), heat=st.sampled_from([0, 60, 100]))
    def morning(self, start, back, heat):
        text = TEXT.format(start=start, hours=HOURS, back=str(back).lower())
        self.bench = Bench(scenarios.parse(text), "cpython")
        self.bench.engine.boot()
        self.wait(120)
        if heat:  # most days begin on the sun, so that few steps reach the interesting orders
            self.turn_knob(heat, 0.0)
            self.press(keys.ARM, 0.5, 120.0)

    @property
    def room(self):
        return self.bench.board.now_us / 1e6 < HOURS * 3600 - 2000

    def wait(self, seconds):
        board, cycle = self.bench.board, self.bench.engine.cycle
        end = board.now_us + int(seconds * 1e6)
        while board.now_us < end:
            cycle()

    def _note(self, do):
        now_s = self.bench.board.now_us / 1e6
        self.bench.cook.done.append({"do": do, "t_s": now_s, "at_utc": "", "words": ""})

    def hands(self, seconds=0.0):
        self.bench.bridge.hands()
        self.wait(seconds)

    @precondition(lambda self: self.room)
    @rule(bit=st.sampled_from([keys.ARM, keys.LEAVE, keys.ASIDE, keys.CONFIRM]),
          held_s=st.sampled_from([0.05, 0.5, 4.0]), then_s=st.sampled_from([0.0, 1.0, 5.0, 40.0, 120.0]))
    def press(self, bit, held_s, then_s):
        words = {keys.ARM: "arm", keys.LEAVE: "leave", keys.ASIDE: "aside", keys.CONFIRM: "confirm"}
        self._note(words[bit])
        self.bench.cook.mask |= bit
        self.hands(held_s)
        self.bench.cook.mask &= ~bit
        self.hands(then_s)

    @precondition(lambda self: self.room)
    @rule(percent=st.sampled_from([0, 5, 40, 55, 80, 100]), then_s=st.sampled_from([0.0, 2.0, 60.0]))
    def turn_knob(self, percent, then_s):
        self._note("knob")
        self.bench.cook.knob_percent = float(percent)
        self.hands(then_s)

    @precondition(lambda self: self.room)
    @rule(closed=st.booleans(), then_s=st.sampled_from([0.2, 30.0]))
    def stop_chain(self, closed, then_s):
        self.bench.cook._put(keys.CHAIN, closed)
        self.hands(then_s)

    @precondition(lambda self: self.room)
    @rule(there=st.booleans())
    def pot(self, there):
        self.bench.cook._put(keys.POT, there)
        self.hands(1.0)

    @precondition(lambda self: self.room)
    @rule(method=st.sampled_from([("leave", {}), ("aside", {}), ("heat", {"percent": 50}),
                                  ("cook", {"percent": 100}), ("status", {}), ("clear", {"code": 0})]))
    def call(self, method):
        self.bench.cook._call(*method)
        self.wait(2.0)

    @precondition(lambda self: self.room)
    @rule(seconds=st.sampled_from([10, 300, 1500]))
    def time_passes(self, seconds):
        self.wait(seconds)

    def teardown(self):
        if not hasattr(self, "bench"):
            return
        hazards = judge(build(self.bench.plant), armed_s(self.bench), 0.0)
        # Light left loose by an open stop chain is told apart: nothing can move then.
        told = [(e["t_s"], e["name"], e["a"], e["b"]) for e in self.bench.uplink.events]
        assert not hazards, (hazards, told)
        self.bench.close()


AnyOrder.TestCase.settings = settings(
    max_examples=25, stateful_step_count=14, deadline=None, derandomize=True, phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
TestAnyOrder = AnyOrder.TestCase
