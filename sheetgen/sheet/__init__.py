"""The student's workbook: its tabs, its hidden calculator, its paper form."""
