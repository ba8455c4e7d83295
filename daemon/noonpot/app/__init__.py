"""The one place that wires the parts together."""
