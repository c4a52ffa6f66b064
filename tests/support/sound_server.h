// Sound servers and their clients as processes of a test, each ended with the test however it ends. JACK's dummy driver needs no sound card.
#pragma once

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <fmt/core.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace landfall::test {

inline void pauseFor(double seconds) { std::this_thread::sleep_for(std::chrono::duration<double>(seconds)); }

// True as soon as `condition` is, false after `seconds`.
template <typename Condition>
bool within(double seconds, Condition condition) {
    const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
    while (!condition()) {
        if (std::chrono::steady_clock::now() > end) return false;
        pauseFor(0.005);
    }
    return true;
}

// A program that is killed with the test's process, and at the latest with this object.
class Program {
public:
    explicit Program(std::vector<std::string> words, int signalWithTest = SIGKILL) {
        std::vector<char*> pointers;
        for (std::string& word : words) pointers.push_back(word.data());
        pointers.push_back(nullptr);
        process = ::fork();
        if (process != 0) return;
        ::prctl(PR_SET_PDEATHSIG, signalWithTest);
        const int nothing = ::open("/dev/null", O_RDWR);
        for (const int stream : {0, 1, 2}) ::dup2(nothing, stream);
        ::close_range(3, ~0u, 0);
        ::execvp(pointers[0], pointers.data());
        ::_exit(127);
    }
    Program(const Program&) = delete;
    Program& operator=(const Program&) = delete;
    ~Program() { kill(); }

    bool running() {
        if (process > 0 && ::waitpid(process, &status, WNOHANG) == process) process = -1;
        return process > 0;
    }
    void ask(int signal) {
        if (process > 0) ::kill(process, signal);
    }
    void kill() {
        if (process > 0) {
            ::kill(process, SIGKILL);
            ::waitpid(process, &status, 0);
        }
        process = -1;
    }
    int exitStatus() const { return WIFEXITED(status) ? WEXITSTATUS(status) : -1; }

private:
    pid_t process = -1;
    int status = 0;
};

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
