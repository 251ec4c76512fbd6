"""An invented board with its fabrication files, mistakes planted on purpose, and boards of a size for benchmarks."""
