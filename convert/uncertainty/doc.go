// Package uncertainty combines the uncertainties of inputs into that of a result, and fits calibration lines.
//
// It follows JCGM 100:2008 (GUM) for budgets, JCGM 101:2008 for Monte Carlo, JCGM 106:2012 for conformity and
// ISO/TS 28037:2010 for straight lines. Everything here is a pure function of its arguments: no clock, no input or
// output, and random numbers only from a seed the caller gives. Units are the caller's: a contribution c·u(x) is in the
// unit of the result, and nothing here converts.
//
// It refuses to guess. A number that is not finite, degrees of freedom below 1, a correlation matrix that no set of
// inputs could have, or a fit the data cannot support gives an error and no value. The two functions made to run once
// per reading, Combine and Coverage.K, allocate nothing and answer NaN instead of an error.
package uncertainty
