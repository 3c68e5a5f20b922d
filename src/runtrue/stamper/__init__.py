"""The stamper station: where the hole must go, whether it is good enough, how long the metal will last."""
