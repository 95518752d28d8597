// Package publishtest holds what the tests of sinks share: results to deliver, the contract every Sink must pass, a
// journal in memory and a faulty sink for the cases a real one does not produce on command, real brokers and stores on
// free ports, a proxy that cuts connections, and the ledger that finds every result delivered unaltered or named in a
// recorded gap.
//
// It refuses to let a missing server pass unnoticed: on a laptop the test is skipped and says so, where CI=true is set
// it fails.
package publishtest
