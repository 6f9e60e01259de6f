"""The hardware notes: generated files current, every pin described, every link leads somewhere. No units."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from sunhob.cli import make_app
from sunhob.errors import UserError
from sunhob.notes import __main__ as notes
from sunhob.notes import added, boards, figures, parts_light, pulse_drives, safety_page, wiring
from sunhob.settings import load_cooker
from sunhob.sizing import gears
from sunhob.sizing.rows import BUILD_ROWS
from sunhob_board.declared import interlocks
from sunhob_board.declared.events import EVENTS
from sunhob_board.declared.settings import SETTINGS
from sunhob_sim import scenario
from sunhob_sim.faults.library import FAULTS
from typer.main import get_command

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "hardware_notes"
PAGES = sorted(FOLDER.glob("*.md"))
MADE = notes.pages(FOLDER)


@pytest.mark.parametrize("name", sorted(MADE))
def test_what_is_made_is_current(name):
    kept = (FOLDER / name).read_text(encoding="utf-8")
    assert kept == MADE[name], f"hardware_notes/{name} is not current: make notes"


def test_every_pin_of_every_board_is_described_and_numbered():
    found = boards.boards()
    assert {"pico", "pico2", "esp32"} <= {one.name for one in found}
    for one in found:
        missing = sorted({*one.pins, *one.expander} - set(wiring.PARTS))
        assert not missing, f"{one.name}: add {missing} to PARTS in host/sunhob/notes/wiring.py"
        for name in (*one.pins, *one.expander):
            assert re.search(rf"\| `{name}` \| {one.where(name)} \|", MADE["wiring.md"]), name
    assert wiring.UNKNOWN not in MADE["wiring.md"]
    assert set(boards.addresses()) <= set(wiring.BUS_PARTS), "a row in BUS_PARTS is missing"


def test_the_tables_are_read_as_the_firmware_has_them():
    one = next(b for b in boards.boards() if b.name == "pico")
    said: dict = {}
    text = (boards.FIRMWARE / "boards/rp2.py").read_text(encoding="utf-8")
    exec(re.search(r"^PINS = \{.*?^\}", text, re.S | re.M)[0], said)
    assert one.pins == said["PINS"] and len(one.pins) > 20
    assert boards.levels()["stop_chain"] == 1 and boards.levels()["leave"] == 0
    assert boards.addresses()["rtc_ds3232"] == 0x68


def test_the_edge_pins_are_the_data_sheets():
    # Pico data sheet, pinout: GP0 is pin 1, GP15 pin 20, GP16 pin 21, GP22 pin 29, GP26..28 pins 31, 32, 34
    assert [wiring.EDGE[g] for g in (0, 2, 5, 6, 9, 10, 13, 14, 15, 16, 17, 18, 21, 22, 26, 27, 28)] == [
        1, 4, 7, 9, 12, 14, 17, 19, 20, 21, 22, 24, 27, 29, 31, 32, 34]


def test_a_pin_nobody_described_is_told():
    one = boards.BoardPins("pico", "A board", {"leave": 14, "new_thing": 9}, {})
    assert wiring.UNKNOWN in wiring._board(one, 115200)


def test_every_interlock_has_its_row():
    for row in interlocks.ROWS:
        assert f"| `{row[0]}` |" in MADE["fault_finding.md"] and row[7] in MADE["fault_finding.md"]


def test_pulse_lines_are_given_out_as_the_board_does():
    one = boards.BoardPins("pico", "A board", {"lamp_armed": 9, "adc_knob": 28, "step1": 2}, {},
                           spared=("lamp_armed", "adc_knob"))
    own = boards.BoardPins("other", "Another", {"pulse1": 34, "step1": 2}, {}, spared=("pulse1",))
    rows = pulse_drives.pulse_wiring([one, own]).splitlines()[-2:]
    assert rows[0].startswith("| A board | GPIO 9 (`lamp_armed`) | GPIO 28 (`adc_knob`) | from 1 line on: ")
    assert rows[1] == "| Another | GPIO 34 (`pulse1`) | none | nothing |"
    told = {one.name: one.spared for one in boards.boards()}
    assert told["pico"] == told["pico2"] == ("lamp_armed", "adc_knob")
    assert told["esp32"] == ("pulse1", "pulse2")
    knob = pulse_drives.knob_wiring([one, own]).splitlines()[-2:]
    assert knob[0].endswith("| GPIO 9 (`lamp_armed`) | GPIO 28 (`adc_knob`) | the lamp ARMED is not fitted |")


def test_what_may_be_added_has_its_row_and_its_setting():
    optional = {name for name, words in wiring.BUS_PARTS.items() if "where one is fitted" in words}
    assert optional == {row[2] for row in added.ADDED}
    settings = {row[0] for row in SETTINGS}
    for part, _, _, setting, _ in added.ADDED:
        assert setting in settings and f"| {part} | " in MADE["parts.md"]


def test_an_actuator_of_the_parts_list_could_be_built():
    axis = load_cooker().axis2.model_copy(update=pulse_drives.EXAMPLE)
    rod = gears.actuator(axis, 100.0)
    assert rod["shortest_m"] > 1.3 * rod["stroke_m"] and not rod["passes_dead_point"]
    assert f"stroke {1000 * rod['stroke_m']:.0f} mm" in MADE["parts.md"]


def test_what_stands_between_light_and_people_has_its_row():
    rows = {line.split(" | ")[0][2:] for line in MADE["parts.md"].splitlines() if line.startswith("| ")}
    for part in ("guard plate", "pot ring", "pot bar", "mirror", "dark glasses", "sand", "fire blanket"):
        assert part in rows, part
    for plate in figures.load(FOLDER, load_cooker())["plates"]:
        assert f"{plate['diameter_m']:.2f} m for {plate['least_percent']:.0f} %" in MADE["parts.md"]
    # 1 m, 300 N in the middle: 75 N m; 100 N: a tube of 20 x 2 mm, pi/64 (2.0^4 - 1.6^4) cm4, sags 2.14 mm
    assert parts_light.bar_moment_n_m(1.0) == pytest.approx(75.0)
    assert parts_light.bar_second_moment_cm4(1.0) * 2.0 / 2.14 == pytest.approx(
        3.14159 / 64 * (2.0**4 - 1.6**4), rel=0.01)
    # scale of welding filters (EN 169, from memory): shade 5 passes 1.2 to 3.2 %, shade 10 near 0.014 %
    assert 0.012 < parts_light.shade_passes(5) < 0.032
    assert parts_light.shade_passes(10) == pytest.approx(1.4e-4, rel=0.05)


def test_the_risky_steps_of_commissioning_have_a_caution_of_their_own():
    text = (FOLDER / "commissioning.md").read_text(encoding="utf-8")
    steps = re.split(r"\n(?=- \[ \] |\d+\. )", text)
    for words in ("near each end at low speed", "Then the hand releases", "Mask off **while parked**",
                  "lift the pot, in gloves", "Mask off while parked.", "by its hand release over",
                  "turn the axis by 5 deg"):
        step = next(one for one in steps if words in one)
        assert re.search(r"\*\*Caution: |\*\(Pinch|\*\(From here there is light", step), words
    for section in text.split("\n## ")[1:]:
        assert section.split("\n\n")[1].startswith("**Caution"), section[:20]


@pytest.mark.parametrize("path", [*PAGES, ROOT / "README.md"], ids=lambda p: p.name)
def test_settings_named_in_the_notes_exist(path):
    known = {row[0] for row in (*SETTINGS, *BUILD_ROWS)}
    groups = {key.split(".")[0] for key in known}
    for key in re.findall(r"`([a-z0-9]+\.[a-z0-9_]+)(?:`| =)", path.read_text(encoding="utf-8")):
        if key.split(".")[0] in groups:
            assert key in known, f"{path.name}: {key}"


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.name)
def test_messages_named_in_the_notes_exist(path):
    """Words with an underscore in code type are rows of interlocks, events, faults, pins, settings, days."""
    known = {row[0] for row in interlocks.ROWS} | set(wiring.PARTS)
    known |= {row[0].split(".")[1] for row in (*SETTINGS, *BUILD_ROWS)}
    known |= {row[0] for row in EVENTS} | {one.name for one in FAULTS}
    known |= set(scenario.shipped())
    known |= {"beam_w_m2", "open_w_m2", "bad_lines", "heat_asked", "axis1_deg", "axis2_deg"}  # of the status
    for word in re.findall(r"`([a-z0-9]+_[a-z0-9_]+)`", path.read_text(encoding="utf-8")):
        assert word in known, f"{path.name}: {word}"


def anchors_and_links(path):
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.S)
    return re.findall(r"\]\(([^)\s]+)\)", text)


@pytest.mark.parametrize("path", [*PAGES, ROOT / "README.md"], ids=lambda p: p.name)
def test_every_link_leads_to_a_file(path):
    for link in anchors_and_links(path):
        if not link.startswith(("http://", "https://")):
            assert (path.parent / link.split("#")[0]).exists(), f"{path.name}: {link}"


def test_every_page_and_drawing_is_reached_from_the_first():
    seen, left = set(), ["README.md"]
    while left:
        name = left.pop()
        if name not in seen:
            seen.add(name)
            if name.endswith(".md"):
                left += [link.split("#")[0] for link in anchors_and_links(FOLDER / name)]
    wanted = {p.name for p in FOLDER.iterdir() if p.suffix in (".md", ".svg")}
    assert wanted <= seen, wanted - seen


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.name)
def test_commands_named_in_the_notes_exist(path):
    program = get_command(make_app())
    for words in re.findall(r"`sunhob ([a-z]+)(?: ([a-z]+))?", path.read_text(encoding="utf-8")):
        if words[0] == "board":
            continue
        assert words[0] in program.commands, words
        group = program.commands[words[0]]
        if words[1] and hasattr(group, "commands"):
            assert words[1] in group.commands, words


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.name)
def test_pages_that_send_hands_to_the_dish_begin_with_a_caution(path):
    head = "\n".join(path.read_text(encoding="utf-8").splitlines()[:16]).lower()
    if path.name not in ("angles.md", "parts.md"):
        cautions = ("caution", "blind", "before you touch", "first of all", "covered")
        assert any(word in head for word in cautions), path


def test_drawings_are_whole_and_inside_their_sheet():
    for name in (n for n in MADE if n.endswith(".svg")):
        tree = ET.fromstring(MADE[name])
        wide, high = (float(tree.get(k)) for k in ("width", "height"))
        texts = [t for t in tree.iter() if t.tag.endswith("}tspan")]
        assert len(texts) > 8
        for one in texts:
            assert 0 <= float(one.get("x")) <= wide and 0 <= float(one.get("y")) <= high, (name, one.text)


def test_figures_of_another_dish_are_refused(tmp_path):
    cooker = load_cooker()
    with pytest.raises(UserError, match="make notes"):
        figures.load(tmp_path, cooker)
    (tmp_path / figures.NAME).write_text('{"fingerprint": 1}')
    with pytest.raises(UserError, match="make notes"):
        figures.load(tmp_path, cooker)


def test_the_figures_kept_are_those_of_the_trace_of_check():
    # design figures of the invented dish: loose light until 89 deg, as far as 1.5 m; no plate above 40 %
    kept = figures.load(FOLDER, load_cooker())
    assert kept["loose_clear_deg"] == pytest.approx(89.2, abs=1.0)
    assert max(row["reach_m"] for row in kept["by_lag"]) == pytest.approx(1.5, abs=0.1)
    assert [p["least_percent"] for p in kept["plates"]] == [30.0, 20.0, 10.0]


def test_the_writer_tells_a_wrong_folder(tmp_path, capsys):
    assert notes.main([str(tmp_path / "none")]) == 2
    assert "give the folder" in capsys.readouterr().err


def test_every_fault_of_the_bench_has_its_line_in_the_hazard_analysis():
    runs = safety_page.load(FOLDER)
    kept = {name: row["words"] for name, row in runs["faults"].items()}
    assert kept == {one.name: one.words for one in FAULTS}, (
        "run: sunhob bench campaign --measured hardware_notes/safety_runs.json, then make notes")
    assert all(row["runs"] >= 1 for row in runs["faults"].values())
    assert runs["episodes"] == sum(row["runs"] for row in runs["faults"].values())
    for one in FAULTS:
        assert f"| `{one.name}` | {one.words} |" in MADE["safety.md"]


def test_a_fault_that_nobody_described_is_told(tmp_path):
    with pytest.raises(UserError, match="describe it in EFFECTS"):
        safety_page.effect_of("warp_core_breach")
    with pytest.raises(UserError, match="--measured"):
        safety_page.load(tmp_path)


def test_the_hazard_analysis_says_what_software_cannot_do():
    page = MADE["safety.md"]
    for words in ("for pinch only", "hardware watchdog", "Hand release", "cover", "Mechanical stops",
                  "guard plate", "Fire-safe", "no certificate", "codes of your place", "licensed"):
        assert words in page, words
    assert not re.search(r"20[0-9]{2}-[0-9]{2}-[0-9]{2}", page)  # figures without dates
