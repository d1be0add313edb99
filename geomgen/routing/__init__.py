"""Routing."""
