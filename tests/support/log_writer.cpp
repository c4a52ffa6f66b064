// A program that does nothing but practise into a log, for tests that kill it or starve it: log_writer LOG SEED TRIES
// [FILE_LIMIT_BYTES]. Prints "begin N" before try N is handed over and "written N" once it is on the disk. With a limit
// on the size of files, which the system reports as a full disk does (a failed write), it lifts the limit again after
// the last try and goes on.
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <string>

#include "src/store/store_writer.h"
#include "tests/support/invented_tries.h"

namespace {

// One write call a line, so that a line is there as a whole or not at all when the program is killed.
void say(const std::string& line) {
    const std::string whole = line + "\n";
    if (write(STDOUT_FILENO, whole.data(), whole.size()) < 0) std::_Exit(3);
}

void limitFileSize(rlim_t bytes) {
    rlimit limit{};
    getrlimit(RLIMIT_FSIZE, &limit);
    limit.rlim_cur = bytes;
    setrlimit(RLIMIT_FSIZE, &limit);
}

}  // namespace

int main(int argc, char** argv) {
    using namespace landfall;
    if (argc < 4) return 2;
    const auto seed = static_cast<unsigned>(std::stoul(argv[2]));
    const int tries = std::stoi(argv[3]);
    const rlim_t limit = argc > 4 ? static_cast<rlim_t>(std::stoul(argv[4])) : RLIM_INFINITY;
    std::signal(SIGXFSZ, SIG_IGN);
    limitFileSize(limit);

    Sitting sitting = inventedSitting();
    sitting.token = static_cast<std::int64_t>(seed);
    StoreWriter writer({argv[1], sitting, Seconds(3.0), Seconds(0.05)}, [](const StoreNotice& notice) {
        if (notice.kind == StoreNotice::Kind::written) say("written " + std::to_string(notice.number));
        else if (notice.kind == StoreNotice::Kind::failing) say("failing: " + notice.message);
        else say("recovered");
    });
    for (int number = 1; number <= tries; ++number) {
        say("begin " + std::to_string(number));
        writer.add(inventedTry(seed, number));
        writer.drain();
    }
    if (limit != RLIM_INFINITY) {
        say("waiting " + std::to_string(writer.state().waiting));
        limitFileSize(RLIM_INFINITY);
    }
    say("left " + std::to_string(writer.drain().waiting));
    return 0;
}
