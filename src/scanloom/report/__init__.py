"""A survey as text or JSON: the only place that chooses words for units."""
