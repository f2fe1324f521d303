"""Ortet: a plant lineage and provenance registry for small-scale propagators."""
