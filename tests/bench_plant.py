"""The least plant: inputs set by hand, outputs kept. Units: us."""


class BarePlant:
    def __init__(self):
        self.now_us = 0
        self.levels = {2: 1}
        self.edges = []
        self.counts = [1000, 2000, 3000]
        self.out = {}
        self.words = []

    def advance(self, to_us):
        self.now_us = to_us
        while self.edges and self.edges[0][0] <= to_us:
            _, pin, level = self.edges.pop(0)
            self.levels[pin] = level

    def outputs(self, changes):
        self.out.update(changes)

    def motion(self, sm_id, words):
        self.words.append((sm_id, words))

    def next_edge_us(self):
        return self.edges[0][0] if self.edges else None

    def inputs(self):
        return self.levels

    def adc(self):
        return self.counts
