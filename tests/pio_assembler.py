"""A small assembler for programs written as `rp2.asm_pio` functions: the function is run with the
instructions' names in its globals, as on the board, and every call leaves one 16-bit word.

No units. Encodings: RP2040 datasheet, chapter 3.4 "Instruction set"; bits 15..13 operation, 12..8 side-set
and delay, 7..0 operands.
"""

from dataclasses import dataclass

JMP_IF = {"": 0, "not_x": 1, "x_dec": 2, "not_y": 3, "y_dec": 4, "x_not_y": 5, "pin": 6, "not_osre": 7}
OUT_TO = {"pins": 0, "x": 1, "y": 2, "null": 3, "pindirs": 4, "pc": 5, "isr": 6, "exec": 7}
MOV_TO = {"pins": 0, "x": 1, "y": 2, "exec": 4, "pc": 5, "isr": 6, "osr": 7}
MOV_FROM = {"pins": 0, "x": 1, "y": 2, "null": 3, "status": 5, "isr": 6, "osr": 7}
SET_TO = {"pins": 0, "x": 1, "y": 2, "pindirs": 4}
PULL_FLAGS = {"block": 0, "noblock": 0, "ifempty": 0x40}


@dataclass
class Word:
    """One instruction on its way; .side() and [delay] fill in bits 12..8."""

    bits: int
    side_bits: int
    opt: bool
    target: str = ""

    def side(self, value: int) -> "Word":
        shift = 13 - self.side_bits - self.opt
        self.bits |= value << shift | (0x1000 if self.opt else 0)
        return self

    def __getitem__(self, delay: int) -> "Word":
        assert 0 <= delay < 1 << (5 - self.side_bits - self.opt)
        self.bits |= delay << 8
        return self


class Assembler:
    """side_bits: pins of the side-set; opt: whether an instruction may go without one."""

    def __init__(self, side_bits: int = 0, opt: bool = False) -> None:
        self.side_bits, self.opt = side_bits, opt
        self.words: list[Word] = []
        self.labels: dict[str, int] = {}

    def _word(self, bits: int, target: str = "") -> Word:
        self.words.append(Word(bits, self.side_bits, self.opt, target))
        return self.words[-1]

    def label(self, name: str) -> None:
        self.labels[name] = len(self.words)

    def jmp(self, *args: str) -> Word:
        condition, target = args if len(args) == 2 else ("", args[0])
        return self._word(JMP_IF[condition] << 5, target)

    def out(self, to: str, count: int) -> Word:
        return self._word(0x6000 | OUT_TO[to] << 5 | count & 31)

    def pull(self, *flags: str) -> Word:
        block = 0 if "noblock" in flags else 0x20
        return self._word(0x8080 | block | sum(PULL_FLAGS[one] for one in flags))

    def mov(self, to: str, source: str) -> Word:
        return self._word(0xA000 | MOV_TO[to] << 5 | MOV_FROM[source])

    def set(self, to: str, value: int) -> Word:
        return self._word(0xE000 | SET_TO[to] << 5 | value)

    def nop(self) -> Word:
        return self.mov("y", "y")

    def names(self) -> dict:
        """What a program finds in its globals."""
        operands = {name: name for table in (JMP_IF, OUT_TO, MOV_TO, MOV_FROM, SET_TO, PULL_FLAGS)
                    for name in table if name}
        calls = ("label", "jmp", "out", "pull", "mov", "set", "nop")
        return {**operands, **{name: getattr(self, name) for name in calls}}

    def run(self, program) -> list[int]:
        """The words of a program given as a function, or as text (as StateMachine.exec takes it)."""
        if isinstance(program, str):
            exec(program, self.names())
        else:
            exec(program.__code__, self.names())
        return [w.bits | (self.labels[w.target] if w.target else 0) for w in self.words]
