"""The order workbook: a sheet a supplier group, the quote, how sure it is."""
