#include "src/audio/audio_device.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <deque>
#include <new>
#include <thread>

#include <fmt/core.h>

#include "src/audio/audio_shared.h"
#include "src/audio/output_guard.h"
#include "src/system/child_process.h"
#include "src/system/machine.h"

namespace landfall {

namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

// A sound server takes up to 1.8 s to its first callback (measured with PulseAudio); after that, half a second without
// one never happened on a device that still worked. Opening many ALSA devices takes seconds.
constexpr milliseconds openingLimit{8000};
constexpr milliseconds firstCallbackLimit{3000};
constexpr milliseconds silenceLimit{500};
// A process of 50 ms of work each time: rare enough not to be felt, frequent enough for a player who has just plugged
// in again.
constexpr milliseconds firstPause{250};
constexpr milliseconds longestPause{2000};
constexpr milliseconds steadyAfter{5000};
constexpr milliseconds goodbye{300};
constexpr milliseconds killLimit{2000};

constexpr double outputAheadSeconds = 0.03;

// The memory and the process that uses it. The process goes first.
struct Link {
    SharedMemory memory;
    AudioShared& shared;
    ChildProcess process;

    // `program`: empty is this one.
    static Result<std::unique_ptr<Link>> start(const std::filesystem::path& program, const AudioWish& wish) {
        const auto path = program.empty() ? ownProgram() : program;
        if (!path) return path.error();
        auto memory = SharedMemory::create(sizeof(AudioShared));
        if (!memory) return memory.error();
        auto& shared = *new (memory->data()) AudioShared;
        shared.wish = wish;
        auto process = ChildProcess::start(*path, {"audio-process"}, *memory);
        if (!process) return process.error();
        return std::unique_ptr<Link>(new Link{std::move(*memory), shared, std::move(*process)});
    }

    AudioStage stage() const { return shared.stage.load(std::memory_order_acquire); }
    // An orderly goodbye to the sound server; the process is killed after that.
    void end() {
        shared.stop.store(1, std::memory_order_release);
        for (const auto last = Clock::now() + goodbye; process.running() && Clock::now() < last;)
            std::this_thread::sleep_for(milliseconds(2));
    }
};

Decibels decibels(float peak) { return Decibels(peak > 1e-7f ? 20.0 * std::log10(static_cast<double>(peak)) : -140.0); }

std::optional<Seconds> known(double seconds) { return seconds > 0.0 ? std::optional(Seconds(seconds)) : std::nullopt; }

DeviceInfo infoOf(const SharedDevice& device) {
    return {.api = device.api.data(),
            .name = device.name.data(),
            .inputs = device.inputs,
            .outputs = device.outputs,
            .defaultRate = device.defaultRate,
            .inputLatency = known(device.inputLatency),
            .outputLatency = known(device.outputLatency),
            .defaultInput = device.defaultInput != 0,
            .defaultOutput = device.defaultOutput != 0,
            .converted = device.converted != 0};
}

double secondsBetween(Clock::time_point from, Clock::time_point to) {
    return std::chrono::duration<double>(to - from).count();
}

}  // namespace

Result<std::vector<DeviceInfo>> listDevices(Seconds patience, const std::filesystem::path& program) {
    AudioWish wish;
    wish.task = AudioTask::list;
    auto link = Link::start(program, wish);
    if (!link) return link.error();
    const auto began = Clock::now();
    while ((*link)->stage() == AudioStage::opening) {
        if (!(*link)->process.running() && (*link)->stage() == AudioStage::opening)
            return Error{Error::Code::failed,
                         fmt::format("looking for sound devices failed: {}", (*link)->process.ending())};
        if (secondsBetween(began, Clock::now()) > patience.value)
            return Error{
                Error::Code::failed,
                fmt::format(
                    "looking for sound devices took over {:.0f} s, so a sound server or driver hangs; restart it",
                    patience.value)};
        std::this_thread::sleep_for(milliseconds(2));
    }
    const AudioAnswer& answer = (*link)->shared.answer;
    if ((*link)->stage() != AudioStage::listed) return Error{Error::Code::failed, answer.message.data()};
    std::vector<DeviceInfo> devices;
    for (const SharedDevice& device : std::span(answer.devices).first(answer.deviceCount))
        devices.push_back(infoOf(device));
    (*link)->end();
    return devices;
}

int meteredChannels(int there) {
    constexpr int madeUp = 32;
    return std::min(there, there >= madeUp ? 2 : static_cast<int>(AudioShared::meteredChannels));
}

struct InputMeter::State {
    std::unique_ptr<Link> link;
};

InputMeter::InputMeter(std::unique_ptr<State> made) : state(std::move(made)) {}

InputMeter::~InputMeter() { state->link->end(); }

Result<std::unique_ptr<InputMeter>> InputMeter::start(const std::filesystem::path& program) {
    AudioWish wish;
    wish.task = AudioTask::meter;
    auto link = Link::start(program, wish);
    if (!link) return link.error();
    return std::unique_ptr<InputMeter>(new InputMeter(std::make_unique<State>(std::move(*link))));
}

std::vector<InputLevels> InputMeter::take() {
    std::vector<InputLevels> all;
    AudioShared& shared = state->link->shared;
    if (state->link->stage() != AudioStage::listed || !state->link->process.running()) return all;
    for (std::uint32_t i = 0; i < shared.answer.deviceCount; ++i) {
        AudioShared::Meter& meter = shared.meters[i];
        const int heard = meter.channels.load(std::memory_order_acquire);
        if (heard == 0) continue;
        InputLevels& levels = all.emplace_back(infoOf(shared.answer.devices[i]).label());
        for (auto& peak : std::span(meter.peaks).first(static_cast<std::size_t>(heard)))
            levels.peaks.push_back(decibels(peak.exchange(0.0f, std::memory_order_relaxed)));
    }
    return all;
}

struct AudioDevice::State {
    enum class Phase { opening, awaitingFirst, running, pausing };

    // Fixed after construction, but for what the first run settles (rate, the device's full name).
    Config config;

    Phase phase = Phase::pausing;
    std::unique_ptr<Link> link;
    Clock::time_point since;  // of the phase
    Clock::time_point lastCallback, lastPlayed;
    std::uint64_t callbacksSeen = 0;
    milliseconds pause{0};
    std::deque<DeviceReport> reports;
    std::optional<DeviceReport::Kind> lastKind;

    double rate = 0.0;              // 0 until it ran
    Clock::time_point lastSamples;  // when samples were last read
    bool away = false;              // the next samples come after a pause
    Clock::time_point lostAt;
    DeviceCounters earlier;  // of the processes before this one
    std::uint64_t read = 0;  // samples given, missing ones among them
    SoundClock before;       // as this process began
    std::optional<OutputGuard> guard;
    std::vector<float> guarded;

    void enter(Phase next) {
        phase = next;
        since = Clock::now();
    }

    bool longer(milliseconds limit) const { return Clock::now() - since > limit; }

    void report(DeviceReport::Kind kind, std::string line) {
        using Kind = DeviceReport::Kind;
        const bool waiting = lastKind == Kind::lost && (kind == Kind::noSuchDevice || kind == Kind::failed);
        if (kind == lastKind || waiting) return;
        lastKind = kind;
        reports.push_back({kind, printable(line)});
    }

    std::string name() const { return config.input.empty() ? "the default input device" : config.input; }

    void start() {
        remember();
        AudioWish wish;
        setText(wish.input, config.input);
        setText(wish.output, config.output);
        wish.wantsOutput = config.wantsOutput ? 1 : 0;
        wish.channel = config.channel;
        wish.rate = config.rate;
        wish.frames = config.frames;
        auto started = Link::start(config.program, wish);
        if (!started) {
            endAndPause(DeviceReport::Kind::failed, started.error().message);
            return;
        }
        link = std::move(*started);
        ++earlier.starts;
        callbacksSeen = 0;
        away = rate > 0.0;
        if (!lastKind) report(DeviceReport::Kind::starting, fmt::format("starting {}", name()));
        enter(Phase::opening);
    }

    // Adds the last process's counts before its memory goes.
    void remember() {
        const DeviceCounters all = total();
        earlier = all;
        before = clock();
        link.reset();
    }

    DeviceCounters total() const {
        DeviceCounters all = earlier;
        if (!link) return all;
        const AudioCounts& counts = link->shared.counts;
        all.callbacks += counts.callbacks.load(std::memory_order_relaxed);
        all.frames += counts.frames.load(std::memory_order_relaxed);
        all.dropped += link->shared.input.droppedSamples();
        all.inputBreaks += counts.inputBreaks.load(std::memory_order_relaxed);
        all.outputBreaks += counts.outputBreaks.load(std::memory_order_relaxed);
        all.worstCallback =
            std::max(all.worstCallback,
                     Seconds(1e-9 * static_cast<double>(counts.worstNanoseconds.load(std::memory_order_relaxed))));
        return all;
    }

    // What a process captured begins where reading stands as it begins; what was missed meanwhile is added when its
    // first samples are read.
    SoundClock clock() const {
        SoundClock now = before;
        now.rate = rate;
        now.read = read;
        if (!link) return now;
        const AudioCounts& counts = link->shared.counts;
        now.filled += counts.filled.load(std::memory_order_relaxed);
        now.captured = counts.captured.get();
        now.captured.samples += before.read;
        now.played = counts.played.get();
        now.played.samples += before.played.samples;
        return now;
    }

    void endAndPause(DeviceReport::Kind kind, std::string line) {
        if (phase == Phase::running) {
            lostAt = Clock::now();
            if (longer(steadyAfter)) pause = milliseconds(0);
        }
        pause = std::clamp(2 * pause, firstPause, longestPause);
        report(kind, std::move(line));
        enter(Phase::pausing);
    }

    void lose(const std::string& what) {
        if (link) link->process.kill();
        endAndPause(DeviceReport::Kind::lost,
                    fmt::format("{}: {}. It is used again as soon as it is back.", name(), what));
    }

    void watch() {
        switch (phase) {
            case Phase::pausing: return watchPause();
            case Phase::opening: return watchOpening();
            case Phase::awaitingFirst: return watchFirst();
            case Phase::running: return watchRunning();
        }
    }

    // What the last process delivered is read before its memory goes. One that answered ends by itself; one that even a
    // kill does not end is left behind.
    void watchPause() {
        if (!longer(pause)) return;
        if (link && (link->shared.input.ready() > 0 || (link->process.running() && !longer(killLimit)))) return;
        start();
    }

    void watchOpening() {
        const bool ended = !link->process.running();
        const AudioStage stage = link->stage();  // before the message that goes with it
        const std::string message = link->shared.answer.message.data();
        switch (stage) {
            case AudioStage::running: return enter(Phase::awaitingFirst);
            case AudioStage::noDevice: return endAndPause(DeviceReport::Kind::noSuchDevice, message);
            case AudioStage::refusedRate: return endAndPause(DeviceReport::Kind::refusedRate, message);
            case AudioStage::failed: return endAndPause(DeviceReport::Kind::failed, message);
            case AudioStage::listed:
            case AudioStage::opening: break;
        }
        if (ended) return lose(fmt::format("the audio process ended while it was opened ({})", link->process.ending()));
        if (longer(openingLimit)) lose("it did not open within 8 s");
    }

    // The stream stopped by the library's own account, or its process ended.
    std::optional<std::string> stopped() {
        if (!link->process.running()) return fmt::format("the audio process ended ({})", link->process.ending());
        if (link->shared.finished.load(std::memory_order_acquire) != 0)
            return "unplugged, or its sound server has ended";
        if (link->shared.active.load(std::memory_order_acquire) == 0) return "unplugged, or its sound server has ended";
        return std::nullopt;
    }

    bool calledBack() {
        const std::uint64_t callbacks = link->shared.counts.callbacks.load(std::memory_order_acquire);
        if (callbacks == callbacksSeen) return false;
        callbacksSeen = callbacks;
        lastCallback = Clock::now();
        return true;
    }

    void watchFirst() {
        if (calledBack()) return announce();
        if (const auto what = stopped()) return lose(*what);
        if (longer(firstCallbackLimit)) lose("no sound comes from it");
    }

    void announce() {
        const AudioAnswer& answer = link->shared.answer;
        const bool back = rate > 0.0;
        config.input = answer.inputLabel.data();
        config.rate = static_cast<int>(std::lround(answer.rate));
        rate = answer.rate;
        if (!guard) guard.emplace(OutputGuard::Config{.sampleRate = rate});
        guard->reset();
        const bool output = answer.outputLabel[0] != '\0';
        if (back)
            report(DeviceReport::Kind::backAgain,
                   fmt::format("{}: back again after {:.1f} s", config.input, secondsBetween(lostAt, Clock::now())));
        else
            report(DeviceReport::Kind::running,
                   fmt::format("{}: channel {}, {:.0f} Hz, {} samples a block, {}", config.input, config.channel, rate,
                               config.frames,
                               output ? fmt::format("output on {}", answer.outputLabel.data()) : "no output"));
        lastPlayed = Clock::now();
        if (!output && answer.message[0] != '\0') report(DeviceReport::Kind::noOutput, answer.message.data());
        enter(Phase::running);
    }

    // Both directions of one device end one after the other, and then it is the input that is told of.
    void watchOutput() {
        const AudioShared& shared = link->shared;
        if (shared.answer.outputLabel[0] == '\0' || shared.plays.load(std::memory_order_acquire) != 0)
            lastPlayed = Clock::now();
        else if (Clock::now() - lastPlayed > silenceLimit)
            report(DeviceReport::Kind::noOutput,
                   fmt::format("{}: the output ended. Plug it in and choose it again, or choose another",
                               shared.answer.outputLabel.data()));
    }

    void watchRunning() {
        if (const auto what = stopped()) return lose(*what);
        watchOutput();
        if (calledBack()) return;
        if (Clock::now() - lastCallback > silenceLimit) lose("no sound came from it for half a second");
    }
};

AudioDevice::AudioDevice(std::unique_ptr<State> made) : state(std::move(made)) {}

AudioDevice::~AudioDevice() {
    if (state->link) state->link->end();
}

Result<std::unique_ptr<AudioDevice>> AudioDevice::open(Config config) {
    if (config.channel < 1)
        return Error{Error::Code::badInput, fmt::format("channel {}: channels count from 1", config.channel)};
    if (config.frames < 64 || config.frames > 512)
        return Error{Error::Code::badInput, fmt::format("{} samples a block: choose 64 to 512", config.frames)};
    if (config.rate != 0 && (config.rate < 16000 || config.rate > 192000))
        return Error{Error::Code::badInput,
                     fmt::format("{} Hz: choose a sample rate from 16000 to 192000, for example 44100, 48000 or 96000",
                                 config.rate)};
    auto state = std::make_unique<State>();
    state->config = std::move(config);
    state->start();
    return std::unique_ptr<AudioDevice>(new AudioDevice(std::move(state)));
}

Chunk AudioDevice::read(std::span<float> block) {
    state->watch();
    if (!state->link || state->rate == 0.0) return {};
    Chunk chunk = state->link->shared.input.read(block);
    if (chunk.samples == 0) return chunk;
    const auto now = Clock::now();
    if (state->away) {
        const double waited = secondsBetween(state->lastSamples, now) * state->rate
                              - static_cast<double>(chunk.samples + state->link->shared.input.ready());
        const auto missed = static_cast<std::uint64_t>(std::max(1.0, std::round(waited)));
        chunk.missing += missed;
        state->before.read += missed;
        state->away = false;
    }
    state->read += chunk.samples + chunk.missing;
    state->lastSamples = now;
    return chunk;
}

std::optional<DeviceReport> AudioDevice::nextReport() {
    if (state->reports.empty()) return std::nullopt;
    DeviceReport next = std::move(state->reports.front());
    state->reports.pop_front();
    return next;
}

bool AudioDevice::running() const { return state->phase == State::Phase::running; }
double AudioDevice::sampleRate() const { return state->rate; }
bool AudioDevice::hasOutput() const {
    return running() && state->link->shared.plays.load(std::memory_order_acquire) != 0;
}

InputLevels AudioDevice::takeLevels() {
    if (!running()) return {};
    AudioShared& shared = state->link->shared;
    InputLevels levels{shared.answer.inputLabel.data(), {}};
    std::array<float, 1024> some{};
    for (auto& ring :
         std::span(shared.channels)
             .first(std::min(shared.channels.size(), static_cast<std::size_t>(shared.answer.inputChannels)))) {
        float peak = 0.0f;
        for (std::size_t ready = ring.ready(), got = 1; ready > 0 && got > 0; ready -= got) {
            got = ring.read(std::span(some).first(std::min(ready, some.size()))).samples;
            for (const float sample : std::span(some).first(got)) peak = std::max(peak, std::abs(sample));
        }
        levels.peaks.push_back(decibels(peak));
    }
    return levels;
}

std::string AudioDevice::outputName() const { return hasOutput() ? state->link->shared.answer.outputLabel.data() : ""; }

std::size_t AudioDevice::outputRoom() const {
    if (!hasOutput()) return 0;
    const auto ahead = std::max(static_cast<std::size_t>(outputAheadSeconds * state->rate),
                                2 * static_cast<std::size_t>(state->config.frames));
    const std::size_t there = state->link->shared.output.ready();
    return there < ahead ? ahead - there : 0;
}

void AudioDevice::write(std::span<const float> samples) {
    if (!hasOutput()) return;
    state->guarded.assign(samples.begin(), samples.end());
    state->guard->process(state->guarded);
    state->link->shared.output.write(state->guarded);
}

DeviceCounters AudioDevice::counters() const { return state->total(); }
SoundClock AudioDevice::clock() const { return state->clock(); }
long AudioDevice::processId() const { return state->link ? state->link->process.id() : -1; }

}  // namespace landfall
