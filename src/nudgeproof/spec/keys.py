"""Every key of a spec, as one table: what it means, how it is written, whether it may be left out.

The reader doesn't look here: each section reads its own keys. A test holds the two against each other, so a key that is read
and not explained, or explained and not read, fails. From this table come `nudgeproof explain`, the page of reference in
`docs` and the schema for editors.
"""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.key import YES as YES
from nudgeproof.spec.key import Key as Key
from nudgeproof.spec.key import Section as Section
from nudgeproof.spec.keys_around import AROUND

# fmt: off
SECTIONS: Final = (
    Section("", "the spec", (
        Key("spec", "the version of this language", ("1",), "choice", YES),
        Key("device", "the name that stands at the head of each report", ("clip light",), "words", YES),
        Key("chip", "a kind of microcontroller, whose times fill in lines that the spec leaves out",
            ("small 8-bit", "paged 8-bit", "slow 8-bit", "32-bit flash page", "low-power 32-bit", "ferroelectric 16-bit"),
            "choice"),
        Key("buttons", "the contacts, and how the firmware reads them", ("{pad: {debounce: 20 ms}}",), "keys", YES),
        Key("queue", "how many gestures may wait while the firmware is deaf, those of the buttons with `read in: interrupt`;"
            " what comes when it is full is lost", ("4", "1"), "number", "", "4"),
        Key("gestures", "the presses that mean something", ("{hold: {held: 1.2 s}}",), "keys", YES),
        Key("variables", "what the device keeps in mind beside its state", ("{beam: [low, high]}",), "keys"),
        Key("initial", "the state or group the device starts in", ("stowed",), "name", YES),
        Key("states", "what the device can be doing, and what each gesture does then", ("{stowed: {}}",), "keys", YES),
        Key("person", "how the user presses, or the name of a habit; needed wherever somebody's habits are asked about",
            ("{tap: 60 to 350 ms, between: 80 to 220 ms, hold: 1.4 to 2.5 s}", "slow"), "name or keys"),
        Key("surroundings", "what presses a button, or takes the cell away, with nobody meaning it",
            ("{knocks: {closes pad: 2 to 40 ms}}",), "keys"),
        Key("promises", "sentences that must hold, see `nudgeproof explain promises`",
            ("[knocks never reach glowing]",), "sentences"),
        Key("clock", "how exact the firmware's own times are", ("{off by: 5 %}",), "keys", "", "{off by: 0 %}"),
        Key("memory", "what is still there after a loss of power",
            ("{keeps: [state], write takes: 3 ms, guard: two copies}",), "keys"),
        Key("power up", "what happens at a start after a reset", ("{takes: 70 ms ± 10 ms}",), "keys",
            "with `cell gone`"),
        Key("supply", "what feeds the device, and how it bears a loss of contact", ("{hold-up: 5 ms}",), "keys",
            "with `cell gone`"),
        Key("loads", "what draws current, and when", ("{processor: {draws: 1 mA, while: running}}",), "keys",
            "with `cells`"),
        Key("use", "days of use, for how long cells and memory last", ("{evenings: {glowing: 90 min, presses: 20}}",),
            "keys"),
        Key("supervisor", "a watchdog: it resets the device unless the running firmware feeds it",
            ("{after: 8 s ± 20 %, in sleep: stops}",), "keys", "", "there is none"),
        Key("ram", "values that stay in RAM through a short interruption, and are taken from there at the start",
            ("{keeps: [state], lasts: 200 to 900 ms, checked by: checksum}",), "keys", "", "none are"),
        Key("accepts", "failures that you know and accept; they are listed, not hidden",
            ("[{hazard: accidental-change, by: [knocks], in: glowing, why: it looks like a tap, who: maker,"
             " granted: 2026-11-20}]",), "entries"),
        Key("events", "what happens outside that the firmware is told of", ("{footfall: {}}",), "keys"),
        Key("cell", "how the firmware reads the voltage of its cell; it gives the events `cell low` and `cell fine`",
            ("{low below: 2.2 V, fine above: 2.4 V, read every: 10 s}",), "keys", "with `cell: sags and recovers`"),
        Key("depths", "how deep the processor may sleep, and what wakes it from there",
            ("{deep: {woken by: [level]}, doze: {woken by: [edge, level]}}",), "keys"),
        Key("outputs", "what the device switches, and what the pins do before any firmware runs",
            ("{lamp: {on in: [glowing], in reset: off}}",), "keys"),
        Key("harm", "the states and outputs that can do harm; what may come back by itself is then looked at",
            ("{glowing: {what: dazzles}}",), "keys"),
    )),
    Section("events", "the outside events, by name", (
        Key("EVENT", "one event, named as you like; `transitions` name it like a gesture", ("{}",), "keys", YES),
    )),
    Section("events.EVENT", "an event", (
        Key("wakes and counts", "the firmware also sees the event that woke it; else it only wakes",
            ("true", "false", "yes", "no"), "yes", "", "true"),
    )),
    Section("cell", "the voltage of the cell", (
        Key("low below", "the voltage below which the cell counts as low", ("2.2 V", "2200 mV"), "words", YES),
        Key("fine above", "the voltage above which a low cell counts as fine again", ("2.4 V", "2400 mV"), "words", YES),
        Key("read every", "the time between two looks at the cell, while the firmware listens",
            ("10 s", "10 s ± 1 s", "9 to 11 s"), "time", YES),
    )),
    Section("depths", "the depths of sleep, by name", (
        Key("DEPTH", "one depth, named as you like", ("{woken by: [level]}",), "keys", YES),
    )),
    Section("depths.DEPTH", "a depth of sleep", (
        Key("woken by", "what wakes the processor from there: an edge, a level, or both; an event wakes as an edge does",
            ("[level]", "[edge, level]", "edge"), "names", YES),
    )),
    Section("outputs", "the outputs, by name", (
        Key("OUTPUT", "one pin that switches something, named as you like", ("{on in: [glowing], in reset: off}",), "keys",
            YES),
    )),
    Section("outputs.OUTPUT", "an output", (
        Key("on in", "the states in which it is on", ("[glowing]", "glowing"), "names", YES),
        Key("in reset", "what the pin does between power and running firmware", ("off", "on", "floating"), "choice", YES),
    )),
    Section("harm", "what can do harm: states and outputs, by name", (
        Key("HARMFUL", "a state, or an output", ("{what: floods the room}",), "keys", YES),
    )),
    Section("harm.HARMFUL", "a harm", (
        Key("what", "what it does, as a verb", ("floods the room",), "words", YES),
        Key("second means", "what else prevents the harm", ("a float switch",), "words",
            "for an accepted failure in that state"),
        Key("restored", "it is wanted that the device comes back to it after a power cut", ("true", "false", "yes", "no"),
            "yes", "", "false"),
        Key("why", "why it must go on after a power cut", ("a pot must not dry out",), "words", "with `restored: true`"),
    )),
    Section("buttons", "the buttons, by name", (
        Key("BUTTON", "one contact, named as you like; up to four", ("{debounce: 20 ms}",), "keys", YES),
    )),
    Section("buttons.BUTTON", "a button", (
        Key("bounce", "how long the contact chatters at most after an edge", ("up to 8 ms", "8 ms"), "time", "",
            "up to 10 ms"),
        Key("debounce", "how long a level must be steady until the firmware believes it",
            ("20 ms ± 5 ms", "20 ms", "15 to 25 ms", "20 ms ± 5 ms per unit"), "time", "without `lockout` and `samples`"),
        Key("lockout", "how long the firmware looks away after an edge, which it believes at once",
            ("30 ms", "30 ms ± 5 ms", "25 to 35 ms"), "time", "without `debounce` and `samples`"),
        Key("lockout ends", "whether a lockout ends once its time has passed, or at a moment with which the firmware"
            " compares its running clock; where the clock comes round",
            ("after its time", "at a moment of the clock"), "choice", "", "after its time"),
        Key("samples", "how many equal samples in a row the firmware believes, and how often it takes one",
            ("4 every 5 ms", "4 every 5 ms ± 1 ms", "4 every 4 to 6 ms"), "time", "without `debounce` and `lockout`"),
        Key("rhythm in sleep", "whether the timer that paces `samples` begins anew when the processor runs again, or goes on"
            " while it sleeps", ("begins anew", "goes on"), "choice", "", "begins anew"),
        Key("edges apart", "the least time between two edges of chatter", ("at least 10 us",), "time", "",
            "at least 10 us"),
        Key("extra taps", "what further taps do after the gesture of the most taps in use",
            ("begin anew", "swallowed", "count as the largest"), "choice", "", "begin anew"),
        Key("release of a hold", "whether the release of a hold that was seen counts as that of a tap, too",
            ("nobody's", "a tap"), "choice", "", "nobody's"),
        Key("new state", "what becomes of a press during which a state is entered",
            ("forgets the press", "keeps the press", "begins it anew"), "choice", "", "forgets the press"),
        Key("hold counts from", "whether a hold counts from its own press, or from that of any button that is still down",
            ("its press", "any press"), "choice", "", "its press"),
        Key("waking press", "whether the first press after waking may be a tap; the last form forgets to clear the mark",
            ("counts", "no tap", "no tap until one came"), "choice", "", "counts"),
        Key("listens again", "what the firmware does with the button after being deaf or asleep",
            ("looks", "waits for an edge"), "choice", "", "looks"),
        Key("read in", "whether the button is read and its gestures are recognised in the main loop, which may be busy, or"
            " in an interrupt, which goes on while the firmware is deaf and puts them in the `queue`",
            ("main loop", "interrupt"), "choice", "", "main loop"),
        Key("where two fit", "what a press counts for that fits two gestures of one state: the spec is refused, or at the"
            " release the firmware takes that which stands first under `gestures`; its holds then act at the release",
            ("is refused", "the first in the file"), "choice", "", "is refused"),
        Key("length of a press", "whether the firmware looks all the while how long a press lasts, or only when it is let"
            " go, so that elapsed time may have come round; its holds then act at the release",
            ("looked at all the while", "reckoned at the release"), "choice", "", "looked at all the while"),
    )),
    Section("gestures", "the gestures, by name", (
        Key("GESTURE", "some presses, named as you like", ("{taps: 1, press: up to 400 ms}",), "keys", YES),
    )),
    Section("gestures.GESTURE", "a gesture", (
        Key("on", "the button that it is made on", ("pad",), "name", "with several buttons"),
        Key("together", "the two buttons of a chord, pressed together, in any order", ("[pad, rim]",), "names",
            "with `within`"),
        Key("within", "the firmware's limit: how long after the first button of a chord the second may come",
            ("60 ms", "60 ms ± 5 ms", "50 to 70 ms", "up to 60 ms"), "time", "with `together`"),
        Key("releases", "whether the releases of a chord that was seen belong to it, or each counts as that of a tap of its"
            " button, too", ("belong to the chord", "are taps"), "choice", "", "belong to the chord"),
        Key("taps", "how many short presses, 1 to 9", ("1", "2"), "number", "without `held`"),
        Key("press", "the firmware's limit: a press that lasts longer is no tap",
            ("up to 400 ms", "up to 400 ms ± 20 ms", "up to 400 ms ± 20 ms per unit"), "time", "with `taps`"),
        Key("between", "the firmware's limit: how long the next press may take to come, from the release or from press"
            " to press", ("up to 260 ms", "up to 260 ms ± 20 ms", "up to 260 ms from press to press",
             "up to 260 ms ± 20 ms per unit"), "time",
            "with two presses or more"),
        Key("presses", "the row of presses, in place of `taps`, `then held` and `then taps`",
            ("[tap, hold, tap]",), "names", "without `taps`"),
        Key("held", "the time after which a press is a hold; for a gesture that begins with one, for those in `presses`, or"
            " for both buttons of a chord",
            ("1.2 s", "1.2 s ± 0.1 s", "1.1 to 1.3 s", "at least 1.2 s", "1.2 s ± 0.1 s per unit"), "time",
            "without `taps`"),
        Key("then held", "the same, for a hold that comes after the taps",
            ("1.2 s", "1.2 s ± 0.1 s", "1.1 to 1.3 s", "at least 1.2 s", "1.2 s ± 0.1 s per unit"), "time"),
        Key("then taps", "how many taps come after the hold", ("1", "2"), "number"),
        Key("acts at", "when it is seen: a hold at the end when its time is reached or when the button is let go; a tap at"
            " the end when no longer gesture may come, when it is let go, or when it is pressed",
            ("threshold", "release", "pause", "press"), "choice", "", "`threshold` or `pause`"),
        Key("repeats every", "while it is held on, the gesture is seen again each time after this",
            ("200 ms", "200 ms ± 20 ms", "180 to 220 ms", "200 ms ± 20 ms per unit"), "time", "", "it is seen once"),
        Key("answered within", "how soon the firmware must have seen it, from the last release, or a hold's press",
            ("300 ms", "up to 300 ms"), "time", "", "no limit"),
    )),
    Section("variables", "the variables, by name", (
        Key("VARIABLE", "its values, 2 to 32, names or times; or whole numbers, up to 101 of them; the first is the one at"
            " the start", ("[low, high]", "[1 min, 5 min]", "0 to 20", "{values: 0 to 20, starts as: 5}"),
            "values or keys", YES),
    )),
    Section("variables.VARIABLE", "a variable", (
        Key("values", "its values, in the order in which they step", ("[low, high]", "[1 min, 5 min]", "0 to 20"),
            "values", YES),
        Key("at the ends", "what comes after the last value and before the first: round again, or nothing",
            ("wrap", "stop"), "choice", "", "wrap for a list, stop for whole numbers"),
        Key("starts as", "the value at the start", ("high",), "words", "", "the first value"),
    )),
    Section("states", "the states, by name", (
        Key("STATE", "one state, named as you like", ("{shows: a faint glow}", "{}"), "keys", YES),
        Key("GROUP", "states that share what they have in common, named as you like", ("{states: {dim: {}, bright: {}}}",),
            "keys"),
    )),
    Section("states.GROUP", "a group of states", (
        Key("states", "the states in it, by name; no two states or groups of a spec have the same name",
            ("{dim: {}, bright: {}}",), "keys", YES),
        Key("starts in", "the one that a line leading to the group enters", ("bright",), "name", "", "the first of them"),
        Key("shows", "what each of them shows that says nothing of its own", ("a faint glow", "beam"), "words", "",
            "nothing"),
        Key("transitions", "what gestures and times do in each of them; a gesture that a state has itself does only that"
            " there; times run from when the group is entered", ("{hold: stowed, after 4 h: stowed}", "{}"), "keys", "",
            "nothing leads out of it", "states.STATE.transitions"),
    )),
    Section("states.GROUP.states", "the states of a group, by name", (
        Key("STATE", "one state, with the same keys as any other", ("{shows: a faint glow}", "{}"), "keys", YES,
            like="states.STATE"),
    )),
    Section("states.STATE", "a state", (
        Key("sleep", "the processor sleeps in this state until a button wakes it",
            ("{ready in: 2 ms, dozes again after: 50 ms}",), "keys", "", "the processor stays awake"),
        Key("waiting", "the state only waits for the rest of the way on; the device is not yet on in it, and it must be"
            " left by a time", ("true", "false", "yes", "no"), "yes", "", "false"),
        Key("shows", "what a person sees, hears or feels: words, or the name of a variable",
            ("a faint glow", "beam"), "words", "", "nothing"),
        Key("on entering", "what happens whenever the state is entered", ("{set: {beam: low}}",), "keys", "", "nothing"),
        Key("transitions", "what gestures and times do in this state; other gestures do nothing",
            ("{hold: stowed, after 3 s: stowed}", "{}"), "keys", "", "nothing leads out of it"),
        Key("at most", "the longest that the device may stay in it with nobody using it", ("4 h",), "time", "", "no limit"),
        Key("repeats", "it is meant that the device comes back here by itself, again and again",
            ("true", "false", "yes", "no"), "yes", "", "false"),
        Key("busy", "how long the firmware may be deaf after the state is entered",
            ("up to 300 ms", "300 ms", "200 to 300 ms", "300 ms ± 10 ms"), "time", "", "it listens at once"),
        Key("unpowered", "the device has no power in this state, until a key closes the `latch` of `supply`",
            ("true", "false", "yes", "no"), "yes", "", "false"),
    )),
    Section("states.STATE.sleep", "how a state sleeps", (
        Key("woken by", "the buttons and events that wake the processor", ("[pad]", "pad"), "names", "", "every button"),
        Key("on", "what of the button wakes it: it closes or opens (`edge`), or it is closed (`level`)",
            ("edge", "level"), "choice", "", "edge"),
        Key("ready in", "how long the processor takes from the wake until it runs",
            ("2 ms ± 1 ms", "2 ms", "1 to 3 ms", "up to 3 ms", "1 to 3 ms per unit"), "time", "without `chip`"),
        Key("dozes again after", "how long all must be quiet before it goes to sleep",
            ("50 ms", "50 ms ± 5 ms", "40 to 60 ms", "50 ms ± 5 ms per unit"), "time", YES),
        Key("depth", "how deep it sleeps: a name of `depths`", ("deep",), "name", "", "everything in `woken by` wakes it"),
        Key("each step", "how long each step of going to sleep takes", ("up to 20 us",), "time", "", "up to 20 us"),
        Key("ignores a held button after", "the time after which a button that stays down no longer keeps it awake",
            ("30 s", "30 s ± 1 s", "29 to 31 s", "30 s ± 1 s per unit"), "time", "", "never"),
        Key("steps", "what going to sleep is made of, in its order; all but `sleep`, the last, may be left out",
            ("[clear, arm, check, sleep]", "[check, clear, sleep]", "sleep"), "names", "", "[clear, arm, check, sleep]"),
        Key("late edge", "what a waking edge after the last look does: it keeps the processor awake, or a handler takes it"
            " and the processor sleeps all the same", ("keeps it awake", "goes unseen"), "choice", "", "keeps it awake"),
        Key("unarmed edges", "what an edge does before the wake source is armed: it sets the wake flag all the same, or this"
            " chip drops it (then in all states)", ("set the flag", "are lost"), "choice", "", "set the flag"),
        Key("press counts from", "from when the press that wakes is taken to last: when it is read, or the edge that woke",
            ("reading", "waking"), "choice", "", "reading"),
        Key("pending taps", "whether taps that wait for more keep the processor awake, or their pause goes on in sleep, or"
            " begins anew at waking since the clock stands still, or goes on at waking with what was left of it",
            ("keep it awake", "outlast sleep", "begin anew at waking", "go on at waking"), "choice", "", "keep it awake"),
    )),
    Section("states.STATE.on entering", "what entering a state does", (
        Key("set", "variables with the value they get, but for those that the line leading there names after `keep`",
            ("{beam: low}",), "keys", YES),
    )),
    Section("states.STATE.on entering.set", "variables with their values", (
        Key("VARIABLE", "the value that it gets", ("low",), "words", YES),
    )),
    Section("states.STATE.transitions", "what leads out of a state", (
        Key("GESTURE", "the state or group that the gesture, or the event of this name, leads to, or keys, or a list of"
            " cases of which at most one applies",
            ("stowed", "{next: beam}", "[{if: beam is high, to: stowed}, {if: beam is not high, next: beam}]"),
            "cases"),
        Key("waking", "what waking does by itself, whatever woke the processor; in a state with `sleep`",
            ("glowing", "{next: beam}"), "cases", like="states.STATE.transitions.GESTURE"),
        Key("after TIME", "what happens by itself, so long after the state was entered; TIME may end with `per unit`",
            ("stowed", "{to: stowed}", "{next: beam, restarts: true}", "[{if: beam is high, to: stowed}]"), "cases"),
        Key("after VARIABLE", "the same, with a time that is the value of a variable; it begins anew when that changes",
            ("stowed", "{to: stowed}"), "cases", like="states.STATE.transitions.after TIME"),
        Key("after TIME with BUTTON open", "the same, but the time runs only while the button is open, and anew after"
            " each press", ("stowed", "{to: stowed}"), "cases", like="states.STATE.transitions.after TIME"),
        Key("every TIME", "what happens again and again, until the state is left; `every VARIABLE` and `with BUTTON open`"
            " as with `after`", ("{next: beam}", "[{if: beam is high, to: stowed}, {if: beam is not high, next: beam}]"),
            "cases", like="states.STATE.transitions.after TIME"),
    )),
    Section("states.STATE.transitions.GESTURE", "what a gesture does", (
        Key("if", "only while this condition holds; each of several cases has one",
            ("beam is high", "beam is low or high", "beam is not high"), "words", "", "always"),
        Key("to", "the state or group it leads to; without it the state isn't left", ("stowed",), "name",
            "without `next`, `previous` or `set`"),
        Key("next", "variables that step to their next value", ("beam", "[beam]"), "names",
            "without `to`, `previous` or `set`"),
        Key("previous", "variables that step to their previous value", ("beam", "[beam]"), "names",
            "without `to`, `next` or `set`"),
        Key("set", "variables with the value they get", ("{beam: low}",), "keys", "without `to`, `next` or `previous`",
            like="states.STATE.on entering.set"),
        Key("keep", "variables that stay as they are although entering the state sets them", ("beam", "[beam]"), "names", "",
            "`on entering` counts"),
        Key("restarts", "the times of the state begin anew, although it isn't left", ("true", "false", "yes", "no"),
            "yes", "", "false"),
    )),
    Section("states.STATE.transitions.after TIME", "what a time does", (
        Key("if", "only while this condition holds; each of several cases has one", ("beam is high",),
            "words", "", "always"),
        Key("to", "the state or group it leads to; without it the state isn't left, which is better written `every TIME`",
            ("stowed",), "name", "without `restarts`"),
        Key("next", "variables that step to their next value", ("beam", "[beam]"), "names"),
        Key("previous", "variables that step to their previous value", ("beam", "[beam]"), "names"),
        Key("set", "variables with the value they get", ("{beam: low}",), "keys", like="states.STATE.on entering.set"),
        Key("keep", "variables that stay as they are although entering the state sets them", ("beam", "[beam]"), "names", "",
            "`on entering` counts"),
        Key("restarts", "without `to`: the time begins anew when it is over; `every TIME` says that by itself",
            ("true", "yes"), "yes", "without `to`"),
    )),
    *AROUND,
)
# fmt: on


def get_section(path: str) -> Section | None:
    """The section with this path, if it has keys of its own."""
    return next((section for section in SECTIONS if section.path == path), None)


def get_below(section: Section, key: Key) -> Section | None:
    """The section whose keys stand in `key`, if there are any."""
    return get_section(key.like or f"{section.path}.{key.name}".lstrip("."))


def is_placeholder(name: str) -> bool:
    """Whether a key as a whole stands for a name that the maker gives: `BUTTON`."""
    return name.isupper()


def tell_path(path: str) -> str:
    """Where a section stands, in words: "the top of the spec", or `states: STATE: sleep`."""
    return f"`{path.replace('.', ': ')}`" if path else "the top of the spec"
