"""Charge, counted exactly, with an account of the time that could and could not be metered.

charge      exact trapezoids in integers, one sample at a time or many
deposit     the share of a charge that lays down metal, where efficiency follows a curve
gaps        how far apart two good samples may lie
meter       a device's own ampere-hour meter: rollover, reset, what it recovers, its drift
steadiness  whether a current has been steady
ledger      one rectifier: its charge and its account of time
recovery    what its meter adds: gaps filled, resets told, drift found
many        many samples at once, the same to the bit
"""
