"""The board: fabrication files against the dossier, before money moves."""
