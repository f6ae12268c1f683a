"""Published tables of children's bodies; sources.md says where each comes from."""
