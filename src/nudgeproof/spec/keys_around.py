"""The keys of what is around the firmware: who acts, what is promised, the clock, power and memory, what is accepted."""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.key import YES, Key, Section

# fmt: off
AROUND: Final = (
    Section("person", "how the user presses", (
        Key("habit", "a kind of hands, whose times fill in what is left out", ("usual", "slow", "shaky"), "choice"),
        Key("tap", "how long this person's taps last", ("60 to 350 ms",), "time", "without `habit`"),
        Key("between", "how long this person waits between taps", ("80 to 220 ms",), "time", "without `habit`"),
        Key("hold", "how long this person holds a button; without it, this person never does", ("1.4 to 2.5 s",), "time"),
        Key("GESTURE", "how long this person holds in this gesture, where that is another time than `hold`",
            ("1.4 to 2.5 s",), "time", "", "as `hold`, longer where a shorter hold stands beside it"),
        Key("answers within", "how soon after one gesture this person begins the next, where the device waits for it",
            ("1.5 s", "up to 1.5 s"), "time", "", "any time"),
        Key("fingers", "with 2 this person may press two buttons independently of each other", ("1", "2"), "choice", "",
            "1"),
        Key("together", "how far apart this person touches, and lets go, the two buttons of a chord",
            ("up to 60 ms", "60 ms", "10 to 60 ms"), "time", "", "up to 60 ms"),
    )),
    Section("surroundings", "the sources, by name", (
        Key("SOURCE", "one source of presses or of interruptions, named as you like",
            ("{closes pad: 2 to 40 ms}", "{cell gone: up to 40 ms}"), "keys", YES),
    )),
    Section("surroundings.SOURCE", "a source", (
        Key("closes BUTTON", "how long it closes the button each time, or that it never lets go",
            ("2 to 40 ms", "up to 40 ms", "40 ms", "30 ms ± 10 ms", "for good"), "time", "without `cell gone`"),
        Key("then open at least", "how long it then leaves the button open", ("300 ms",), "time", "", "0 ms"),
        Key("then asleep within", "how soon the processor must sleep although the button is closed `for good`", ("10 min",),
            "time", "", "no limit"),
        Key("cell gone", "how long the cell loses contact each time",
            ("up to 40 ms", "5 to 40 ms", "40 ms", "30 ms ± 10 ms"), "time", "without `closes BUTTON`"),
        Key("then steady at least", "how long the cell then keeps contact, or its voltage", ("2 s",), "time", "", "0 ms"),
        Key("makes", "the events that it makes, in this order, over and over", ("footfall", "[footfall]"), "names",
            "for a source of events"),
        Key("then none for at least", "how long it then makes no event", ("300 ms",), "time", "", "0 ms"),
        Key("cell", "the voltage of the cell goes down and up at will", ("sags and recovers",), "choice",
            "for a weak cell"),
        Key("meant", "the device is for this, so it belongs to its use and isn't asked about as a disturbance",
            ("true", "false", "yes", "no"), "yes", "", "false"),
    )),
    Section("promises", "a promise written as keys", (
        Key("by", "the sources that act", ("[knocks]", "knocks"), "names",
            "with `never reaches` or `never changes`"),
        Key("never reaches", "the state or group that they never bring about", ("glowing",), "name"),
        Key("with", "a variable and its value, for a state that counts only with it", ("beam high",), "words"),
        Key("never changes", "what they never change: `state`, variables", ("[state, beam]", "state"), "names"),
        Key("together", "all sources act at once, instead of each by itself", ("yes", "no", "true", "false"), "yes", "",
            "no"),
        Key("in use", "while or after any use, instead of a device that nobody used", ("yes", "no", "true", "false"),
            "yes", "", "no"),
        Key("from", "the state or group in which the gestures begin, also with a value",
            ("stowed", "glowing with beam low"), "name", "with `gestures`"),
        Key("gestures", "the gestures or events, in their order", ("[hold, two taps]", "hold"), "names", "with `from`"),
        Key("reaches", "the state or group that is always reached, also with a value",
            ("glowing", "glowing with beam high"), "name", "with `left alone`"),
        Key("takes", "the variable that steps, the state staying the same", ("beam",), "name", "with `through`"),
        Key("through", "the values that it steps through, from each to the next", ("[low, high, low]",),
            "names", "with `takes`"),
        Key("stays in", "the state or group that isn't left too soon, also with a value", ("glowing",), "name",
            "with `for`"),
        Key("for", "how long it isn't left, once the firmware has seen the gestures", ("25 s",), "time", "with `stays in`"),
        Key("within", "by when, from the first touch, or from being left alone", ("3.5 s",), "time", "with `left alone`",
            "at any time"),
        Key("answers within", "how soon the firmware has seen the gestures", ("300 ms",), "time", "without `reaches`"),
        Key("left alone", "the state or group in which the device is left, also with a value",
            ("glowing", "glowing with beam low"), "name", "without `from`"),
        Key("in", "the state or group that always shows it", ("glowing",), "name", "with `always shows`"),
        Key("always shows", "what that state shows", ("a faint glow",), "words", "with `in`"),
    )),
    Section("clock", "the firmware's clock", (
        Key("off by", "how far the clock may run too fast or too slow, at most 20 %", ("5 %", "20 ppm", "± 2.5 %"),
            "share", "without `chip`"),
        Key("drift", "whether each counted time is off by itself, or all times of a specimen by one share, the same for a"
            " whole story", ("each time", "one clock"), "choice", "", "each time"),
        Key("elapsed up to", "the time after which elapsed time is nothing again, since it doesn't fit its type; matters"
            " where taps outlast sleep", ("65.536 s", "32.768 s"), "time", "", "it always fits"),
        Key("comes round", "the running clock, which counts from the start, is at nothing again at some time; matters where"
            " a lockout ends at a moment of the clock", ("at any moment",), "choice", "", "it never does"),
    )),
    Section("memory", "what outlives a loss of power", (
        Key("keeps", "what is kept: `state` and variables, in the order in which they are written",
            ("[state, beam]", "state"), "names", YES),
        Key("written", "when a change is written", ("at once", "after 2 s of quiet", "after 2 s ± 0.1 s of quiet"),
            "time", "", "at once"),
        Key("old layout", "what this firmware makes of a memory that an older one wrote in another layout",
            ("recognised", "read as it is"), "choice"),
        Key("write takes", "how long one write takes",
            ("3.4 ms ± 0.2 ms", "3.4 ms", "3 to 4 ms", "up to 4 ms", "3 to 4 ms per unit"), "time", "without `chip`"),
        Key("guard", "what a write that is cut short leaves behind: anything, a record known to be damaged, or the one"
            " before", ("none", "checksum", "two copies"), "choice", YES),
        Key("while writing", "whether the firmware sees presses and events while it writes", ("listens", "deaf"), "choice",
            "", "listens"),
        Key("may lose", "how old a change may be that needn't be kept", ("the last 10 ms", "nothing"), "time", "",
            "nothing"),
    )),
    Section("power up", "a start after a reset", (
        Key("takes", "the time from power to running firmware",
            ("70 ms ± 10 ms", "70 ms", "60 to 80 ms", "up to 80 ms", "70 ms ± 10 ms per unit"), "time", "without `chip`"),
        Key("if blank", "the state it starts in when memory holds nothing yet, or doesn't keep the state", ("stowed",),
            "name", "", "the one of `initial`"),
        Key("if damaged", "the state it starts in when memory holds nothing readable", ("stowed",), "name", "",
            "the one of `if blank`"),
        Key("starts in", "the state in place of `if blank` after resets of some causes; of several that are set the first"
            " one written counts", ("{supervisor: stowed, cut-off: glowing, cell: stowed}",), "keys", "",
            "the one of `if blank`"),
        Key("causes", "whether a start clears the causes that it has read, or leaves old ones set",
            ("read and cleared", "left set"), "choice", "", "read and cleared"),
        Key("button held", "what a button that is down at the start does",
            ("ignored until released", "counts as a press"), "choice", "", "ignored until released"),
    )),
    Section("power up.starts in", "a start by the cause of the reset", (
        Key("cell", "after a loss of power", ("stowed",), "name", "", "the one of `if blank`"),
        Key("cut-off", "after a reset by the power chip", ("stowed",), "name", "", "the one of `if blank`"),
        Key("supervisor", "after a reset by the supervisor", ("stowed",), "name", "", "the one of `if blank`"),
    )),
    Section("supply", "the supply", (
        Key("hold-up", "how long the device runs on without its cell; a shorter loss goes unnoticed",
            ("5 ms", "5 ms ± 1 ms", "4 to 6 ms", "5 to 8 ms per unit"), "time", YES),
        Key("latch", "a switch that a key closes while it is down, and that the firmware then holds; for a device that"
            " switches itself off altogether", ("{closed by: [pad], lets go: 5 ms}",), "keys", "with `unpowered`"),
        Key("cut-off", "a power chip that resets everything once a button was down for long, whatever the firmware does",
            ("{held: pad, for: 8 s ± 1 s}",), "keys", "", "nothing resets a device that has its cell"),
    )),
    Section("supply.cut-off", "a cut-off by the power chip", (
        Key("held", "the button that it watches: its contact, not what the firmware reads", ("pad",), "name", YES),
        Key("for", "how long the contact is closed without a break until it resets the device",
            ("8 s ± 1 s", "8 s", "7 to 9 s"), "time", YES),
    )),
    Section("supply.latch", "a power latch", (
        Key("closed by", "the keys that bring power back", ("[pad]", "pad"), "names", YES),
        Key("lets go", "how long it takes to open, from entering a state without power",
            ("5 ms", "up to 5 ms", "4 to 6 ms", "5 ms ± 1 ms", "4 to 6 ms per unit"), "time", YES),
    )),
    Section("supervisor", "a supervisor, or watchdog", (
        Key("after", "how long it isn't fed until it resets the device", ("8 s ± 20 %", "8 s", "6.4 to 9.6 s"), "time", YES),
        Key("in sleep", "whether it counts on while the processor sleeps and feeds nothing", ("runs", "stops"), "choice",
            YES),
    )),
    Section("ram", "what stays in RAM", (
        Key("keeps", "what stays there: `state` and variables", ("[state, beam]", "state"), "names", YES),
        Key("lasts", "how long it stays without power", ("200 to 900 ms", "500 ms", "500 ms ± 100 ms", "up to 900 ms"),
            "time", YES),
        Key("checked by", "how a start knows whether it stayed: a marker, which may outlast the values, or their checksum",
            ("marker", "checksum"), "choice", YES),
    )),
    Section("accepts", "an accepted failure", (
        Key("hazard", "the kind of failure", ("accidental-change",), "words", YES),
        Key("by", "the surroundings that may do it", ("[knocks]", "knocks"), "names", YES),
        Key("in", "the state or group in which it may happen", ("glowing",), "name", YES),
        Key("why", "the reason, for who reads the report", ("it looks like a tap",), "words", YES),
        Key("who", "whose decision it is", ("maker",), "words", YES),
        Key("granted", "the day of the decision", ("2026-11-20",), "words", YES),
    )),
)
# fmt: on
