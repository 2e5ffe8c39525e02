package web

func homeRoutes() []route {
	return []route{get("/", anybody, (*visit).home)}
}

type homePage struct {
	Frame
}

func (v *visit) home() error {
	return v.show("home", homePage{Frame: v.frame("Boats back to the water")})
}
