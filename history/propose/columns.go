package propose

// columns are the indices of the columns of an array file; -1 where none.
// date is there where it stands apart from the time of day.
type columns struct{ tag, site, antenna, time, date int }

// role is one of our columns of an array file.
type role struct {
	ours string
	at   func(*columns) *int
}

var columnRoles = []role{
	{"tag", func(c *columns) *int { return &c.tag }},
	{"site", func(c *columns) *int { return &c.site }},
	{"antenna", func(c *columns) *int { return &c.antenna }},
	{"date", func(c *columns) *int { return &c.date }},
	{"time", func(c *columns) *int { return &c.time }},
}
