"""Alarms after the states and words of IEC 62682 / ISA-18.2; no conformity is claimed.

states       every state and move, in one table
limits       conditions of one layout, judged as arrays
movement     rate of change and frozen values: conditions that need a memory of values
alarm        every alarm of the line: its state and its moves
causes       which alarm is the consequence of which
silent       which alarm tells that a device behind a link does not answer
people       what people do to alarms
flood        when there are more than a person can take in
performance  how a line's alarms behaved over a span, against published targets
remedies     what would make a bad actor quieter
wording      what an alarm says
defaults     starting values of deadband and delays, with their sources
"""
