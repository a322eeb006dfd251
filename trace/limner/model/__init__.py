"""Values that flow between the stages: frozen, without algorithms."""
