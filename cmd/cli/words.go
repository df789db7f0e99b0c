package cli

import "rindkeep/cmd/words"

// printer writes reasons and figures for the person at the command line.
func (s *session) printer() words.Printer {
	p := s.Words
	p.Zone = s.loc
	return p
}
