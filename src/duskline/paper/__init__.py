"""Printed sheets: the day sheet, the windshield card and the crew's cards."""
