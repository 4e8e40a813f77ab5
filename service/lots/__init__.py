"""The lot: its states, stays in tubs, holds, losses, splits."""
