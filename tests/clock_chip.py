"""A clock chip for tests: whole seconds, battery RAM, an oscillator that may have stopped.

Units: days, ms."""

DAY_MS = 86_400_000


class Chip:
    """Tells whole seconds only; keeps 236 bytes through a restart."""

    def __init__(self, day=9000, ms=1_000):
        self.day, self.ms, self.ok = day, ms, True
        self.ram = bytearray(236)
        self.celsius = 25.0

    def read(self):
        return (self.day, self.ms // 1000 * 1000) if self.ok else None

    def write(self, day, ms):
        self.day, self.ms, self.ok = day, ms, True
        return True

    def ram_read(self, offset, n):
        return bytes(self.ram[offset:offset + n])

    def ram_write(self, offset, data):
        self.ram[offset:offset + len(data)] = data
        return True

    def temperature_c(self):
        return self.celsius

    def carry(self, ms):
        self.ms += ms
        while self.ms >= DAY_MS:
            self.ms -= DAY_MS
            self.day += 1
