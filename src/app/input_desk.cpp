#include "src/app/input_desk.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <thread>
#include <utility>

#include <fmt/core.h>

#include "dsp/quantise.h"

namespace landfall {

namespace {

using Clock = std::chrono::steady_clock;
constexpr auto noSoundFor = std::chrono::milliseconds(100);  // then time goes on without it
// s: the loudest of so long is shown, which is calm between tries
constexpr double levelHeld = 15.0;
// s: which input moves when a string is hit must be seen at once
constexpr double inputsHeld = 1.0;
constexpr double levelStep = 3.0;  // dB
constexpr Decibels silence{-140.0};

Decibels stepped(Decibels level) {
    return Decibels(std::max(silence.value, levelStep * std::ceil(level.value / levelStep)));
}

// Between two inputs, and where one cannot be opened.
struct NoInput : SoundSource {
    double sampleRate() const override { return 0.0; }
    Heard read(std::span<float>) override { return {}; }
};

}  // namespace

void HeldLevels::add(std::vector<InputLevels> now) {
    held.push_back(std::move(now));
    while (held.size() > tenths) held.pop_front();
}

std::vector<InputLevels> HeldLevels::loudest() const {
    std::vector<InputLevels> all = held.empty() ? std::vector<InputLevels>{} : held.back();
    for (const auto& tenth : held)
        for (const InputLevels& then : tenth) {
            const auto now = std::find_if(all.begin(), all.end(),
                                          [&](const InputLevels& each) { return each.device == then.device; });
            if (now == all.end() || now->peaks.size() != then.peaks.size()) continue;
            std::transform(then.peaks.begin(), then.peaks.end(), now->peaks.begin(), now->peaks.begin(),
                           [](Decibels a, Decibels b) { return std::max(a, b); });
        }
    for (InputLevels& each : all) std::transform(each.peaks.begin(), each.peaks.end(), each.peaks.begin(), stepped);
    return all;
}

InputDesk::InputDesk(const Settings& inUse, SourceWish asked, SourceOpener given)
    : settings(inUse), wish(std::move(asked)), opener(std::move(given)), sound(std::make_unique<NoInput>()),
      level(levelHeld), lastSound(Clock::now()), levels(inputsHeld) {}

std::string InputDesk::settle(SourceWish& asked, Settings& inUse, const DeviceFinder& findDevices) {
    std::string why;
    if (asked.input.empty()) {
        asked.input = inUse.simulated ? "simulated" : "device";
        if (!inUse.simulated && asked.device.empty() && inUse.deviceName.empty()) {
            const auto devices = findDevices();
            if (!devices || std::none_of(devices->begin(), devices->end(), [](const SoundDevice& each) {
                    return each.inputs > 0;
                })) {
                asked.input = "simulated";
                why = fmt::format("{}: the simulated student {} plays.",
                                  devices ? "No sound input here" : devices.error().message, asked.skill.name);
            }
        }
    }
    inUse.simulated = asked.kind() == SourceKind::simulated;
    if (asked.kind() == SourceKind::device && !asked.device.empty()) inUse.deviceName = asked.device;
    if (asked.kind() == SourceKind::device && asked.channel > 0) inUse.channel = asked.channel;
    return why;
}

Result<void> InputDesk::open() {
    wish.fillIn(settings);
    inputMeter.reset();
    sound = std::make_unique<NoInput>();  // a card may serve one at a time
    listener.reset();
    watch = InputWatch();  // what became of the one before is nobody's concern now
    ended = recording = false;
    level.clear();
    auto opened = opener(wish);
    if (!opened) return opened.error();
    sound = std::move(*opened);
    return {};
}

bool InputDesk::change() {
    wish.input = settings.simulated ? "simulated" : "device";
    wish.device.clear();
    wish.channel = 0;
    fallback.clear();
    const auto opened = open();
    if (!opened) watch.absent(opened.error().message);
    return bool(opened);
}

bool InputDesk::hearReports() {
    bool any = false;
    while (const auto report = sound->report()) {
        switch (report->kind) {
            case DeviceReport::Kind::starting: break;
            case DeviceReport::Kind::running: watch.running(false); break;
            case DeviceReport::Kind::backAgain: watch.running(true); break;
            case DeviceReport::Kind::noOutput: watch.outputGone(); break;
            case DeviceReport::Kind::lost: watch.gone(report->line); break;
            case DeviceReport::Kind::noSuchDevice:
            case DeviceReport::Kind::refusedRate:
            case DeviceReport::Kind::failed: watch.absent(report->line); break;
        }
        any = true;
    }
    return any;
}

SoundSource::Heard InputDesk::read(std::span<float> block) {
    const auto heard = sound->read(block);
    const double rate = sound->sampleRate();
    if (heard.missing > 0 && rate > 0.0) watch.gap(Seconds(static_cast<double>(heard.missing) / rate));
    if (heard.samples == 0) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    else lastSound = Clock::now();
    ended = ended || heard.ended;
    return heard;
}

void InputDesk::listen(std::span<float> samples) {
    if (samples.empty()) return;
    quantise(samples);
    if (!listener || listenerA4 != settings.guitar.a4) {
        listenerA4 = settings.guitar.a4;
        listener = std::make_unique<Listener>(ListenerConfig{.sampleRate = sound->sampleRate(), .a4 = listenerA4});
    }
    for (const ListenerEvent& event : listener->process(samples)) hear(event);
}

void InputDesk::hear(const ListenerEvent& event) {
    watch.hear(event);
    muted.hear(event);
    const auto* now = std::get_if<InputLevel>(&event);
    if (now == nullptr) return;
    level.add({{.device = {}, .peaks = {now->peak}}});
}

bool InputDesk::play(Hertz frequency, Seconds length) {
    SoundOutput* output = sound->output();
    if (output != nullptr) output->play(frequency, length, settings.soundLevel);
    return output != nullptr;
}

bool InputDesk::play(std::shared_ptr<const std::vector<float>> samples, double rate) {
    SoundOutput* output = sound->output();
    if (output != nullptr) output->play(std::move(samples), rate, settings.soundLevel);
    return recording = output != nullptr;
}

void InputDesk::endRecording() {
    if (SoundOutput* output = sound->output()) output->endRecording();
}

bool InputDesk::recordingOver() {
    const SoundOutput* output = sound->output();
    if (!recording || (output != nullptr && output->playsRecording())) return false;
    recording = false;
    return true;
}

void InputDesk::wait() {
    if (Clock::now() - lastSound > noSoundFor) watch.wait(Seconds(0.1));
}

// The input in use tells its own levels, since it may serve nobody else.
std::vector<InputLevels> InputDesk::meter(unsigned long wanted) {
    if (wanted != metered) {
        metered = wanted;
        inputMeter.reset();
        levels.clear();
        if (auto started = wanted > 0 ? InputMeter::start() : Error{}; started) inputMeter = std::move(*started);
    }
    if (metered == 0) return {};
    std::vector<InputLevels> all = inputMeter ? inputMeter->take() : std::vector<InputLevels>{};
    if (InputLevels own = sound->levels(); !own.device.empty()) {
        std::erase_if(all, [&](const InputLevels& each) { return each.device == own.device; });
        all.push_back(std::move(own));
    }
    levels.add(std::move(all));
    return levels.loudest();
}

Input InputDesk::shown() const {
    const auto loudest = level.loudest();
    // What was held is of before, once nothing comes any more: "level fine" is not said beside "No signal".
    const bool heard = !loudest.empty() && !watch.away();
    Input now{.device = {}, .level = heard ? loudest.front().peaks.front() : silence, .clipping = watch.clipping()};
    if (kind() == SourceKind::simulated) {
        now.device = fmt::format("Simulated player {}", wish.skill.name);
    } else if (kind() == SourceKind::file) {
        now.device = std::filesystem::path(wish.input).filename().string();
    } else {
        const double rate = sampleRate();
        now.device = fmt::format("{}, channel {}{}", wish.device.empty() ? "System input" : wish.device, wish.channel,
                                 rate > 0.0 ? fmt::format(" · {:g} kHz", rate / 1000.0) : "");
    }
    return now;
}

std::vector<Notice> InputDesk::notices() const {
    std::vector<Notice> all = watch.notices();
    if (!settings.targetNote && settings.results != Sounded::tones)
        std::erase_if(all, [](const Notice& each) { return each.trouble == Trouble::noOutput; });
    if (kind() == SourceKind::simulated)
        all.push_back({Trouble::simulated,
                       fallback.empty() ? fmt::format("The simulated student {} plays.", wish.skill.name) : fallback});
    return all;
}

}  // namespace landfall
