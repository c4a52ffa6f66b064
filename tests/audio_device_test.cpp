// Live capture through a real sound server, and what happens when the server, the device or the audio process goes away.
#include <algorithm>
#include <array>
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
#include "src/audio/tone.h"
#include "tests/support/command.h"
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

// s. No call waits for a device; a busy machine may keep the thread itself waiting for a while, but not so long as a hung device would.
constexpr double hang = 1.0;

struct SampleFile {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / fmt::format("landfall-feed-{}.wav", ::getpid());
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
        longestRead =
            std::max(longestRead, std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count());
        if (chunk.missing > 0) gaps.push_back({static_cast<std::ptrdiff_t>(samples.size()), chunk.missing});
        samples.insert(samples.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(chunk.samples));
        while (auto report = device->nextReport()) {
            MESSAGE(report->line);
            reports.push_back(*report);
        }
        if (chunk.samples == 0) pauseFor(0.002);
    }

    // `seconds` is for an idle machine; a busy one is given four times as long.
    bool sees(Kind kind, double seconds) {
        const std::size_t from = reports.size();
        const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(4.0 * seconds);
        while (std::chrono::steady_clock::now() < end) {
            step();
            for (std::size_t i = from; i < reports.size(); ++i)
                if (reports[i].kind == kind) return true;
        }
        return false;
    }

    // A tone through its output, while both hear what comes.
    void play(Hertz frequency, Seconds length, Decibels level, Session* other = nullptr) {
        Tone tone(device->sampleRate());
        tone.play(frequency, length, level);
        std::vector<float> out(8192);
        for (const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(length.value);
             std::chrono::steady_clock::now() < end;) {
            const auto room = std::span(out).first(std::min(out.size(), device->outputRoom()));
            tone.render(room);
            device->write(room);
            step();
            if (other != nullptr) other->step();
        }
    }

    void listen(double seconds) {
        for (const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
             std::chrono::steady_clock::now() < end;)
            step();
    }
};

#define NEEDS_JACK()                                                                           \
    if (!JackServer::installed()) {                                                            \
        MESSAGE("SKIPPED: no jackd on this machine; apt-get install jackd2 to run this test"); \
        return;                                                                                \
    }

// One input, "bench".
struct AlsaDevice {
    TestFolder folder;
    std::vector<float> samples = knownSamples(48000 * 20);
    AlsaInputs inputs{folder.path, {{"bench", samples}}};

    void suffer(const std::string& fault) { inputs.suffer("bench", fault); }
};

#define NEEDS_ALSA()                                                                                          \
    if (!AlsaInputs::built()) {                                                                               \
        MESSAGE("SKIPPED: ALSA's headers were not there; apt-get install libasound2-dev to build this test"); \
        return;                                                                                               \
    }

}  // namespace

TEST_CASE("Samples of an ALSA device arrive in order and bit for bit") {
    NEEDS_ALSA();
    const AlsaDevice alsa;
    Session session({.input = "bench", .rate = 48000});
    REQUIRE(session.sees(Kind::running, 5.0));
    CHECK(session.reports.back().line == "ALSA: bench: channel 1, 48000 Hz, 128 samples a block, no output");
    session.listen(2.0);
    REQUIRE(session.samples.size() > 48000);
    // Up to the first break the machine's own load may have caused.
    const std::size_t whole =
        session.gaps.empty() ? session.samples.size() : static_cast<std::size_t>(session.gaps.front().at);
    CHECK(whole > 4800);
    CHECK(std::equal(session.samples.begin(), session.samples.begin() + static_cast<std::ptrdiff_t>(whole),
                     alsa.samples.begin()));
}

TEST_CASE("An ALSA device that is unplugged is lost without a hang, and taken up again when it is plugged in") {
    NEEDS_ALSA();
    AlsaDevice alsa;
    Session session({.rate = 48000});
    REQUIRE(session.sees(Kind::running, 5.0));
    session.listen(0.5);
    alsa.suffer("dead");
    REQUIRE(session.sees(Kind::lost, 2.0));
    session.listen(2.0);
    CHECK(session.reports.size() == 3);  // starting, running, lost: one line however long it is away
    alsa.suffer("");
    REQUIRE(session.sees(Kind::backAgain, 8.0));
    const std::size_t before = session.samples.size();
    session.listen(1.0);
    CHECK(session.samples.size() > before + 20000);
    CHECK(session.longestRead < hang);
}

TEST_CASE("An ALSA device that stalls for seconds is lost and taken up again") {
    NEEDS_ALSA();
    AlsaDevice alsa;
    Session session({.input = "ALSA: bench", .rate = 48000});
    REQUIRE(session.sees(Kind::running, 5.0));
    alsa.suffer("stall");
    REQUIRE(session.sees(Kind::lost, 3.0));
    alsa.suffer("");
    REQUIRE(session.sees(Kind::backAgain, 8.0));
}

TEST_CASE("An overrun of an ALSA device is a gap in the samples, counted, and no loss of the device") {
    NEEDS_ALSA();
    AlsaDevice alsa;
    Session session({.input = "ALSA: bench", .rate = 48000});
    REQUIRE(session.sees(Kind::running, 5.0));
    session.listen(0.5);
    const auto before = session.device->counters().inputBreaks;
    const std::size_t gapsBefore = session.gaps.size();
    alsa.suffer("xrun");
    CHECK(within(10.0, [&] {
        session.step();
        return session.device->counters().inputBreaks > before && session.gaps.size() > gapsBefore;
    }));
    CHECK(session.reports.size() == 2);
    CHECK(session.device->running());
}

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
    CHECK(session.device->counters().dropped == 0);
    CHECK(session.longestRead < hang);
}

TEST_CASE("Samples are as complete and exact at 44.1 and 96 kHz and in blocks of 64, 256 and 512") {
    NEEDS_JACK();
    struct Setting {
        int rate;
        int frames;
    };
    for (const Setting setting : {Setting{44100, 64}, Setting{44100, 512}, Setting{96000, 256}}) {
        CAPTURE(setting.rate);
        CAPTURE(setting.frames);
        JackServer server(setting.rate);
        REQUIRE(server.up());
        const SampleFile file(knownSamples(static_cast<std::size_t>(setting.rate)));
        Program feeder({LANDFALL_JACK_FEEDER, file.path.string(), "--name", "feeder"});
        pauseFor(0.3);
        Session session({.input = "JACK: feeder", .rate = setting.rate, .frames = setting.frames});
        REQUIRE(session.sees(Kind::running, 5.0));
        CHECK(session.device->sampleRate() == setting.rate);
        session.listen(2.0);
        const auto start = std::find(session.samples.begin(), session.samples.end(), file.samples.front());
        REQUIRE(session.samples.end() - start >= static_cast<std::ptrdiff_t>(file.samples.size()));
        CHECK(std::equal(file.samples.begin(), file.samples.end(), start));
    }
}

TEST_CASE("A sound server killed in mid-run is lost, and taken up again when it is back, without a hang") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system"});
    REQUIRE(session.sees(Kind::running, 5.0));
    session.listen(1.0);
    const std::size_t before = session.samples.size();
    CHECK(before > 20000);

    server.end(SIGKILL);
    REQUIRE(session.sees(Kind::lost, 5.0));
    CHECK_FALSE(session.device->running());
    session.listen(3.0);
    const std::size_t reportsWhileAway = session.reports.size();
    CHECK(session.reports.back().kind == Kind::lost);  // one line, whatever the number of attempts
    CHECK(reportsWhileAway == 3);                      // starting, running, lost
    CHECK(session.device->counters().starts >= 3);

    REQUIRE(server.start());
    REQUIRE(session.sees(Kind::backAgain, 10.0));
    session.listen(1.0);
    CHECK(session.samples.size() > before + 20000);
    CHECK(session.device->sampleRate() == 48000.0);
    // The pause stands where it was: between what was heard before and what came after, as long as the clock says.
    const auto pause = std::ranges::max_element(session.gaps, {}, &Session::Gap::missing);
    REQUIRE(pause != session.gaps.end());
    CHECK(pause->at >= static_cast<std::ptrdiff_t>(before));
    CHECK(pause->missing > 48000u * 3);
    CHECK(pause->missing < 48000u * 20);
    CHECK(session.longestRead < hang);
}

TEST_CASE("The audio process killed with SIGKILL is started again, and nothing of it is left") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system"});
    REQUIRE(session.sees(Kind::running, 5.0));
    for (int round = 0; round < 3; ++round) {
        const auto killed = static_cast<pid_t>(session.device->processId());
        ::kill(killed, SIGKILL);
        REQUIRE(session.sees(Kind::lost, 2.0));
        CHECK(session.reports.back().line.find("signal 9") != std::string::npos);
        REQUIRE(session.sees(Kind::backAgain, 10.0));
        CHECK(::kill(killed, 0) != 0);
    }
    const std::size_t before = session.samples.size();
    session.listen(1.0);
    CHECK(session.samples.size() > before + 20000);
    const auto last = static_cast<pid_t>(session.device->processId());
    session.device.reset();
    CHECK(::kill(last, 0) != 0);
}

TEST_CASE("An audio process that hangs is found within a second, killed and started again") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system"});
    REQUIRE(session.sees(Kind::running, 5.0));
    session.listen(0.3);
    const auto began = std::chrono::steady_clock::now();
    ::kill(static_cast<pid_t>(session.device->processId()), SIGSTOP);
    REQUIRE(session.sees(Kind::lost, 3.0));
    // 500 ms without a callback, and room for a busy machine.
    CHECK(std::chrono::steady_clock::now() - began < std::chrono::milliseconds(1500));
    CHECK(session.reports.back().line.find("half a second") != std::string::npos);
    REQUIRE(session.sees(Kind::backAgain, 10.0));
}

TEST_CASE("The audio process ends with its parent, even one that is killed") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    std::array<int, 2> ends{};
    REQUIRE(::pipe(ends.data()) == 0);
    const pid_t parent = ::fork();
    if (parent == 0) {
        ::prctl(PR_SET_PDEATHSIG, SIGKILL);
        auto device = AudioDevice::open({.input = "JACK: system", .program = LANDFALL_PROGRAM});
        std::array<float, 512> block{};
        while (!(*device)->running()) {
            (*device)->read(block);
            pauseFor(0.005);
        }
        const long id = (*device)->processId();
        (void)!::write(ends[1], &id, sizeof id);
        for (;;) ::pause();
    }
    long id = -1;
    REQUIRE(::read(ends[0], &id, sizeof id) == sizeof id);
    const auto child = static_cast<pid_t>(id);
    CHECK(::kill(child, 0) == 0);
    ::kill(parent, SIGKILL);
    ::waitpid(parent, nullptr, 0);
    // Whoever inherits it may not have collected it yet: a process that is only a name (Z) has ended.
    CHECK(within(2.0, [&] {
        const std::string state = readText(fmt::format("/proc/{}/stat", child));
        return state.empty() || state.find(") Z ") != std::string::npos;
    }));
    ::close(ends[0]);
    ::close(ends[1]);
}

TEST_CASE("A rate the device refuses is one line with the rates that work") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system", .rate = 44100});
    REQUIRE(session.sees(Kind::refusedRate, 5.0));
    CHECK(session.reports.back().line == "JACK: system: does not run at 44100 Hz; these rates work: 48000");
    session.listen(1.5);
    CHECK(session.reports.size() == 2);
}

TEST_CASE("A device that is not there is one line with the names there are, and is taken as soon as it appears") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: latecomer"});
    REQUIRE(session.sees(Kind::noSuchDevice, 5.0));
    CHECK(session.reports.back().line == "no input device \"JACK: latecomer\": plug it in, or close the program that holds it; there are \"JACK: system\"");
    session.listen(1.0);
    CHECK(session.reports.size() == 2);
    const SampleFile file(knownSamples(48000));
    Program feeder({LANDFALL_JACK_FEEDER, file.path.string(), "--name", "latecomer", "--repeat"});
    REQUIRE(session.sees(Kind::running, 8.0));
}

TEST_CASE("A card that another program holds is one line that says so, and is taken as soon as it is free") {
    NEEDS_ALSA();
    const AlsaDevice alsa;
    Session other({.input = "ALSA: bench"});
    REQUIRE(other.sees(Kind::running, 5.0));
    Session session({.input = "ALSA: bench"});
    REQUIRE(session.sees(Kind::noSuchDevice, 5.0));
    CHECK(session.reports.back().line
          == "no input device \"ALSA: bench\": plug it in, or close the program that holds it; there are none");
    other.device.reset();
    REQUIRE(session.sees(Kind::running, 8.0));
}

TEST_CASE("A channel the device does not have is one line") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system", .channel = 3});
    REQUIRE(session.sees(Kind::failed, 5.0));
    CHECK(session.reports.back().line == "JACK: system: has 2 input channels, so channel 3 cannot be chosen");
}

TEST_CASE("The program's own ports are not offered while it listens and plays") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session session({.input = "JACK: system"});
    REQUIRE(session.sees(Kind::running, 5.0));
    CHECK(runCommand("jack_lsp -s " + std::string(std::getenv("JACK_DEFAULT_SERVER")) + " 2> /dev/null")
              .output.find("Landfall")
          != std::string::npos);
    const auto listed = listDevices(Seconds(10.0), LANDFALL_PROGRAM);
    REQUIRE(listed);
    CHECK_FALSE(listed->empty());
    for (const DeviceInfo& each : *listed)
        CHECK_MESSAGE((each.name.find("Landfall") == std::string::npos || each.inputs + each.outputs == 0), each.name);
}

TEST_CASE("Without any sound device the line says so, and listing gives an empty list") {
    ::setenv("JACK_DEFAULT_SERVER", "landfall-no-such-server", 1);
    ::setenv("JACK_NO_START_SERVER", "1", 1);
    const auto devices = listDevices(Seconds(10.0), LANDFALL_PROGRAM);
    REQUIRE(devices);
    if (!devices->empty()) {
        MESSAGE("SKIPPED: this machine has a sound device");
        return;
    }
    Session session({});
    REQUIRE(session.sees(Kind::noSuchDevice, 5.0));
    CHECK(session.reports.back().line == "no input device: plug one in, or start its sound server");
}

TEST_CASE("Wrong wishes are refused before anything starts") {
    CHECK(AudioDevice::open({.channel = 0}).error().message == "channel 0: channels count from 1");
    CHECK(AudioDevice::open({.frames = 32}).error().message == "32 samples a block: choose 64 to 512");
    CHECK(AudioDevice::open({.rate = 8000}).error().message
          == "8000 Hz: choose a sample rate from 16000 to 192000, for example 44100, 48000 or 96000");
}

TEST_CASE("The target note goes out through the ring, faded in and limited") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    Session player({.input = "JACK: system"});
    REQUIRE(player.sees(Kind::running, 5.0));
    REQUIRE(player.device->hasOutput());
    // A second one that the server connects to the player's output.
    Session listener({.input = "JACK: system", .wantsOutput = false});
    REQUIRE(listener.sees(Kind::running, 5.0));
    const auto connected = runCommand(
        fmt::format("jack_connect -s {} Landfall:out_0 Landfall-01:in_0 2>&1", std::getenv("JACK_DEFAULT_SERVER")));
    REQUIRE_MESSAGE(connected.status == 0, connected.output);
    player.play(Hertz(196.0), Seconds(3.0), Decibels(0.0), &listener);
    const std::vector<float>& heard = listener.samples;
    const auto first = std::ranges::find_if(heard, [](float sample) { return sample != 0.0f; });
    REQUIRE(heard.end() - first > 2 * 48000);
    const auto loudest = [](auto from, auto to) {
        return std::abs(*std::max_element(from, to, [](float a, float b) { return std::abs(a) < std::abs(b); }));
    };
    CHECK(loudest(first, first + 2400) < 0.05f);
    CHECK(loudest(first + 48000, first + 96000) > 0.15f);
    CHECK(loudest(heard.begin(), heard.end()) <= 0.2512f);  // -12 dBFS
}

TEST_CASE(
    "Sound in and sound out are told on one clock: through one device the sample played beside a captured one stays "
    "the same") {
    NEEDS_JACK()
    const JackServer server;
    Session session({.input = "JACK: system", .frames = 256});
    REQUIRE(session.sees(Kind::running, 5.0));
    session.play(Hertz(440.0), Seconds(0.5), Decibels(-30.0));
    // From one look to the next, where the device lost nothing in between: what is lost was captured, and never played.
    std::vector<double> steps;  // samples
    double before = 0.0;        // samples
    std::uint64_t breaksBefore = 0;
    for (int i = 0; i < 60 && steps.size() < 9; ++i) {
        session.play(Hertz(440.0), Seconds(0.3), Decibels(-30.0));
        const SoundClock clock = session.device->clock();
        CHECK(clock.captured.samples + 256 >= clock.read);  // a block is there a moment before it is counted
        CHECK(clock.behind().value < 0.5);
        CHECK(clock.filled <= clock.played.samples);
        const double captured = static_cast<double>(clock.captured.samples);
        const double apart = clock.playedWhen(captured) - captured;
        const std::uint64_t breaks = session.device->counters().inputBreaks;
        if (i > 0 && breaks == breaksBefore) steps.push_back(std::abs(apart - before));
        before = apart;
        breaksBefore = breaks;
    }
    REQUIRE(steps.size() == 9);
    const SoundClock clock = session.device->clock();
    std::uint64_t missing = 0;
    for (const Session::Gap& gap : session.gaps) missing += gap.missing;
    CHECK(clock.read == session.samples.size() + missing);
    CHECK(static_cast<double>(clock.played.samples)
          == doctest::Approx(static_cast<double>(clock.captured.samples - missing)).epsilon(0.1));
    // A wake-up that is late on a busy machine moves two of them; their middle does not. Five like it are under 1 ms.
    std::sort(steps.begin(), steps.end());
    CHECK(5.0 * steps[4] < 48.0);
}

TEST_CASE("landfall devices lists what the sound server has, as a table and as JSON") {
    NEEDS_JACK();
    JackServer server;
    REQUIRE(server.up());
    const CommandOutcome table = runCommand(fmt::format("{} devices 2>&1", LANDFALL_PROGRAM));
    CHECK(table.status == 0);
    CHECK(table.output.find("JACK: system") != std::string::npos);
    CHECK(table.output.find("ALSA lib") == std::string::npos);  // the sound libraries' own chatter
    const CommandOutcome json = runCommand(fmt::format("{} devices --json 2>&1", LANDFALL_PROGRAM));
    CHECK(json.status == 0);
    CHECK(json.output.find("\"device\": \"JACK: system\"") != std::string::npos);
}

TEST_CASE("A string in another channel than the one chosen is seen in that channel's peak, and not heard") {
    NEEDS_JACK();
    JackServer server(48000, 1024);
    REQUIRE(server.up());
    const SampleFile played(knownSamples(48000));
    Program feeder({LANDFALL_JACK_FEEDER, played.path.string(), "--name", "guitar", "--ports", "3", "--repeat"});
    REQUIRE(within(20.0,
                   [] { return runCommand("jack_lsp 2>/dev/null").output.find("guitar:out_3") != std::string::npos; }));
    Session session({.input = "JACK: guitar", .channel = 1});
    REQUIRE(session.sees(Kind::running, 10.0));
    InputLevels levels;
    CHECK(within(30.0, [&] {
        session.step();
        levels = session.device->takeLevels();
        return levels.peaks.size() == 3 && levels.peaks[2] > Decibels(-8.0);
    }));
    CHECK(levels.device == "JACK: guitar");
    CHECK(levels.peaks[2] <= Decibels(-2.49));  // 0.75
    CHECK(levels.peaks[0] == Decibels(-140.0));
    CHECK(levels.peaks[1] == Decibels(-140.0));
    CHECK(std::all_of(session.samples.begin(), session.samples.end(), [](float sample) { return sample == 0.0f; }));
}

TEST_CASE("All inputs are metered at once; one that serves one program only is free again afterwards") {
    NEEDS_ALSA();
    const TestFolder folder;
    const AlsaInputs inputs(folder.path, {{"bench", knownSamples(48000 * 60)},
                                          {"quiet", std::vector<float>(48000 * 60, 0.001f)},
                                          {"sysdefault", knownSamples(48000 * 60)}});
    const auto listed = listDevices(Seconds(10.0), LANDFALL_PROGRAM);
    REQUIRE(listed);
    CHECK(std::any_of(listed->begin(), listed->end(),
                      [](const DeviceInfo& each) { return each.label() == "ALSA: sysdefault" && each.converted; }));
    CHECK(std::any_of(listed->begin(), listed->end(),
                      [](const DeviceInfo& each) { return each.label() == "ALSA: bench" && !each.converted; }));
    Session held({.input = "ALSA: quiet"});
    REQUIRE(held.sees(Kind::running, 5.0));
    auto meter = InputMeter::start(LANDFALL_PROGRAM);
    REQUIRE(meter);
    // Each device's blocks come at times of their own: what one look misses another has seen.
    std::vector<InputLevels> levels;
    const auto heard = [&](std::size_t devices) {
        levels.clear();
        return within(20.0, [&] {
            for (InputLevels& now : (*meter)->take()) {
                const auto then = std::find_if(levels.begin(), levels.end(),
                                               [&](const InputLevels& each) { return each.device == now.device; });
                if (now.peaks.front() <= Decibels(-100.0)) continue;
                if (then == levels.end()) levels.push_back(std::move(now));
                else then->peaks = std::move(now.peaks);
            }
            return levels.size() == devices;
        });
    };
    REQUIRE(heard(1));
    CHECK(levels.front().device == "ALSA: bench");
    REQUIRE(levels.front().peaks.size() == 1);
    CHECK(levels.front().peaks.front() > Decibels(-8.0));
    CHECK(levels.front().peaks.front() <= Decibels(-2.49));  // 0.75
    pauseFor(0.5);
    CHECK((*meter)->take().size()
          == 1);  // quiet is held by this program's other process, and sysdefault only repeats a card

    held.device.reset();
    meter->reset();  // first: it holds bench
    meter = InputMeter::start(LANDFALL_PROGRAM);
    REQUIRE(meter);
    REQUIRE(heard(2));
    const bool quietLast = levels.back().device == "ALSA: quiet";
    CHECK(levels[quietLast ? 1 : 0].device == "ALSA: quiet");
    CHECK(levels[quietLast ? 1 : 0].peaks.front().value == doctest::Approx(-60.0).epsilon(0.01));
    CHECK(within(5.0, [&] {
        (*meter)->take();
        return (*meter)->take().front().peaks.front() < Decibels(-100.0);  // taken a moment ago
    }));

    meter->reset();
    Session after({.input = "ALSA: bench"});
    CHECK(after.sees(Kind::running, 5.0));
}

TEST_CASE("Inputs of a sound server are metered side by side, channel by channel") {
    NEEDS_JACK();
    JackServer server(48000, 1024);
    REQUIRE(server.up());
    const SampleFile played(knownSamples(48000));
    Program guitar({LANDFALL_JACK_FEEDER, played.path.string(), "--name", "guitar", "--ports", "3", "--repeat"});
    Program voice({LANDFALL_JACK_FEEDER, played.path.string(), "--name", "voice", "--repeat", "--seconds", "4"});
    REQUIRE(within(20.0, [] {
        const std::string ports = runCommand("jack_lsp 2>/dev/null").output;
        return ports.find("guitar:out_3") != std::string::npos && ports.find("voice:out_1") != std::string::npos;
    }));
    auto meter = InputMeter::start(LANDFALL_PROGRAM);
    REQUIRE(meter);
    const auto level = [&](const std::string& device, std::size_t channel) {
        for (const InputLevels& each : (*meter)->take())
            if (each.device == device && channel < each.peaks.size()) return each.peaks[channel].value;
        return -200.0;
    };
    CHECK(within(20.0, [&] { return level("JACK: guitar", 2) > -8.0; }));
    CHECK(within(20.0, [&] { return level("JACK: voice", 0) > -8.0; }));
    CHECK(level("JACK: guitar", 0) == -140.0);
    CHECK(within(20.0, [&] { return level("JACK: system", 0) == -140.0; }));
    // It ends by itself: a server whose clients are killed all at once leaves its place in JACK's registry taken.
    CHECK(within(20.0, [&] { return !voice.running(); }));
    level("JACK: voice", 0);
    pauseFor(0.1);
    CHECK(level("JACK: voice", 0) <= -140.0);
}

TEST_CASE(
    "PulseAudio, the desktop's own choice at its own rate: the input goes on while a note goes out, and hears it") {
    if (!PulseServer::installed()) {
        MESSAGE("SKIPPED: pulseaudio, pactl, paplay or ALSA's plug-in for it (libasound2-plugins) is not here");
        return;
    }
    const TestFolder folder;
    PulseServer server(folder.path);
    REQUIRE(server.up());
    ::setenv("JACK_DEFAULT_SERVER", "landfall-no-such-server", 1);
    ::setenv("JACK_NO_START_SERVER", "1", 1);
    Session session({});
    REQUIRE(session.sees(Kind::running, 10.0));
    CHECK(session.reports.back().line.find("output on ALSA: default") != std::string::npos);
    REQUIRE(session.device->hasOutput());
    // The output is the sink that the input listens to.
    session.play(Hertz(440.0), Seconds(4.0), Decibels(-12.0));
    CHECK(session.reports.size() == 2);  // starting, running
    CHECK(session.device->running());
    CHECK(session.samples.size() > 2 * 44100);
    CHECK(*std::max_element(session.samples.begin(), session.samples.end()) == doctest::Approx(0.25).epsilon(0.1));
}

TEST_CASE("The output may be another device than the input, and may be away or end without it") {
    NEEDS_JACK();
    if (!PulseServer::installed()) {
        MESSAGE("SKIPPED: pulseaudio, pactl, paplay or ALSA's plug-in for it (libasound2-plugins) is not here");
        return;
    }
    const JackServer jack(48000, 1024);
    REQUIRE(jack.up());
    const TestFolder folder;
    PulseServer server(folder.path);
    REQUIRE(server.up());
    Session player({.input = "JACK: system", .output = "ALSA: pulse"});
    REQUIRE(player.sees(Kind::running, 10.0));
    CHECK(player.device->outputName() == "ALSA: pulse");
    Session listener({.input = "ALSA: pulse", .rate = 48000, .wantsOutput = false});
    REQUIRE(listener.sees(Kind::running, 10.0));
    player.play(Hertz(440.0), Seconds(3.0), Decibels(-12.0), &listener);
    REQUIRE(!listener.samples.empty());
    CHECK(*std::max_element(listener.samples.begin(), listener.samples.end()) == doctest::Approx(0.25).epsilon(0.1));
    CHECK(player.samples.size() > 48000);

    Session alone({.input = "ALSA: pulse", .output = "ALSA: away"});
    REQUIRE(alone.sees(Kind::noOutput, 10.0));
    CHECK(alone.reports.back().line.find("no output device \"ALSA: away\": plug it in") == 0);
    CHECK_FALSE(alone.device->hasOutput());
    const std::size_t heard = alone.samples.size();
    alone.listen(0.5);
    CHECK(alone.samples.size() > heard);

    server.end(SIGTERM);
    REQUIRE(player.sees(Kind::noOutput, 5.0));
    CHECK(player.reports.back().line.find("ALSA: pulse: the output ended") == 0);
    CHECK_FALSE(player.device->hasOutput());
    const std::size_t before = player.samples.size();
    for (int i = 0; i < 20 && player.samples.size() < before + 24000; ++i) player.listen(0.5);
    CHECK(player.samples.size() >= before + 24000);
}
