"""Noonpot watches food in solar cookers, so that you can leave."""

__version__ = "0.1.0"
