"""Costly or foreign code in child processes with limits of time and memory.

A leash, not a jail: it keeps the program alive when a library dies, hangs or grows on a file; it
doesn't guard against a library that has been taken over.
"""
