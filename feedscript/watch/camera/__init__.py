"""A camera by the court: from metres to pixels and back, with what is not known for certain."""

__all__ = ["camera", "geometry"]
