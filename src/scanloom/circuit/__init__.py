"""Pure numbers: nodal solver and star networks."""
