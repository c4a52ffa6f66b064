// `landfall check`: what this machine offers: version, settings, devices, log.
#include <memory>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/audio/audio_device.h"
#include "src/store/log.h"

namespace landfall {

namespace {

int check(const std::string& wantedLog) {
    int status = 0;
    fmt::print("Landfall {}\n", LANDFALL_VERSION);
    const auto at = settingsFile();
    if (!at) return fail(at.error());
    const auto loaded = loadSettings(*at);
    if (!loaded) return fail(loaded.error());
    for (const std::string& warning : loaded->warnings) fmt::print("{}\n", warning);
    const Settings& settings = loaded->settings;
    fmt::print("settings  {}{}\n", at->string(), std::filesystem::exists(*at) ? "" : " (not there yet: defaults)");
    fmt::print("student   {}\n", settings.student.empty() ? "player" : settings.student);
    fmt::print("guitar    {}\n", describeGuitar(settings.guitar));

    const auto devices = listDevices();
    if (!devices) {
        fmt::print("input     {}\n", devices.error().message);
        status = 1;
    } else {
        const DeviceInfo* chosen = nullptr;
        for (const DeviceInfo& device : *devices) {
            if (device.inputs == 0) continue;
            const bool named = !settings.deviceName.empty() && device.label().find(settings.deviceName) != std::string::npos;
            if (named || (settings.deviceName.empty() && device.defaultInput)) chosen = &device;
            if (named) break;
        }
        if (chosen != nullptr)
            fmt::print("input     {}, channel {}, {:.0f} Hz{}\n", chosen->label(), settings.channel, chosen->defaultRate,
                       chosen->inputLatency ? fmt::format(", {:.1f} ms input latency as the device claims", 1000.0 * chosen->inputLatency->value) : "");
        else
            fmt::print("input     none found; plug in an interface or start a sound server. landfall demo needs none.\n");
    }

    const auto file = chosenLogFile(settings, wantedLog);
    if (!file) return fail(file.error());
    if (!std::filesystem::exists(*file)) {
        fmt::print("log       {} (not there yet)\n", file->string());
        return status;
    }
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return fail(log.error());
    const auto sittings = log->sittings();
    if (!sittings) return fail(sittings.error());
    fmt::print("log       {}, {} sittings\n", file->string(), sittings->size());
    return status;
}

}  // namespace

void addCheckCommand(CLI::App& app, int& status) {
    auto log = std::make_shared<std::string>();
    CLI::App* command = app.add_subcommand("check", "Say what is here: version, settings, input device and its latency, log");
    command->add_option("--log", *log, "log file");
    command->callback([log, &status] { status = check(*log); });
}

}  // namespace landfall
