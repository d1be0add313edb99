"""Spec."""
