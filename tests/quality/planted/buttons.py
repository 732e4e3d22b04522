"""Faults in contacts, readers, recognisers and chords."""

from __future__ import annotations

from tests.quality.planted.fault import (
    ATTENTIVE,
    CHORD,
    CLAIMS,
    CONTACT,
    OUTSIDE,
    PRESS_LENGTH,
    READER,
    RECOGNISER,
    SLEEP,
    into,
    like_the_naive_one,
)

_contact = into("parts/contact", CONTACT, READER)
_reader = into("parts/reader", READER)
_recogniser = into("parts/recogniser", RECOGNISER, CLAIMS)
_chord = into("parts/chord", CHORD)
_waking = into("parts/waking_press", CLAIMS)
_length = into("parts/press_length", PRESS_LENGTH)
_MARKED = like_the_naive_one("waking press is no tap", "waking press leaves a mark", "waking press, cells")

FAULTS = (
    _contact("chatter may last for ever", "Timer(SETTLES, 0, button.bounce_us)", "Timer(SETTLES, 0, FOREVER)"),
    _contact(
        "chatter leaves the level as it likes",
        "Choice((wanted, wanted, False), send",
        "Choice((wanted, level, False), send",
    ),
    _contact("chatter flips as fast as it likes", "Timer(CHATTERS, button.edges_apart_us", "Timer(CHATTERS, 0"),
    _contact("an old burst goes on after a new edge", "restart=(SETTLES, CHATTERS)", "restart=(CHATTERS,)"),
    _contact(
        "a contact closes when all of its sources hold it",
        "any(reads[name] for name in holds)",
        "all(reads[name] for name in holds)",
    ),
    _contact("nothing chatters", "bursts = chatters and", "bursts = False and"),
    _contact("pressed freely before, it never chatters again", "bool(reads[chatters_if])", "not chatters_if", CHORD),
    _reader(
        "a level that comes back is accepted all the same",
        "Choice((reading, reads[level_name] != reading)",
        "Choice((reading, True)",
        *like_the_naive_one("sleeps on edge"),
    ),
    _reader(
        "an edge doesn't begin the debounce anew",
        ", restart=(ACCEPTS,)",
        "",
        same="each edge turns the level round, so of two in a row one drops the time that was running; and when the "
        "firmware begins to listen none runs, since it was dropped when it ceased to",
    ),
    _reader(
        "nothing is read at the end of a lockout",
        "return looks((reading, False), reads)",
        "return (Choice((reading, False)),)",
        *like_the_naive_one("lockout"),
    ),
    _reader(
        "a lockout hears edges all the while",
        "if deaf or reads[level_name] == reading:",
        "if reads[level_name] == reading:",
        *like_the_naive_one("lockout"),
    ),
    _reader(
        "one sample fewer is enough",
        "count + 1 == rule.count",
        "count + 2 >= rule.count",
        *like_the_naive_one("samples"),
    ),
    _reader(
        "a sample that finds nothing leaves the count",
        "Choice((reading, 0), says=says",
        "Choice((reading, count), says=says",
        *like_the_naive_one("samples"),
    ),
    _reader(
        "the first sample comes a period later",
        "Timer(FIRST_SAMPLE, 0,",
        "Timer(FIRST_SAMPLE, every.lo,",
        *like_the_naive_one("samples"),
        "tests/test_rhythm.py",
    ),
    _reader(
        "what was waited for outlasts deafness",
        "Choice((reading, kind.idle))",
        "Choice(local)",
        *like_the_naive_one("an idle button, slow steps", "events"),
    ),
    _reader(
        "a sleeping processor reads edges",
        "signal == edge and not reads[hearing.value]",
        "signal == hearing.ends",
        SLEEP,
        ATTENTIVE,
    ),
    _reader(
        "a held button isn't taken over at the start",
        "bool(held_ignored and reads[level_name])",
        "bool(None)",
        OUTSIDE,
        *like_the_naive_one("no memory"),
    ),
    _reader(
        "a reset leaves the reading",
        "Choice((False, kind.idle))",
        "Choice(local)",
        *like_the_naive_one("no memory", "checksum", "lockout, checksum"),
    ),
    _recogniser(
        "the first tap may last for ever",
        "not self.hold(press) and gesture.press",
        "not self.hold(press) and press > 1 and gesture.press",
    ),
    _recogniser(
        "a shorter pattern doesn't wait for a longer one",
        "if pattern.goes_on(press)]",
        "if pattern.goes_on(press) and not done]",
    ),
    _recogniser("in the pause the complete pattern is forgotten", 'done[0].gesture.name if done else ""', '""'),
    _recogniser(
        "a pause goes on in the next state",
        'if phase in ("extra", "extra down"):',
        'if phase in ("gap", "extra", "extra down"):',
        *like_the_naive_one("never sleeps"),
    ),
    _recogniser(
        "a state that is entered ends the swallowing",
        'if phase in ("extra", "extra down"):',
        "if False:",
    ),
    _recogniser(
        "falling asleep forgets no press",
        'return (Choice(SPENT if phase in ("down", "spent", "repeating", "held", "extra down") else IDLE),)',
        'return (Choice(local if signal == ASLEEP or phase == "idle" else SPENT),)',
        CHORD,
        *like_the_naive_one("an idle button, slow steps", "slow steps", "slow steps, two sleeping states"),
    ),
    _recogniser(
        "a chord leaves the presses what they were",
        'return (Choice(SPENT if phase in ("down", "spent", "repeating", "held", "extra down") else IDLE),)',
        'return (Choice(local if signal != ASLEEP or phase == "idle" else SPENT),)',
        CHORD,
    ),
    _recogniser(
        "a hold that is reached drops the longer ones",
        'if pattern.hold(press) not in ("", mark)]',
        "if pattern.hold(press) == timer]",
    ),
    _recogniser(
        "a tap that doesn't wait ends the longer ones", '("gap", press, _names(longer), "") if longer else IDLE', "IDLE"
    ),
    _recogniser(
        "where two may fit a hold that is reached replaces a shorter one",
        "reached = tuple(sorted((*_reached(mark), timer)))",
        "reached = (timer,)",
    ),
    _recogniser(
        "where two may fit a hold that is reached drops what is a tap",
        'as_it_lasted = ("", *mark) if isinstance(mark, tuple) else (mark,)',
        "as_it_lasted = mark if isinstance(mark, tuple) else (mark,)",
    ),
    _recogniser(
        "where two may fit the first line of the state counts",
        "used = [gesture for gesture in gestures.values() if gesture in used]",
        "pass",
    ),
    _recogniser(
        "where two may fit a hold is reached anew",
        "timers.pop(reached, None)",
        "pass",
        like_the_naive_one("two may fit")[0],
    ),
    _recogniser("the release of a hold is nobody's in any case", 'button.claims.after_hold == "a tap"', "False"),
    _recogniser(
        "the release of a hold is a tap only in the state of the hold",
        'if phase in ("repeating", "held"):',
        'if phase == "repeating":',
    ),
    _recogniser(
        "a kept press is kept with none of its patterns", 'button.claims.new_state == "keeps the press"', "False"
    ),
    _recogniser(
        "a press that begins anew goes on with its old times",
        'if button.claims.new_state == "begins it anew":',
        'if button.claims.new_state == "begins it anew" and phase != "down":',
        *like_the_naive_one("press begins anew"),
    ),
    _recogniser(
        "holds count from another press for ever",
        "and not any(reads",
        "and False and not any(reads",
        *like_the_naive_one("holds of any press", "holds of any press, several"),
    ),
    _recogniser(
        "a hold that was lent begins anew at the press",
        "for name in begun.restart if name not in holds",
        "for name in begun.restart",
        *like_the_naive_one("holds of any press", "holds of any press, several"),
    ),
    _waking("a start is a waking", "return choices if mark == STARTING", "return choices if False", *_MARKED),
    _waking("the mark is left behind in any case", "MARKED if stays else", "MARKED if True else", *_MARKED),
    _waking("the mark is cleared in any case", "MARKED if stays else", '"" if stays else', *_MARKED),
    _waking("a reached hold is a tap", '== "down" and not inner[3]', '== "down"', *_MARKED),
    _waking(
        "what acts at its press isn't passed over", "signal == down and any(", "signal == down and not any(", *_MARKED
    ),
    _recogniser("a hold fires though a longer one may come", "if len(left) == 1 and has_lasted", "if has_lasted"),
    _recogniser("a hold that acts at release fires while down", " and not gesture.at_release", ""),
    _recogniser(
        "a hold let go too soon counts",
        "if pattern.hold(press) in as_it_lasted]",
        "if not mark or pattern.hold(press) in as_it_lasted]",
    ),
    _recogniser(
        "the pause always runs from the release",
        "if gesture.between_presses and press < len(self.holds):",
        "if gesture.between_presses and press < 0:",
    ),
    _recogniser(
        "a tap too many begins anew though taps are swallowed",
        'if phase == "extra":\n                return',
        'if phase == "extra down":\n                return',
    ),
    _recogniser(
        "in the pause nothing is pending",
        '_split(local)[0] in ("down", "gap",',
        '_split(local)[0] in ("down",',
        *like_the_naive_one("sleeps on edge", "slow steps"),
        SLEEP,
    ),
    _recogniser(
        "while taps are swallowed nothing is pending",
        '"gap", "repeating", "extra"),)',
        '"gap", "repeating"),)',
        *like_the_naive_one("taps swallowed"),
    ),
    _recogniser("a single tap can be the largest", "gesture.taps == largest > 1", "gesture.taps == largest > 0"),
    _recogniser(
        "a reset forgets nothing that was begun",
        "if signal == RESET:\n            return (Choice(IDLE),)",
        "if signal == RESET:\n            return (Choice(local),)",
        *like_the_naive_one("no memory", "checksum, never sleeps", "cells"),
    ),
    _recogniser(
        "a press that is held at the start counts",
        "Choice(SPENT if held_ignored and",
        "Choice(IDLE if held_ignored and",
        same="nobody's press and idle are told apart in words only: neither has a timer, is pending or fires at the release",
    ),
    _recogniser("a longer hold is named by a shorter one's time", " if g.held == gesture.held]", "]"),
    _chord("a chord may be joined as late as one likes", "else (lasting(TOO_LATE, what.within),)", "else ()"),
    _chord(
        "a press whose own gesture fired may be joined",
        'local == ("one", own.get(signal, button))',
        'local == ("one", button)',
    ),
    _chord(
        "a press from before a change of state may be joined",
        "Choice(CLAIMED if joined else OPEN)",
        "Choice(CLAIMED if joined else local)",
    ),
    _chord("after one is let go further presses are ordinary ones", "CLAIMED if any(", "CLAIMED if all("),
    _chord("a held chord counts though one was let go", "Choice(CLAIMED if any(", "Choice(local if any("),
    _chord(
        "of two chords both are joined",
        ' or any(button in shared and reads[f"{name} claims"] for name, shared in rivals)',
        "",
    ),
    _recogniser(
        "a press of a chord that is still down fires at its beginning",
        "if any(reads[joined] for joined in chords):",
        "if reads is None:",
        CHORD,
    ),
    _chord("a chord counts in any state", 'reads["state"] not in in_use or ', ""),
    _chord(
        "a chord outlasts falling asleep",
        "signal in (RESET, STARTED, ASLEEP)",
        "signal in (RESET, STARTED)",
        *like_the_naive_one("a chord in sleep, slow steps"),
    ),
    _length(
        "the length of a press never comes round",
        "(*recogniser.armed(local.inner, reads), lasting(ROUND, elapsed))",
        "recogniser.armed(local.inner, reads)",
    ),
    _length(
        "a press comes round with its old limits",
        "line=button.at.line, restart=anew)",
        "line=button.at.line)",
    ),
    _length("a press comes round as what it is by then", "replace(local, inner=local.begun), says", "local, says"),
    _length("a press that begins anew keeps its time", "restart=(*choice.restart, ROUND)", "restart=choice.restart"),
    _length(
        "a press that is kept doesn't come round",
        "return choices if begun is None else",
        "return choices if begun else",
    ),
    _length(
        "a press that is kept comes round as all that it was",
        "for name in alive if name in used)",
        "for name in alive)",
    ),
    _length(
        "a press comes round in any state",
        "        return choices\n\n    def shown",
        "        is_old = signal == CHANGED and isinstance(local, Reckoned)\n"
        "        return _keep(local.begun, choices) if is_old else choices\n\n    def shown",
    ),
    _waking(
        "a press that comes round is no tap to the mark",
        "inner = inner.inner if isinstance(inner, Reckoned) else inner",
        "pass",
        *like_the_naive_one("press comes round, begins anew, waking press"),
    ),
    _chord("a chord gives one release back", "for button in what.buttons) if", "for button in what.buttons[:1]) if"),
    _chord("a chord gives back what is its own", " if what.gives_back else ()", ""),
    _chord(
        "a chord gives back before it counts",
        "return Choice(BOTH, send, says",
        "return Choice(BOTH, (*send, *returns), says",
    ),
    _recogniser(
        "a release given back is a tap only in the state of the chord",
        'Choice(local if phase == "held" else after_hold)',
        "Choice(after_hold)",
        CHORD,
    ),
    _recogniser(
        "a release given back counts only where those of holds do",
        'if phase == "held" or (phase == "repeating" and after_hold != SPENT):',
        'if phase in ("held", "repeating") and after_hold != SPENT:',
        CHORD,
    ),
)
