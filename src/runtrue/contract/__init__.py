"""Results as printed, in shown units."""
