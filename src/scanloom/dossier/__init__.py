"""The design document and how its facts are read."""
