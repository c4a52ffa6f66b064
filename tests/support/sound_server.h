// Sound servers of a test of its own, which need no sound card: JACK with its dummy driver, PulseAudio with a null sink, PipeWire; and ALSA inputs without any.
#pragma once

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <map>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "tests/support/command.h"
#include "tests/support/program.h"

namespace landfall::test {

// A server that every JACK client started by this process finds. `LANDFALL_JACKD` is empty where there is no jackd.
// JACK's registry has eight places on a machine, and a server that is killed or crashes at its end keeps its place until one of the same name starts: so a few
// names are used again and again, as many as tests may run at once.
class JackServer {
public:
    static bool installed() { return std::string(LANDFALL_JACKD) != ""; }

    // A long period gives a busy machine time: for tests of what is heard, not of when.
    explicit JackServer(int serverRate = 48000, int samples = 128) : rate(serverRate), period(samples) {
        ::setenv("JACK_NO_AUDIO_RESERVATION", "1", 1);
        ::setenv("JACK_NO_START_SERVER", "1", 1);
        for (int number = 1; number <= 4 && !ready; ++number) {
            name = fmt::format("landfall-test-{}", number);
            if (!reserve()) continue;
            ::setenv("JACK_DEFAULT_SERVER", name.c_str(), 1);
            const bool taken = runCommand(fmt::format("jack_wait -s {} -c 2> /dev/null", name)).output == "running\n";
            if (!taken) start();
        }
    }
    ~JackServer() {
        if (server) end(SIGTERM);
        if (server) sweep();
        if (reserved >= 0) ::close(reserved);
    }
    JackServer(const JackServer&) = delete;
    JackServer& operator=(const JackServer&) = delete;

    // Real time, where it is allowed, and synchronous: else the dummy driver drops audio.
    bool start() {
        sweep();
        server = std::make_unique<Program>(
            std::vector<std::string>{LANDFALL_JACKD, "-R", "-P", "70", "-S", "-n", name, "-d", "dummy", "-r",
                                     std::to_string(rate), "-p", std::to_string(period)},
            SIGTERM);
        Program wait({"jack_wait", "-s", name, "-w", "-t", "10"});
        within(11.0, [this, &wait] { return !wait.running() || !server->running(); });
        ready = !wait.running() && wait.exitStatus() == 0 && server->running();
        return ready;
    }
    void end(int signal) {
        server->ask(signal);
        within(5.0, [this] { return !server->running(); });
        server->kill();
    }
    bool up() const { return ready; }

private:
    // The name is this test's own for as long as it lives, also while its server is down: else another test's server
    // takes it then.
    bool reserve() {
        if (reserved >= 0) ::close(reserved);
        const auto file = std::filesystem::temp_directory_path() / (name + ".lock");
        reserved = ::open(file.c_str(), O_CREAT | O_RDWR | O_CLOEXEC, 0600);
        return reserved >= 0 && ::flock(reserved, LOCK_EX | LOCK_NB) == 0;
    }

    // A killed server leaves its shared memory behind.
    void sweep() const {
        std::error_code error;
        for (const auto& entry : std::filesystem::directory_iterator("/dev/shm", error))
            if (entry.path().filename().string().find(name) != std::string::npos)
                std::filesystem::remove(entry.path(), error);
    }

    int rate, period;
    std::string name;
    int reserved = -1;  // a file that is locked
    std::unique_ptr<Program> server;
    bool ready = false;
};

// A PulseAudio server in `folder` with one sink, "guitar"; what is played to it is its monitor's input, the default one. Every client started by
// this process finds it, through ALSA as "ALSA: pulse". Needs neither a session bus nor a login.
class PulseServer {
public:
    static bool installed() { return std::string(LANDFALL_PULSEAUDIO) != ""; }

    explicit PulseServer(std::filesystem::path place) : folder(std::move(place)) {
        ::setenv("PULSE_RUNTIME_PATH", folder.c_str(), 1);
        ::setenv("PULSE_SERVER", ("unix:" + (folder / "native").string()).c_str(), 1);
        ::setenv("PULSE_COOKIE", (folder / "cookie").c_str(), 1);
        start();
    }
    ~PulseServer() {
        server.reset();
        for (const char* name : {"PULSE_RUNTIME_PATH", "PULSE_SERVER", "PULSE_COOKIE"}) ::unsetenv(name);
    }

    bool start() {
        std::error_code error;
        std::filesystem::remove(folder / "native", error);  // of a killed server
        server = std::make_unique<Program>(std::vector<std::string>{
            LANDFALL_PULSEAUDIO, "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
            "--disable-shm=yes", "-L", "module-native-protocol-unix auth-anonymous=1", "-L",
            "module-null-sink sink_name=guitar rate=48000 channels=1 format=float32le"});
        ready = within(10.0, [this] { return server->running() && ::system("pactl info > /dev/null 2>&1") == 0; });
        return ready;
    }
    void end(int signal) {
        server->ask(signal);
        within(5.0, [this] { return !server->running(); });
        server->kill();
    }
    bool up() const { return ready; }

private:
    std::filesystem::path folder;
    std::unique_ptr<Program> server;
    bool ready = false;
};

// A PipeWire daemon in `folder`, reached through its own libjack by every JACK client started by this process: clients play to each other. Needs
// neither a session bus nor a session manager.
class PipeWireServer {
public:
    static bool installed() { return std::string(LANDFALL_PIPEWIRE) != ""; }

    explicit PipeWireServer(std::filesystem::path place) : folder(std::move(place)) {
        ::setenv("XDG_RUNTIME_DIR", folder.c_str(), 1);
        ::setenv("LD_LIBRARY_PATH", LANDFALL_PIPEWIRE_JACK, 1);
        start();
    }
    ~PipeWireServer() {
        server.reset();
        for (const char* name : {"XDG_RUNTIME_DIR", "LD_LIBRARY_PATH"}) ::unsetenv(name);
    }

    bool start() {
        server = std::make_unique<Program>(std::vector<std::string>{LANDFALL_PIPEWIRE});
        ready = within(10.0, [this] { return server->running() && ::system("jack_lsp > /dev/null 2>&1") == 0; });
        return ready;
    }
    void end(int signal) {
        server->ask(signal);
        within(5.0, [this] { return !server->running(); });
        server->kill();
    }
    bool up() const { return ready; }

private:
    std::filesystem::path folder;
    std::unique_ptr<Program> server;
    bool ready = false;
};

// Inputs of ALSA's and nothing else: no sound server, no hardware of this machine. Each has one channel at 48 kHz, takes the place of what the machine has under
// its name, plays its samples from the moment it is opened, and serves one program at a time.
class AlsaInputs {
public:
    static bool built() { return std::string(LANDFALL_ALSA_DEVICE) != ""; }

    AlsaInputs(std::filesystem::path place, const std::map<std::string, std::vector<float>>& inputs)
        : folder(std::move(place)) {
        std::string all =
            fmt::format("</usr/share/alsa/alsa.conf>\npcm_type.landfall_test {{ lib \"{}\" }}\n", LANDFALL_ALSA_DEVICE);
        for (const auto& [name, samples] : inputs) {
            writeText(folder / (name + ".raw"),
                      std::string(reinterpret_cast<const char*>(samples.data()), samples.size() * sizeof(float)));
            all += fmt::format(
                "pcm.!{0} {{ type landfall_test samples \"{1}/{0}.raw\" faults \"{1}/{0}.faults\" hint {{ show on "
                "description {0} }} }}\n",
                name, folder.string());
        }
        writeText(folder / "asound.conf", all);
        ::setenv("ALSA_CONFIG_PATH", (folder / "asound.conf").c_str(), 1);
        ::setenv("JACK_DEFAULT_SERVER", "landfall-no-such-server", 1);
        ::setenv("JACK_NO_START_SERVER", "1", 1);
    }
    ~AlsaInputs() { ::unsetenv("ALSA_CONFIG_PATH"); }

    void suffer(const std::string& input, const std::string& fault) const {
        writeText(folder / (input + ".faults"), fault);
    }

private:
    std::filesystem::path folder;
};

}  // namespace landfall::test
