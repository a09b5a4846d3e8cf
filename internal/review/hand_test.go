package review

// handWorked are three cases of testdata/bundles/clean, worked by hand from its
// CSV files (columns as linkHeader).
//
// K00000032, seen to day 860. Upper delivered on day 23 and remade on day 350: 327
// days at risk. Adjusted on days 24, 29, 30, that is 1, 6 and 7 days after delivery,
// one spot each (grades 1, 1, 2: no ulcer), 29+32+17 = 78 minutes. Lower delivered
// on day 39: 821 days, nothing.
//
// K00000007, seen to day 179, both delivered on day 43: 136 days. Upper adjusted on
// days 46, 53, 54, 56 (3, 10, 11, 13 after delivery), 31+18+12+15 = 76 minutes, a
// grade 3 spot at the first. Lower on days 59, 72, 130 (16, 29, 87), 11+21+26 = 58
// minutes; the spot on day 87 is no early one; a grade 3 on day 29.
//
// K00000018, seen to day 186. Upper delivered on day 16: 170 days, nothing. Lower on
// day 14: 172 days; adjusted on day 44, that is day 30, the last of the window for
// spots; relined on day 160, that is day 146.
var handWorked = map[string][]string{
	"K00000032": {
		"K00000032 upper P00000032 327 remade 3 3 78 1 - 327 - - -",
		"K00000032 lower P00000032 821 export 0 0 0 - - - - - -",
	},
	"K00000007": {
		"K00000007 upper P00000007 136 export 4 4 76 3 3 - - - -",
		"K00000007 lower P00000007 136 export 3 2 58 16 29 - - - -",
	},
	"K00000018": {
		"K00000018 upper P00000018 170 export 0 0 0 - - - - - -",
		"K00000018 lower P00000018 172 export 1 1 10 30 - - 146 - -",
	},
}
