// Live capture through a real sound server, and what happens when the server, the device or the audio process goes away.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>
#include <sndfile.h>

#include "src/audio/audio_device.h"
#include "tests/support/sound_server.h"

using namespace landfall;
using namespace landfall::test;
using Kind = DeviceReport::Kind;

namespace {

// Samples whose every value is told from every other, so that one lost, doubled or altered sample is found.
std::vector<float> knownSamples(std::size_t count) {
    std::mt19937 random(7);
    std::uniform_real_distribution<float> uniform(-0.5f, 0.5f);
    std::vector<float> samples(count);
    for (float& sample : samples) sample = uniform(random);
    samples.front() = 0.75f;  // the start mark
    return samples;
}

struct SampleFile {
    std::filesystem::path path = std::filesystem::temp_directory_path() / fmt::format("landfall-feed-{}.wav", ::getpid());
    std::vector<float> samples;

    explicit SampleFile(std::vector<float> values) : samples(std::move(values)) {
        SF_INFO info{};
        info.samplerate = 48000;
        info.channels = 1;
        info.format = SF_FORMAT_WAV | SF_FORMAT_FLOAT;
        SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
        sf_writef_float(file, samples.data(), static_cast<sf_count_t>(samples.size()));
        sf_close(file);
    }
    ~SampleFile() { std::filesystem::remove(path); }
};

// What a caller sees: every sample, every gap, every report, and how long one read() took at most.
struct Session {
    std::unique_ptr<AudioDevice> device;
    std::vector<float> samples;
    struct Gap {
        std::ptrdiff_t at;
        std::uint64_t missing;
    };
    std::vector<Gap> gaps;
    std::vector<DeviceReport> reports;
    double longestRead = 0.0;

    explicit Session(AudioDevice::Config config) {
        config.program = LANDFALL_PROGRAM;
        auto opened = AudioDevice::open(std::move(config));
        REQUIRE(opened);
        device = std::move(*opened);
    }

    void step() {
        std::array<float, 512> block{};
        const auto began = std::chrono::steady_clock::now();
        const Chunk chunk = device->read(block);
        longestRead = std::max(longestRead, std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count());
        if (chunk.missing > 0) gaps.push_back({static_cast<std::ptrdiff_t>(samples.size()), chunk.missing});
        samples.insert(samples.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(chunk.samples));
        while (auto report = device->nextReport()) {
            MESSAGE(report->line);
            reports.push_back(*report);
        }
        if (chunk.samples == 0) pauseFor(0.002);
    }

    bool sees(Kind kind, double seconds) {
        const std::size_t from = reports.size();
        const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
        while (std::chrono::steady_clock::now() < end) {
            step();
            for (std::size_t i = from; i < reports.size(); ++i)
                if (reports[i].kind == kind) return true;
        }
        return false;
    }

    void listen(double seconds) {
        for (const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds); std::chrono::steady_clock::now() < end;) step();
    }
};

#define NEEDS_JACK()                                                                               \
    if (!JackServer::installed()) {                                                                \
        MESSAGE("SKIPPED: no jackd on this machine; apt-get install jackd2 to run this test");     \
        return;                                                                                    \
    }

}  // namespace

TEST_CASE("Samples played by another JACK client arrive complete, in order and bit for bit") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    const SampleFile file(knownSamples(48000 * 3));
    Program feeder({LANDFALL_JACK_FEEDER, file.path.string(), "--name", "feeder"});
    pauseFor(0.3);
    Session session({.input = "JACK: feeder"});
    REQUIRE(session.sees(Kind::running, 5.0));
    CHECK(session.device->sampleRate() == 48000.0);
    session.listen(4.0);

    const auto start = std::find(session.samples.begin(), session.samples.end(), file.samples.front());
    REQUIRE(session.samples.end() - start >= static_cast<std::ptrdiff_t>(file.samples.size()));
    CHECK(std::equal(file.samples.begin(), file.samples.end(), start));
    // A new client joining may make the server report a break; after that there is none.
    CHECK(std::ranges::none_of(session.gaps, [&](const Session::Gap& gap) { return gap.at > start - session.samples.begin(); }));
    CHECK(session.device->counters().dropped == 0);
    // Generous: this machine may be busy; what is asserted is that no call waits for the device.
    CHECK(session.longestRead < 0.1);
}
