"""Pure numbers: nodal solver, star networks, lossy lines and what they do to edges and pixels."""
