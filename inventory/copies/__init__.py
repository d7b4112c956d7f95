"""Copies of the whole studio: kept, looked through, and brought back.

A copy is one SQLite file, whichever database the studio is in: it needs no other program, the audit runs on it
where it lies, and a studio can move from one database to the other by way of it.
"""
