// Exit codes of the program, as --help prints them.
#pragma once

namespace tipwright::program {

enum class ExitCode {
    done = 0,
    defect = 1,        // the program itself failed
    bad_input = 2,     // command line or a file
    bench_fault = 3,   // an instrument or the water; the pump is stopped, the journal kept
    incomplete = 4,    // the measurement did not come to an end; there is no certificate
    disagrees = 5,     // verify found a difference
    refused = 6,       // register or keys: not permitted, wrong passphrase, damaged, no room
    unsaid = 7,        // all was done, but what was to be printed could not be written
    not_judged = 8,    // verify found nothing wrong in what it could judge, and could not judge all
    interrupted = 130  // Ctrl-C or a terminate signal; the pump is stopped, the journal closed
};

}  // namespace tipwright::program
