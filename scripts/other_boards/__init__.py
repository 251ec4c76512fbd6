"""Invented circuits such as other people draw, as netlists and tables in many spellings, to be reviewed like strangers' boards."""
