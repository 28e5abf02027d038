"""Files and workbooks to tables of values in inner units."""
