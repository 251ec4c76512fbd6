"""Outside files to and from the frozen types, one reader or writer a file."""
