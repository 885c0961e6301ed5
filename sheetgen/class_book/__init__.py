"""The teacher's workbook: settings, people, calipers, pairs, stations."""
