"""A report to hand over: one page, the same on paper, worksite cards, a workbook of tables."""
