// A sound server of a test of its own: JACK's dummy driver, which needs no sound card.
#pragma once

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "tests/support/program.h"

namespace landfall::test {

// A server of a name of its own, which every JACK client started by this process finds. `LANDFALL_JACKD` is empty where there is no jackd.
class JackServer {
public:
    static bool installed() { return std::string(LANDFALL_JACKD) != ""; }

    explicit JackServer(int serverRate = 48000) : rate(serverRate), name(fmt::format("landfall{}", ::getpid())) {
        ::setenv("JACK_NO_AUDIO_RESERVATION", "1", 1);
        ::setenv("JACK_NO_START_SERVER", "1", 1);
        ::setenv("JACK_DEFAULT_SERVER", name.c_str(), 1);
        start();
    }
    // Asked to end, not killed: JACK's registry has eight places for a user, and a killed server keeps its own until one of the same name starts.
    ~JackServer() {
        end(SIGTERM);
        sweep();
    }

    // Real time, where it is allowed, and synchronous: else the dummy driver drops audio.
    bool start() {
        sweep();
        server = std::make_unique<Program>(std::vector<std::string>{LANDFALL_JACKD, "-R", "-P", "70", "-S", "-n", name, "-d", "dummy",
                                                                    "-r", std::to_string(rate), "-p", "128"}, SIGTERM);
        Program wait({"jack_wait", "-s", name, "-w", "-t", "10"});
        ready = within(11.0, [&wait] { return !wait.running(); }) && wait.exitStatus() == 0 && server->running();
        return ready;
    }
    void end(int signal) {
        server->ask(signal);
        within(5.0, [this] { return !server->running(); });
        server->kill();
    }
    bool up() const { return ready; }

private:
    // A killed server leaves its shared memory behind.
    void sweep() const {
        std::error_code error;
        for (const auto& entry : std::filesystem::directory_iterator("/dev/shm", error))
            if (entry.path().filename().string().find(name) != std::string::npos) std::filesystem::remove(entry.path(), error);
    }

    int rate;
    std::string name;
    std::unique_ptr<Program> server;
    bool ready = false;
};

}  // namespace landfall::test
