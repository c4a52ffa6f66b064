// `landfall check`: what this machine offers: version, settings, devices, log; with --tone, whether it can be heard.
#include <array>
#include <chrono>
#include <string>
#include <thread>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/audio/audio_device.h"
#include "src/audio/tone.h"
#include "src/store/log.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// Until the device runs; what kept it from it otherwise. A tone that is waited for would come as a surprise.
Result<void> waitUntilRunning(AudioDevice& device) {
    std::array<float, 512> unheard{};
    for (const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(12);
         std::chrono::steady_clock::now() < end;) {
        device.read(unheard);
        while (const auto report = device.nextReport()) {
            if (report->kind == DeviceReport::Kind::running) return {};
            if (report->kind != DeviceReport::Kind::starting) return Error{Error::Code::failed, report->line};
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    return Error{Error::Code::lost,
                 "the sound device does not start; unplug it and plug it in again, or choose another with --device"};
}

// The reference A in three steps that end at the level of the target note, through the output that practising uses.
Result<void> playTone(AudioDevice& device, Hertz frequency, Decibels loudest) {
    constexpr std::array<double, 3> steps{-20.0, -10.0, 0.0};
    constexpr Seconds length(1.5);
    Tone tone(device.sampleRate());
    std::array<float, 2048> block{};
    for (const double step : steps) {
        tone.play(frequency, length, Decibels(loudest.value + step));
        fmt::print("          {}\n", step == steps.front()  ? "very quiet ..."
                                     : step == steps.back() ? "as loud as the target notes"
                                                            : "quiet ...");
        std::fflush(stdout);
        for (auto left = static_cast<std::size_t>(length.value * device.sampleRate()); left > 0;) {
            device.read(block);
            while (const auto report = device.nextReport())
                if (report->kind == DeviceReport::Kind::lost || report->kind == DeviceReport::Kind::noOutput)
                    return Error{Error::Code::lost, report->line};
            const auto part = std::span(block).first(std::min({block.size(), left, device.outputRoom()}));
            tone.render(part);
            device.write(part);
            left -= part.size();
            std::this_thread::sleep_for(std::chrono::milliseconds(3));
        }
    }
    for (int i = 0; i < 40 && tone.sounding(); ++i) {  // the soft end, and what the device still holds
        const auto part = std::span(block).first(std::min(block.size(), device.outputRoom()));
        tone.render(part);
        device.write(part);
        device.read(block);
        std::this_thread::sleep_for(std::chrono::milliseconds(3));
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(150));
    return {};
}

int sound(const CheckOptions& options, const Settings& settings) {
    auto device = AudioDevice::open({.input = options.device.empty() ? settings.deviceName : options.device,
                                     .rate = options.rate,
                                     .output = options.output.empty() ? settings.outputName : options.output});
    if (!device) return fail(device.error());
    if (const auto runs = waitUntilRunning(**device); !runs) return fail(runs.error());
    const std::string output = printable((*device)->outputName());
    if (output.empty()) {
        const auto why = (*device)->nextReport();
        return fail({Error::Code::notFound, why ? why->line
                                                : "tone: no output goes with this input; landfall devices lists what "
                                                  "there is, --output names another"});
    }
    const Hertz a4 = settings.guitar.a4;
    fmt::print("tone      A4, {:g} Hz, on {}, the same on left and right, at most {:.0f} dBFS. Volume down first.\n",
               a4.value, output, settings.soundLevel.value);
    if (const auto played = playTone(**device, a4, settings.soundLevel); !played) return fail(played.error());
    fmt::print(
        "          Nothing heard: turn the volume up slowly, look where {} is plugged in, or name another output with "
        "--output.\n",
        output);
    return 0;
}

}  // namespace

int runCheck(const CheckOptions& options) {
    int status = 0;
    fmt::print("Landfall {}\n", LANDFALL_VERSION);
    const auto at = settingsFile();
    if (!at) return fail(at.error());
    const auto loaded = loadSettings(*at);
    if (!loaded) return fail(loaded.error());
    for (const std::string& warning : loaded->warnings) fmt::print("{}\n", warning);
    const Settings& settings = loaded->settings;
    std::error_code ignored;
    fmt::print("settings  {}{}\n", printable(at->string()),
               std::filesystem::exists(*at, ignored) ? "" : " (not there yet: defaults)");
    fmt::print("student   {}\n", settings.student.empty() ? "player" : printable(settings.student));
    fmt::print("guitar    {}\n", describeGuitar(settings.guitar));

    const auto devices = listDevices();
    if (!devices) {
        fmt::print("input     {}\n", devices.error().message);
        status = 1;
    } else {
        const std::string& wanted = settings.deviceName;
        const DeviceInfo* chosen = nullptr;
        for (const DeviceInfo& device : *devices) {
            if (device.inputs == 0) continue;
            const bool named = !wanted.empty() && device.label().find(wanted) != std::string::npos;
            if (named || (wanted.empty() && (chosen == nullptr || device.defaultInput))) chosen = &device;
            if (named) break;
        }
        if (chosen != nullptr)
            fmt::print("input     {}, channel {}, {:.0f} Hz{}\n", printable(chosen->label()), settings.channel,
                       chosen->defaultRate,
                       chosen->inputLatency ? fmt::format(", {:.1f} ms input latency as the device claims",
                                                          1000.0 * chosen->inputLatency->value)
                                            : "");
        else if (!wanted.empty())
            fmt::print("input     {} is not there; plug it in, or choose another (landfall devices lists them)\n",
                       printable(wanted));
        else
            fmt::print(
                "input     none found; plug in an interface or start a sound server. landfall demo needs none.\n");
    }

    const auto file = chosenLogFile(settings, options.log);
    if (!file) return fail(file.error());
    if (!std::filesystem::exists(*file, ignored) && !ignored) {
        fmt::print("log       {} (not there yet)\n", printable(file->string()));
        return options.tone ? std::max(status, sound(options, settings)) : status;
    }
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return fail(log.error());
    const auto sittings = log->sittings();
    if (!sittings) return fail(sittings.error());
    fmt::print("log       {}, {} sitting{}\n", printable(file->string()), sittings->size(),
               sittings->size() == 1 ? "" : "s");
    return options.tone ? std::max(status, sound(options, settings)) : status;
}

}  // namespace landfall
