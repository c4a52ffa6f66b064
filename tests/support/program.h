// Starts programs from a test and ends them with it, however it ends; waits for conditions with a limit.
#pragma once

#include <chrono>
#include <csignal>
#include <string>
#include <thread>
#include <vector>

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace landfall::test {

inline void pauseFor(double seconds) { std::this_thread::sleep_for(std::chrono::duration<double>(seconds)); }

#ifdef LANDFALL_SANITIZED
constexpr double deadlines = 5.0;  // times longer: so much slower a program is under a sanitizer
#else
constexpr double deadlines = 1.0;
#endif

// True as soon as `condition` is, false after `seconds`.
template <typename Condition>
bool within(double seconds, Condition condition) {
    const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(deadlines * seconds);
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

}  // namespace landfall::test
