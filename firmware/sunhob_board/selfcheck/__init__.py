"""Self-checks on board, in the spirit of IEC 60730-1 Annex H, software class B. Nobody has certified them.

What stands against which line of table H.1 (older H.11.12.7), and what an interpreter cannot reach:
1.1 registers, 5 data path: known answers only (memory.py); a stuck register that spares them is not found.
1.3 program counter: watchdog fed by four parts that must all have reported, proven at boot (proof.py).
2 interrupts, 3 clock: a late loop trips; ticks against the clock chip, step and rate (core/clock.py).
4.1 invariable memory: CRC-32 of program, tables, settings in flash (files.py), of the copies (copies.py).
4.2, 4.3 variable memory: patterns in blocks lent by the heap (memory.py); memory in use is not touched.
6 communication: CRC-32 of each line, bounds of each value (link/).
7.1 outputs: read back (checks.py). 7.2 converter: reference and ground read as channels (drivers/).
Each failure is a row in declared/interlocks.py.
"""
