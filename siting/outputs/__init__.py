"""Renderers of an assessment: results, table, map. Each is data first, then bytes; nothing here decides anything."""
