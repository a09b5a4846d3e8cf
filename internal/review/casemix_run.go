package review

import (
	"encoding/json"
	"fmt"
	"math"
)

// ReadStandard reads a saved standard and refuses anything else.
func ReadStandard(raw []byte) (*Standard, error) {
	var s Standard
	if err := json.Unmarshal(raw, &s); err != nil {
		return nil, fmt.Errorf("not a saved case-mix standard: %w", err)
	}
	if s.Kind != StandardKind || len(s.Models) == 0 {
		return nil, fmt.Errorf("not a saved case-mix standard: its kind is %q", s.Kind)
	}
	if s.Schema != SchemaVersion {
		return nil, fmt.Errorf("the standard has form %d, this program reads form %d: save it again", s.Schema, SchemaVersion)
	}
	for _, m := range s.Models {
		if !m.Intercept.Known() {
			return nil, fmt.Errorf("the standard's model of %s has no intercept", m.Outcome)
		}
	}
	return &s, nil
}

// SavedStandard is the standard that findings amount to: the models that they used.
func SavedStandard(f *Findings) Standard {
	s := Standard{Schema: SchemaVersion, Kind: StandardKind, Version: f.Version, Fingerprint: f.Fingerprint, AsOf: f.AsOf, Models: []MixModel{}}
	for _, m := range f.Mix {
		s.Models = append(s.Models, m.Model)
	}
	return s
}

// mixFit finds the model of an outcome, saved or own, checks it and works out every
// denture's expected events.
func (q *asker) mixFit(d *mixData, c counted) (*MixFit, *mixExpected, error) {
	o := d.d.outcome(c.outcome)
	cells := d.count(o)
	if len(cells) == 0 {
		return nil, nil, nil
	}
	fit, folds, err := q.chooseModel(d, c, cells)
	if err != nil || fit == nil {
		return nil, nil, err
	}
	all, notes := d.predict(fit.Model, cells)
	fit.Notes = append(fit.Notes, notes...)
	if folds == nil {
		folds = [][]float64{all}
	}
	whole := make([]int64, len(all))
	for i, r := range all {
		whole[i] = int64(math.Round(1e9 * math.Min(r, 1e6)))
	}
	m := d.expect(o, whole)
	fit.Model.Dispersion = Num(m.dispersion())
	return fit, m, q.checkMix(fit, cells, folds)
}

// chooseModel takes the saved model of an outcome, or fits one and pulls it in by its
// cross-validated slope (van Houwelingen & le Cessie 1990, Stat Med 9:1303): a fit on
// few events sees differences that are not there, and expected counts would follow
// them. Without an event there is nothing to expect, and no model.
func (q *asker) chooseModel(d *mixData, c counted, cells []mixCell) (*MixFit, [][]float64, error) {
	fit := &MixFit{Notes: []string{}}
	if m := q.s.Standard.model(c); m != nil {
		fit.Model, fit.Saved = *m, true
		return fit, nil, nil
	}
	var events int64
	for _, cell := range cells {
		events += cell.y * cell.n
	}
	if events == 0 {
		return nil, nil, nil
	}
	m, folds, notes, err := d.ownModel(c, cells)
	if err != nil {
		return nil, nil, err
	}
	slope := q.slope(predictions(cells, folds), 1, m.N)
	factor := 0.0 // one rate for all where no slope can be told
	if slope.Value.Known() {
		factor = math.Max(0, math.Min(1, float64(slope.Value)))
	}
	d.pullIn(&m, cells, factor)
	fit.Model, fit.Notes = m, notes
	return fit, folds, nil
}

// model finds the saved model of an outcome with the same window; a nil standard has none.
func (s *Standard) model(c counted) *MixModel {
	if s == nil {
		return nil
	}
	for i := range s.Models {
		if s.Models[i].Outcome == c.outcome && s.Models[i].Days == c.days {
			return &s.Models[i]
		}
	}
	return nil
}
