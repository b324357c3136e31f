"""Tuning and fitting a student's horn step by step."""
