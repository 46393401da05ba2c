"""The register's store: SQLite in a folder, or PostgreSQL by URL; recordings by content hash beside it.

open.py       make and open a store, bring an older one up to date
work.py       one unit of work: everything in it is committed with its entries in the chain, or nothing is
read.py       get and list entries
standing.py   where each valve stands today, kept up with every change
tables.py     the schema; migrations/ its history
"""
