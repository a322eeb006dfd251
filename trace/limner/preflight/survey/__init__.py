"""The sheet measured once for all checks, apart from what the stages say of their own work."""
