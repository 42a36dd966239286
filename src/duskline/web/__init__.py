"""The pages: what the crew and the owner hold in the hand. No formulas and no SQL here."""
