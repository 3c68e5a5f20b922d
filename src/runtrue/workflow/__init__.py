"""The layer that joins the rooms; one module per moment."""
