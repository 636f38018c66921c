"""Touch searches and stations of the cell: contact that is wanted, and what people get wrong."""

from __future__ import annotations

from pathsim.findings import Level
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


#: The sample's search, taught 45 mm beside the rib: as it should be.
SAMPLE = "search_beside_rib"
LINE = "{search: plate touch, body: base plate, speed: 20 mm/s, overtravel: 4 mm, margin: 3 mm}"
BESIDE = all_of(
    swap("above plate,8.286,32.761,1.835,-25.063,93.734,-29.548",
         "above plate,6.600,32.386,2.409,-26.091,92.956,-30.715", "points.csv"),
    swap("plate touch,8.286,34.703,3.365,-25.008,90.588,-28.078",
         "plate touch,6.600,34.340,3.936,-26.054,89.829,-29.185", "points.csv"),
)  # fmt: skip
PLATE = "thickness: 12 mm}, at: 930 0 720 mm"


def beside(*changes: Change) -> Change:
    return all_of(BESIDE, *changes)


def line(words: str) -> Change:
    return swap(LINE, f"{{{words}}}")


def plate(words: str) -> Change:
    return swap(PLATE, words)


def searched(old: str, new: str) -> Change:
    return swap(LINE, LINE.replace(old, new))


CUTTER = "stop block: {kind: cutter, depth: 20 mm}"
MISTAKES = [
    Mistake("a search that stops short of its plate", SAMPLE,
            beside(plate("thickness: 12 mm}, at: 930 0 714 mm")), Level.STOP,
            ("meets nothing in this model", "base plate", "'plate touch'")),
    Mistake("a plate thicker than where it was searched", SAMPLE,
            beside(plate("thickness: 17 mm}, at: 930 0 720 mm")), Level.WATCH,
            ("meets the base plate after 42.0 mm", "5.0 mm before 'plate touch'"),
            both_engines=True),
    Mistake("a search for the rib's body instead", SAMPLE, beside(searched("base plate", "rib")),
            Level.STOP, ("wire touches the base plate", "finds the base plate and not the rib")),
    Mistake("a search without the word", SAMPLE,
            beside(line("linear: plate touch, speed: 20 mm/s")), Level.STOP,
            ("wire touches the base plate",), both_engines=True),
    Mistake("a search with too much overtravel", SAMPLE,
            beside(searched("overtravel: 4 mm", "overtravel: 16 mm")), Level.STOP,
            ("nozzle touches the base plate",)),
    Mistake("a search at the speed of an air move", SAMPLE, beside(searched("20 mm/s", "120 mm/s")),
            Level.WATCH, ("searches at 120 mm/s", "bends the wire")),
    Mistake("a plate that may be off by more than the search goes on", SAMPLE,
            beside(plate(f"{PLATE}, known to: 6 mm")), Level.WATCH,
            ("6.0 mm off its place", "it may miss")),
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
HARMLESS: list[Harmless] = [
    Harmless("a search well beside the rib", SAMPLE, BESIDE),
    Harmless("a search without overtravel", SAMPLE, beside(searched(" overtravel: 4 mm,", ""))),
    Harmless("a slower search", SAMPLE, beside(searched("20 mm/s", "6 mm/s"))),
    Harmless("a plate that may be off by less than the search goes on", SAMPLE,
             beside(plate(f"{PLATE}, known to: 1 mm"))),
    Harmless("a search that says what it is by itself", SAMPLE,
             beside(searched("body: base plate", "body: base plate, with: wire, wire end: 5 mm"))),
]  # fmt: skip
