package review

import "context"

// estimate is the curve at a value as a figure in events per 100 dentures.
func (d Dose) estimate(p DosePoint) Estimate {
	return Estimate{Value: p.Rate, Low: p.Low, High: p.High, Level: d.Level, N: p.N, Events: p.Events, Unit: per100, Method: d.Method, Query: d.Query, TooFew: d.TooFew}
}

// ratio is the curve at a value as a ratio to the reference.
func (d Dose) ratio(p DosePoint) Estimate {
	return Estimate{Value: p.Ratio, Low: p.RatioLow, High: p.RatioHigh, Level: d.Level, N: p.N, Events: p.Events, Unit: "times the reference", Method: d.Method, Query: d.Query}
}

var doseColumns = with("hypothesis", "stated", "control", "figure", "mm")

// doseRows answers the question doses: slopes, reliability, tests, then the curve at round
// values.
func (q *asker) doseRows(ctx context.Context) ([][]any, error) {
	doses, err := q.doses(ctx)
	if err != nil {
		return nil, err
	}
	var rows [][]any
	for _, d := range doses {
		add := func(figure string, mm any, e Estimate) {
			rows = append(rows, []any{d.ID, d.Stated, d.Control, figure, mm, e})
		}
		plain := func(value Num, unit string) Estimate {
			return Estimate{Value: value, Low: noNumber(d.Level, "", "", "").Low, High: noNumber(d.Level, "", "", "").High, N: d.N, Events: d.Events, Unit: unit}
		}
		add("slope as read", "", d.Slope)
		add("slope, reading error out", "", d.Corrected)
		if d.Reading != nil {
			add("reliability", "", d.Reading.Reliability)
		}
		add("level curve", "", plain(d.Flat, "P"))
		add("level curve, over all curves", "", plain(d.Q, "q"))
		add("straight curve", "", plain(d.Bent, "P"))
		for _, p := range d.At {
			add("events", p.MM, d.estimate(p))
			add("ratio to the reference", p.MM, d.ratio(p))
		}
	}
	return rows, nil
}
