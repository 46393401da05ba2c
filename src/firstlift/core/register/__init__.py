"""The register's entries as frozen values, their plain form, and the chain that holds their history.

places.py     owners, sites, protected systems, positions; intervals and rules in force
equipment.py  valves, installations, instruments, calibrations, checks before and after use
people.py     persons, what identifies them apart, what they may do until when
work.py       visits, identity checks, hold points, tests, adjustments, certificates, attachments
kinds.py      every kind of entry by its name; which are never edited
codec.py      an entry to and from plain values; the form of it that the chain holds
chain.py      entries of the audit chain and where it breaks
choose.py     what is in force: rules, intervals, installations, calibrations; due dates; identity at the valve
"""
