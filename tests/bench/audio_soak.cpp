// audio_soak [--seconds N] [--frames N] [--beside COMMAND]: capture through JACK's dummy driver beside a load, and what
// it cost. Another client plays a ramp in which every sample is told from its neighbours, so that one lost, doubled or
// altered sample is counted. Without --beside one busy process for each core runs; COMMAND goes to /bin/sh, again and
// again (for example a full compile).
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <thread>
#include <vector>

#include <fmt/core.h>
#include <sndfile.h>

#include "src/audio/audio_device.h"
#include "tests/support/command.h"
#include "tests/support/sound_server.h"

using namespace landfall;
using namespace landfall::test;

namespace {

using Clock = std::chrono::steady_clock;

constexpr int rampLength = 1 << 20;
constexpr double rampStep = 1.0 / (1 << 21);  // exact as a float

double secondsSince(Clock::time_point then) { return std::chrono::duration<double>(Clock::now() - then).count(); }

void writeRamp(const std::filesystem::path& path) {
    std::vector<float> ramp(rampLength);
    for (int i = 0; i < rampLength; ++i) ramp[static_cast<std::size_t>(i)] = static_cast<float>((i + 1) * rampStep);
    SF_INFO info{};
    info.samplerate = 48000;
    info.channels = 1;
    info.format = SF_FORMAT_WAV | SF_FORMAT_FLOAT;
    SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
    sf_writef_float(file, ramp.data(), rampLength);
    sf_close(file);
}

// Follows the ramp from its first sample on.
struct RampCheck {
    long expected = 0;  // 0: not begun
    std::uint64_t checked = 0;
    std::uint64_t wrong = 0;

    void take(std::span<const float> samples) {
        for (const float sample : samples) {
            const long place = std::lround(sample / rampStep);
            if (expected == 0 && place == 0) continue;
            if (expected != 0 && place != expected) ++wrong;
            ++checked;
            expected = place % rampLength + 1;
        }
    }
};

int soak(double seconds, int frames, const std::string& beside) {
    if (!JackServer::installed()) {
        fmt::print(stderr, "audio_soak: no jackd: apt-get install jackd2\n");
        return 1;
    }
    JackServer server;
    if (!server.up()) {
        fmt::print(stderr, "audio_soak: jackd does not start\n");
        return 1;
    }
    const TestFolder folder;
    writeRamp(folder / "ramp.wav");
    Program feeder({LANDFALL_JACK_FEEDER, (folder / "ramp.wav").string(), "--name", "ramp", "--repeat"});
    pauseFor(0.5);
    auto opened = AudioDevice::open({.input = "JACK: ramp", .frames = frames, .program = LANDFALL_PROGRAM});
    if (!opened) return 1;
    AudioDevice& device = **opened;

    std::vector<std::unique_ptr<Program>> load;
    if (beside.empty())
        for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i)
            load.push_back(std::make_unique<Program>(std::vector<std::string>{"/bin/sh", "-c", "while :; do :; done"}));
    else
        load.push_back(
            std::make_unique<Program>(std::vector<std::string>{"/bin/sh", "-c", "while :; do " + beside + "; done"}));

    RampCheck check;
    std::array<float, 4096> block{};
    std::uint64_t gaps = 0;
    double longestPoll = 0.0;
    const auto began = Clock::now();
    for (auto last = began; secondsSince(began) < seconds; last = Clock::now()) {
        const Chunk chunk = device.read(block);
        longestPoll = std::max(longestPoll, secondsSince(last));
        if (chunk.missing > 0 && check.expected != 0) ++gaps;
        check.take(std::span(block).first(chunk.samples));
        while (auto report = device.nextReport()) fmt::print("{}\n", report->line);
        if (chunk.samples == 0) pauseFor(0.002);
    }
    const DeviceCounters counters = device.counters();
    fmt::print("{:.0f} s beside {}\n", seconds,
               beside.empty() ? fmt::format("{} busy processes", load.size()) : beside);
    fmt::print("callbacks          {}\n", counters.callbacks);
    fmt::print("samples delivered  {}, of these {} followed through the ramp\n", counters.frames, check.checked);
    fmt::print("lost or altered    {} places in the ramp\n", check.wrong);
    fmt::print("dropped            {} samples (ring full)\n", counters.dropped);
    fmt::print("breaks told        {} by the server, {} seen as gaps after the ramp began\n", counters.inputBreaks,
               gaps);
    fmt::print("worst callback     {:.1f} us of {:.0f} us a block\n", 1e6 * counters.worstCallback.value,
               1e6 * frames / 48000.0);
    fmt::print("longest read()     {:.1f} ms; audio processes started {}\n", 1e3 * longestPoll, counters.starts);
    return check.wrong == 0 && counters.dropped == 0 && check.checked > 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    double seconds = 60.0;
    int frames = 128;
    std::string beside;
    for (int i = 1; i + 1 < argc; i += 2) {
        const std::string word = argv[i];
        if (word == "--seconds") seconds = std::atof(argv[i + 1]);
        if (word == "--frames") frames = std::atoi(argv[i + 1]);
        if (word == "--beside") beside = argv[i + 1];
    }
    return soak(seconds, frames, beside);
}
