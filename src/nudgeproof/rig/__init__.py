"""A maker's C firmware run on this computer in virtual time: built, pressed, cut from power, and recorded.

With the command line the only floor that starts processes and touches the disk. `settings` and `stimulus` read texts and do
neither. The harness that firmware is linked with is C, in `harness`.
"""
