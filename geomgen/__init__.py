"""geomgen: one YAML spec to tubular exhaust headers."""
