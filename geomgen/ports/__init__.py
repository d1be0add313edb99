"""Ports."""
