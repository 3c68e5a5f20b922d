"""Pictures and reports: one drawing gives SVG and PDF. Values come from ``contract``; nothing is computed here."""
