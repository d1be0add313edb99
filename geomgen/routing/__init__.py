"""The router, on plain numbers: poses, lengths, radii and distance fields. mm and radians.

It knows nothing of engines or specs. Answers are ``Routed``, ``Impossible`` with a
certificate, or ``NotFound`` within a stated budget; a requested length is never changed.
"""
