"""How much memory the firmware in this process holds on to. Units: bytes.

Everything that can be reached from its app and from the names of its modules is counted once, by
sys.getsizeof. Tracing each allocation (tracemalloc) tells the same and costs seven times the run.
"""

import gc
import sys
from types import BuiltinFunctionType, CodeType, FrameType, FunctionType, ModuleType

_CODE = (BuiltinFunctionType, CodeType, FrameType, FunctionType, ModuleType, type)


def held_bytes(app: object, without: object) -> int:
    """Memory that is alive by `app` and the firmware's modules; what stands in for the board (`without`) is
    left out, and so is code."""
    gc.collect()
    left: list[object] = [app]
    left += [vars(module) for name, module in sys.modules.items() if name.startswith("sunhob_board")]
    seen = {id(without)}
    total = 0
    while left:
        one = left.pop()
        if id(one) in seen or isinstance(one, _CODE):
            continue
        seen.add(id(one))
        total += sys.getsizeof(one)
        left += gc.get_referents(one)
    return total
