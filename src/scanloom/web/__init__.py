"""The page: one dossier, one user, one machine."""
