"""Tuning rules and gas properties: pure functions of SI numbers.

Lengths in m, angles in rad, temperatures in K, gas speeds in m/s. Engine speed alone
stays in the trade's rpm, and says so in every name. Each rule names its source and how
far the source is to be trusted (``Mark``).
"""
