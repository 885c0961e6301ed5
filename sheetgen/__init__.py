"""Protected skinfold workbooks for a class: build them, take them back, recompute every number."""

__all__ = ["__version__"]

__version__ = "0.1.0"
