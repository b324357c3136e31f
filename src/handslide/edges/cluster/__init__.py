"""Machines that work together under a scheduler of Dask distributed."""
