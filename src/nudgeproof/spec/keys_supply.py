"""The keys of the electricity: what feeds the device, what draws current and when, and how it is used in a day."""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.key import YES, Key, Section

_LEVEL: Final = "supply.cells.LEVEL"

# fmt: off
ELECTRICITY: Final = (
    Section("supply.cells", "the cells, all together, from fresh to spent", (
        Key("fresh", "fresh cells, as a meter reads them", ("{open: 3.1 V, resistance: 12 ohm}",
            "{open: 3.1 V, with 9 mA: 2.95 V}"), "keys", YES, like=_LEVEL),
        Key("SHARE used", "the cells once this share of their charge is gone; between two such lines both voltage and"
            " resistance change evenly", ("{open: 2.9 V, resistance: 20 ohm}",), "keys", like=_LEVEL),
        Key("spent", "cells that hold nothing more", ("{open: 2.6 V, resistance: 60 ohm}",), "keys", YES, like=_LEVEL),
        Key("charge", "what fresh cells hold", ("220 mAh", "0.22 Ah"), "quantity", "", "how long they last isn't known"),
        Key("loses a year", "the share of that which they lose in a year by lying", ("3 %",), "share", "", "0 %"),
        Key("used until", "the share used at which they are changed; nothing is asked about later", ("80 %",), "share", "",
            "100 %"),
    )),
    Section(_LEVEL, "the cells at a share used", (
        Key("open", "the voltage without a load", ("3.1 V", "2.9 to 3.2 V", "3.1 V ± 0.1 V", "3.1 V ± 3 %"), "quantity",
            YES),
        Key("resistance", "by how much a load pulls the voltage down", ("12 ohm", "8 to 15 ohm", "12 ohm ± 20 %"),
            "quantity", "without `with CURRENT` and `with RESISTANCE`"),
        Key("with CURRENT", "the voltage with a load that draws this current; it says the resistance", ("2.8 V",),
            "quantity", "without `resistance` and `with RESISTANCE`"),
        Key("with RESISTANCE", "the voltage with this resistor as a load; it says the resistance", ("2.8 V",), "quantity",
            "without `resistance` and `with CURRENT`"),
    )),
    Section("supply.regulator", "a regulator between the cells and all loads", (
        Key("kind", "what it does with the voltage: `linear` lowers it, `boost` raises it, `buck-boost` does either",
            ("linear", "boost", "buck-boost"), "choice", YES),
        Key("makes", "the voltage that it makes", ("3.3 V", "3.2 to 3.4 V", "3.3 V ± 2 %"), "quantity", YES),
        Key("takes", "its own current", ("2 uA", "1 to 3 uA", "up to 3 uA"), "quantity", "", "0 uA"),
        Key("drops", "what the voltage of the cells must be above what it makes", ("150 mV", "100 to 200 mV", "up to 0.2 V"),
            "quantity", "", "0 mV"),
        Key("efficiency", "the share of the power it takes that it gives", ("80 to 90 %", "85 %"), "share",
            "with `boost` and `buck-boost`"),
        Key("works from", "the voltage of the cells below which it stops", ("0.9 V",), "quantity",
            "with `boost` and `buck-boost`"),
    )),
    Section("supply.capacitor", "a capacitor across the cells", (
        Key("size", "its capacitance", ("100 uF ± 20 %", "100 uF", "80 to 120 uF"), "quantity", YES),
        Key("resistance", "its own resistance, in series", ("0.5 ohm", "up to 1 ohm"), "quantity", "", "0 ohm"),
        Key("leaks", "the current that it draws by itself", ("1 uA", "up to 2 uA"), "quantity", "", "0 uA"),
    )),
    Section("supply.brown-out", "the brown-out reset", (
        Key("level", "the voltage at which it resets the processor, as the datasheet has it for all parts",
            ("2.5 to 2.9 V", "2.7 V ± 5 %", "2.7 V"), "quantity", YES),
        Key("hysteresis", "between where it resets and where it lets go; `level` is in the middle", ("50 mV",), "quantity",
            "", "0 mV"),
        Key("responds in", "how long the voltage must be below", ("2 us", "up to 2 us", "1 to 3 us", "2 us ± 1 us"), "time",
            "", "0 ms"),
        Key("asleep", "whether it works while the processor sleeps", ("works", "off"), "choice", "", "works"),
        Key("starts in", "the state in which the device starts after a brown-out reset, whatever memory kept", ("stowed",),
            "name", "with `tries`", "as after any reset"),
        Key("tries", "so many brown-outs in a row come back as after any reset; the one after them starts in `starts in`",
            ("2",), "words", "", "the first one starts there"),
        Key("raised to", "the level that the firmware sets when it starts, above `level`", ("2.6 to 2.8 V",), "quantity", "",
            "it leaves it as it is"),
    )),
    Section("loads", "the loads, by name", (
        Key("LOAD", "one thing that draws current, named as you like",
            ("{draws: 1 mA, while: running}", "{led: 2.1 V, resistor: 47 ohm ± 5 %, in: [glowing]}"), "keys", YES),
    )),
    Section("loads.LOAD", "a load", (
        Key("draws", "the current that it draws, on the mean while it is on", ("9 mA", "8 to 10 mA", "up to 2 uA",
            "9 mA ± 10 %"), "quantity", "without `power` and `resistor`"),
        Key("power", "the power that it draws, at any voltage", ("5 mW", "4 to 6 mW"), "quantity",
            "without `draws` and `resistor`"),
        Key("resistor", "a resistor; with `led` the one before the LED", ("47 ohm ± 5 %", "47 ohm"), "quantity",
            "without `draws` and `power`"),
        Key("led", "the forward voltage of the LED behind the resistor", ("2.1 V", "1.9 to 2.2 V"), "quantity"),
        Key("share", "how much of the time it is on while it is on, in pulses (PWM)", ("25 %",), "share", "", "100 %"),
        Key("peak", "its largest current", ("30 mA", "20 to 30 mA"), "quantity", "", "what it draws"),
        Key("pulse", "how long a peak, or a pulse of `share`, lasts at most", ("2 ms", "up to 2 ms"), "time", "",
            "longer than a capacitor smooths"),
        Key("needs", "the voltage below which it does nothing", ("2.4 V", "2.2 to 2.6 V"), "quantity", "",
            "what `led` says"),
        Key("in", "the states and groups in which it is on", ("[glowing]", "glowing"), "names", "", "every state"),
        Key("if", "it is on only while this condition holds", ("beam is high",), "words", "", "always"),
        Key("while", "it is on only while the firmware runs, the processor sleeps, the device starts, memory is written, or"
            " a button is down", ("running", "asleep", "starting", "writing", "always", "pad pressed"), "words", "",
            "always"),
        Key("at most", "the current that it may carry", ("20 mA",), "quantity", "", "no limit"),
        Key("works on", "that it does less and less at low voltage is meant", ("yes", "no", "true", "false"), "yes", "",
            "false"),
    )),
    Section("use", "days of use, by name", (
        Key("USE", "one kind of day, named as you like; `{}` is a day in a drawer", ("{glowing: 90 min, presses: 20}", "{}"),
            "keys", YES),
    )),
    Section("use.USE", "a day of use", (
        Key("STATE", "how long the device is in this state; the rest of the day it is in the one of `initial`",
            ("90 min", "2 h"), "time"),
        Key("presses", "how many gestures are made", ("20", "1 000"), "words", "", "none"),
        Key("times", "how often each of the surroundings acts", ("{knocks: 2000}",), "keys", "", "never"),
        Key("memory for", "how many years the memory must bear such days", ("5 years", "1 year"), "words"),
    )),
    Section("use.USE.times", "how often the surroundings act in a day", (
        Key("SOURCE", "how often this one acts", ("2000", "2 000"), "words", YES),
    )),
)
# fmt: on
