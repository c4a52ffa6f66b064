// noodling [FIRST LAST]: ten minutes of noodling around a drill for each seed from FIRST to LAST (default 200 to 219):
// tries found, and what was marked that was none.
#include <cstdlib>

#include <fmt/core.h>

#include "tests/support/noodling.h"

int main(int argc, char** argv) {
    using namespace landfall;
    const int first = argc > 2 ? std::atoi(argv[1]) : 200, last = argc > 2 ? std::atoi(argv[2]) : 219;
    int real = 0, found = 0;
    std::size_t falseTries = 0, most = 0;
    for (int seed = first; seed <= last; ++seed) {
        const NoodledAround heard = noodleAround(static_cast<std::uint32_t>(seed), Seconds(600.0));
        real += heard.real, found += heard.found, falseTries += heard.falseTries.size(),
            most = std::max(most, heard.falseTries.size());
        fmt::print("seed {}: {} of {} tries found, {} notes left unmarked, {} false", seed, heard.found, heard.real,
                   heard.notMarked, heard.falseTries.size());
        for (const Landing& landing : heard.falseTries)
            fmt::print("; at {:.1f} s \"{}\"", landing.onset.value, landing.sentence);
        fmt::print("\n");
    }
    fmt::print("all: {} of {} tries found; {} false, at most {} in ten minutes\n", found, real, falseTries, most);
}
