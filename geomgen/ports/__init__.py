"""Port shapes, one file each: ``KIND``, ``Spec`` and ``loop(spec)``."""
