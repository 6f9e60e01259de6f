"""Starts the controller on the board. Units: ms.

start() wires the board and hands back the app; run() is what the board does for ever. Whatever ends the
loop, every output goes off first, and the chip restarts into the safe side.
"""

from .core.ticks import diff

_PROVEN_MS = 4_000  # running so long without trouble, the new controller counts as good
_DOUBT_MS = 20_000  # in trouble so long, it makes way for the old one
_LAST_CYCLES = 20  # to send what the link still holds


def start(shelf=None, loader=None):
    """Make the board and its app; nothing moves yet. shelf: folder of what was installed."""
    from .boards import pick
    from .core.app import App

    return App(pick.board(), shelf, loader)


def run(shelf=None, loader=None):
    """Cycle for ever, or until the loader is to do something else: it then restarts the chip.

    loader: proven(), called once; going_back(), True if an older controller waits; console().
    """
    import gc

    import machine
    import micropython

    micropython.kbd_intr(-1)  # a stray Ctrl-C on the shared port must not stop a dish on the sun
    app = None
    try:
        app = start(shelf, loader)
        gc.threshold(-1)  # the loader had it collect often; from here on that comes between the ticks
        gc.collect()
        app.board.share_console()
        app.port.uart = app.board.uart
        app.port.burst = app.board.BURST
        if loader is None:
            while True:
                app.cycle()
        _watched(app, loader)
    finally:
        if app is not None:
            app.board.all_off()
        if loader is None:
            machine.reset()


def _watched(app, loader):
    began = app.board.ticks_ms()
    while not app.console_asked:
        app.cycle()
        if app.proven:
            continue
        ran = diff(app.board.ticks_ms(), began)
        if not app.trouble and ran >= _PROVEN_MS:
            loader.proven()
            app.proven = True
        elif app.trouble and ran >= _DOUBT_MS and loader.going_back():
            loader.failed(app.trouble)
            return
    for _ in range(_LAST_CYCLES):
        if not app.port.busy:
            break
        app.cycle()
    loader.console()
