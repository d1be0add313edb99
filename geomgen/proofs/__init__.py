"""Proofs."""
