"""The grammar of promises, for people to read; `grammar` reads the sentences."""

from __future__ import annotations

from typing import Final

GRAMMAR: Final = """\
promise  = ( never | keeps | reaches | takes | stays | answers | settles | shows | lasts ) ;
never    = sources, " never ", ( "reach" | "reaches" ), " ", mode, [ use ] ;
keeps    = sources, " never ", ( "change" | "changes" ), " ", kept, { " or ", kept }, [ use ] ;
reaches  = "from ", mode, ", ", doing, " reaches ", mode, [ " within ", time ] ;
takes    = "from ", place, ", ", doing, " takes ", variable, " from ", steps, [ " within ", time ] ;
steps    = value, " to ", value, { " to ", value } ;
stays    = "from ", mode, ", ", doing, " stays in ", mode, " for ", time ;
answers  = "from ", place, ", ", gesture, { ", ", gesture }, " answers within ", time ;
settles  = "left alone, ", mode, " reaches ", mode, " within ", time ;
shows    = mode, " always shows ", words ;
lasts    = "cells last at least ", number, ( " h" | " d" | " months" | " years" ), " in ", name of use ;
doing    = ( gesture | event ), { ", ", ( gesture | event ) } ;
sources  = source, { " and ", source }, [ ", together," ] ;
source   = name of surroundings | "person" | "anything" | "blank memory" | "damaged memory" ;
mode     = place, [ " with ", variable, " ", value ] ;
place    = state | group ;
kept     = "state" | variable ;
use      = ", while someone uses it" ;
"""
"""Sentences, in EBNF (ISO/IEC 14977)."""
