"""Drawer: patterns kept as plain files."""
