"""When each row was taken, in the order of the work: `parse` reads a column's text, `zones` and
`dates` know zones and single dates in words, `date_order` tells day first from month first,
`starts` finds what a count of time counts from, `utc` puts the columns together."""
