"""A maker's firmware, C or a program, run on this computer in virtual time: pressed, cut from power, and recorded.

With the command line the only floor that starts processes and touches the disk. `settings`, `stimulus` and `protocol`
read texts and do neither. The harness that firmware is linked with is C, in `harness`.
"""
