package chart

import "afterfit/internal/wording"

var english = wording.English()
