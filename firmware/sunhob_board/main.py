"""Starts the controller on the board. No units.

start() wires the board and hands back the app; run() is what the board does for ever. Whatever ends the
loop, every output goes off first, and the chip restarts into the safe side.
"""


def start():
    """Make the board and its app; nothing moves yet."""
    from .boards import pick
    from .core.app import App

    return App(pick.board())


def run():
    """Cycle for ever."""
    import machine

    app = start()
    try:
        while True:
            app.cycle()
    finally:
        app.board.all_off()
        machine.reset()
