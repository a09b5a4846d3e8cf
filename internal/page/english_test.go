package page

var english = Options{}.words()
