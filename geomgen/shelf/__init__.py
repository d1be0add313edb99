"""Kinds of bend source, one file each: ``KIND``, ``Spec`` and ``offer(spec) -> Offer``."""
