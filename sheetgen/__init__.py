"""Protected skinfold workbooks for a class: build them, take them back, recompute every number."""

__version__ = "0.1.0"
