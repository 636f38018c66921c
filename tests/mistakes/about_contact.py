"""Touch searches and stations of the cell: contact that is wanted, and what people get wrong."""

from __future__ import annotations

from tests.mistakes.case import Change, Harmless, Mistake, all_of, swap

CELL = "gate_hinge"
DOWN = "  - {linear: weld start, speed: 60 mm/s}\n"
MARGINS = "margins: {air: 10 mm, seam: 1.5 mm}\n"
SEARCH = "search: weld start, body: gate post, speed: 20 mm/s, margin: 1 mm"


def search(words: str) -> Change:
    """Search for the gate post where the program goes down to the weld."""
    return swap(DOWN, f"  - {{{words}}}\n")


def stations(words: str) -> Change:
    return swap(MARGINS, f"{MARGINS}stations:\n  {words}\n")


def station_move(words: str) -> Change:
    return swap(DOWN, f"  - {{linear: weld start, speed: 60 mm/s, station: {words}}}\n")


CUTTER = "stop block: {kind: cutter, depth: 20 mm}"
MISTAKES = [
    Mistake("a search for nothing", CELL, search("search: weld start, speed: 20 mm/s"), None,
            ("search without 'body'",)),
    Mistake("a search for a body that is not there", CELL,
            search(SEARCH.replace("gate post", "gate pots")), None,
            ("no body is called 'gate pots'", "gate post")),
    Mistake("a search with a piece that is not there", CELL, search(f"{SEARCH}, with: nozle"),
            None, ("no piece of the torch is called 'nozle'", "nozzle")),
    Mistake("a search as fast as an air move", CELL,
            search(SEARCH.replace("20 mm/s", "2 m/s")), None, ("2 m/s", "250 mm/s")),
    Mistake("a search that is rounded", CELL, search(f"{SEARCH}, rounding: 1 mm"), None,
            ("rounding", "search")),
    Mistake("overtravel without a unit", CELL, search(f"{SEARCH}, overtravel: 5"), None,
            ("overtravel", "mm")),
    Mistake("too much overtravel", CELL, search(f"{SEARCH}, overtravel: 5 m"), None,
            ("overtravel", "100 mm")),
    Mistake("overtravel on a straight move", CELL,
            search("linear: weld start, speed: 60 mm/s, overtravel: 5 mm"), None,
            ("overtravel", "linear")),
    Mistake("a rounded start of a search", CELL,
            all_of(search(SEARCH), swap("joint: approach, speed: 40 %",
                                        "joint: approach, speed: 40 %, rounding: 5 mm")),
            None, ("approach", "a search starts there")),
    Mistake("a station that nobody declared", CELL, station_move("left clamp"), None,
            ("no station is called 'left clamp'",)),
    Mistake("a station that is no body", CELL, stations(CUTTER), None,
            ("no body is called 'stop block'",)),
    Mistake("a cleaner that cuts", CELL,
            stations("left clamp: {kind: cleaner, depth: 20 mm, cut to: 18 mm}"), None,
            ("cut to", "cutter")),
    Mistake("a station without a depth", CELL, stations("left clamp: {kind: gauge}"), None,
            ("depth",)),
    Mistake("a station on a joint move", CELL,
            all_of(stations("left clamp: {kind: gauge, depth: 9 mm}"),
                   swap("joint: approach, speed: 40 %",
                        "joint: approach, speed: 40 %, station: left clamp")),
            None, ("station", "joint")),
]  # fmt: skip
HARMLESS: list[Harmless] = []
